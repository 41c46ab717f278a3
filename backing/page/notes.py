"""What sounds on the page: each part's notes in seconds, and the samples that they ask for.

A sample is one pitch of one instrument at one loudness, held as long as its longest note needs
where the page plays slowest. Notes of nearly the same loudness share a sample, each with a gain
of its own: General MIDI's loudness goes with the square of velocity and of volume (General MIDI
2, RP-024, as its recommended curve; the engine's own default is the same).
"""

from __future__ import annotations

from bisect import bisect_left
from collections import deque
from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import groupby
from typing import Any, NamedTuple

from backing.form.model import PartSettings
from backing.form.parts import CLICK
from backing.page.data import Json
from backing.players.mix import FULL_VOLUME
from backing.score import Score, Track
from backing.theory.built_in_beats import OPEN_HAT
from backing.theory.general_midi import CLICK_SOUNDS
from backing.timeline import Timeline

#: The page's slowest playing, as a share of the tempo as written.
SLOWEST = 0.3
#: Layers by the highest velocity that each takes, with the velocity that it is sampled at.
LAYERS = ((52, 40), (84, 70), (127, 100))
MOST_PAN = 64


class Wanted(NamedTuple):
    """A sample: its program (None is percussion), its pitch or drum, and its velocity."""

    program: int | None
    pitch: int
    velocity: int


class Sounding(NamedTuple):
    """Parts with their notes, and each sample's longest need in seconds at the page's slowest.

    A note is [start, end, sample, gain] or, bent, has fifth its bends [[at, semitones]...];
    an end of 0 lets the sample ring out. A part's `pans` are one a pass. Samples are in the
    order of `needs`.
    """

    parts: list[Json]
    needs: dict[Wanted, float]


def sounding(score: Score, timeline: Timeline) -> Sounding:
    """Every part but the click.

    Args:
        score: as people play it.
        timeline: what it was played from.
    """
    zero = timeline.seconds(timeline.start_whole)

    def at(whole: Fraction) -> float:
        """To a microsecond, far below what is heard; the click alone needs more."""
        return round(float(timeline.seconds(whole) - zero), 6)

    needs: dict[Wanted, float] = {}
    wanted: dict[Wanted, int] = {}
    parts = []
    tracks = [track for track in score.tracks if track.part != CLICK]
    for part, of_part in groupby(tracks, key=lambda track: track.part):
        lines = list(of_part)
        notes = []
        for track in lines:
            for sample, note in _notes(track, at):
                start, end = note[:2]
                needs[sample] = max(needs.get(sample, 0.0), (end - start) / SLOWEST)
                number = wanted.setdefault(sample, len(wanted))
                notes.append([start, end if _is_ended(sample) else 0, number, *note[2:]])
        notes.sort(key=lambda note: note[:3])
        pans = _pans(timeline, part, lines[0].pan)
        parts.append({"name": part, "title": lines[0].name, "pans": pans, "notes": notes})
    return Sounding(parts, needs)


def clicks(data: Json) -> list[str]:
    """The click sounds that a song uses, as keys of `CLICK_SOUNDS`."""
    used = {playing["click"]["sound"] for playing in data["passes"]}
    return [sound for sound in CLICK_SOUNDS if sound in used]


def _is_ended(sample: Wanted) -> bool:
    """Whether a note is ended by its player; a drum rings out, but for the hat that is shut."""
    return sample.program is not None or sample.pitch == OPEN_HAT


def _pans(timeline: Timeline, part: str, usual: int) -> list[float]:
    """Where a part stands in each pass, from -1 (left) to 1."""
    said = [playing.settings.parts.get(part, PartSettings()).pan for playing in timeline.passes]
    return [round((usual if pan is None else pan) / MOST_PAN, 3) for pan in said]


def _notes(track: Track, at: Callable[[Fraction], float]) -> Iterator[tuple[Wanted, list[Any]]]:
    """Each note's sample, and its start, end, gain and, where it is bent, its bends."""
    program, volume = track.program, track.volume if track.program is not None else FULL_VOLUME
    changes = deque(track.changes)
    turns = [bend.start_whole for bend in track.bends]
    for start, end, pitch, velocity, _, _ in track.notes:
        while changes and changes[0].start_whole <= start:
            change = changes.popleft()
            if change.what == "program":
                program = change.value
            elif change.what == "volume":
                volume = change.value
        layer = next(sampled for highest, sampled in LAYERS if velocity <= highest)
        gain = (velocity / layer * volume / FULL_VOLUME) ** 2
        note: list[Any] = [at(start), at(end), float(f"{gain:.4g}")]
        bends = track.bends[bisect_left(turns, start) : bisect_left(turns, end)]
        if any(bend.semitones for bend in bends):
            note.append([[at(bend.start_whole), float(bend.semitones)] for bend in bends])
        yield Wanted(program, pitch, layer), note
