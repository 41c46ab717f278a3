"""What sounds on the page: each part's notes in seconds, and the samples that they need.

A sample is one pitch of one instrument at one loudness, held as long as its longest note needs
where the page plays slowest. Notes of nearly the same loudness share a sample, each at its own
gain: General MIDI's loudness goes with the square of velocity and of volume (General MIDI
2, RP-024, as its recommended curve; the engine's own default is the same).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from backing.audio.balance import Gains, Sound, loudest
from backing.form.model import PartSettings
from backing.form.parts import CLICK
from backing.page.limits import longest_s
from backing.page.page_json import NoteData, PartData, SongData
from backing.score import Score, Track, with_settings
from backing.theory.built_in_beats import OPEN_HAT
from backing.theory.device_levels import IN_BALANCE, MOST
from backing.theory.general_midi import CLICK_SOUNDS, STANDARD_KIT
from backing.timeline import Timeline

#: Layers by the highest velocity that each takes, with the velocity that it is sampled at.
LAYERS = ((52, 40), (84, 70), (127, 100))
MOST_PAN = 64


class SampleKey(NamedTuple):
    """What a sample is of: a program (None is percussion), a pitch or drum, and a velocity.

    `kit` is the program of the kit that has the drum.
    """

    program: int | None
    pitch: int
    velocity: int
    kit: int = STANDARD_KIT


class PlayedParts(NamedTuple):
    """Parts with their notes, and how long each sample must last at the page's slowest speed.

    `needs` are seconds. Notes name samples by their places in it, and their gains are those of
    the samples as the engine plays them.
    """

    parts: list[PartData]
    needs: dict[SampleKey, float]


def played_parts(score: Score, timeline: Timeline, gains: Gains) -> PlayedParts:
    """Every part except the click.

    Args:
        score: as people play it.
        gains: what brings each sound into balance.
        timeline: what it was played from.
    """
    zero = timeline.seconds(timeline.start_whole)

    def at(whole: Fraction) -> float:
        """To a microsecond, far less than can be heard; only the click needs more."""
        return round(float(timeline.seconds(whole) - zero), 6)

    needs: dict[SampleKey, float] = {}
    numbers: dict[SampleKey, int] = {}
    parts: list[PartData] = []
    tracks = [track for track in score.tracks if track.part != CLICK]
    top = loudest(gains)
    for part, of_part in groupby(tracks, key=lambda track: track.part):
        lines = list(of_part)
        notes: list[NoteData] = []
        for track in lines:
            for sample, start, end, gain, early, bends in _notes(track, at, gains, top):
                needs[sample] = max(needs.get(sample, 0.0), longest_s(end - start))
                number = numbers.setdefault(sample, len(numbers))
                until = end if _is_ended(sample) else 0
                plain = (start, until, number, gain, early)
                notes.append((*plain, bends) if bends else plain)
        notes.sort(key=lambda note: note[:3])
        pans = _pans(timeline, part, lines[0].pan)
        parts.append({"name": part, "title": lines[0].name, "pans": pans, "notes": notes})
    return PlayedParts(parts, needs)


def clicks(data: SongData) -> list[str]:
    """The click sounds that a song uses, as keys of `CLICK_SOUNDS`."""
    used = {playing["click"]["sound"] for playing in data["passes"]}
    return [sound for sound in CLICK_SOUNDS if sound in used]


def _is_ended(sample: SampleKey) -> bool:
    """Whether a player ends the note; drums ring out, except an open hi-hat, which is closed."""
    return sample.program is not None or sample.pitch == OPEN_HAT


def _pans(timeline: Timeline, part: str, usual: int) -> list[float]:
    """Where a part stands in each pass, from -1 (left) to 1."""
    pans = [playing.settings.parts.get(part, PartSettings()).pan for playing in timeline.passes]
    return [round((usual if pan is None else pan) / MOST_PAN, 3) for pan in pans]


class _Note(NamedTuple):
    """A note with its sample and, where it is bent, its bends as (time, semitones).

    It starts `early` seconds before its stroke's place.
    """

    sample: SampleKey
    start: float
    end: float
    gain: float
    early: float
    bends: list[tuple[float, float]]


def _notes(
    track: Track, at: Callable[[Fraction], float], gains: Gains, top: float
) -> Iterator[_Note]:
    """A track's notes, each with the program (of percussion, the kit), volume and expression that
    hold at its start.
    """
    turns = [bend.start_whole for bend in track.bends]
    for note, now in with_settings(track):
        start, end, pitch, velocity = note[:4]
        layer = next(sampled for highest, sampled in LAYERS if velocity <= highest)
        down_db = gains.get(Sound(track.part, now.program), top) - top
        share = velocity / layer * now.volume / IN_BALANCE * now.expression / MOST
        gain = share**2 * 10 ** (down_db / 20)
        bends = [
            (at(bend.start_whole), float(bend.semitones))
            for bend in track.bends[bisect_left(turns, start) : bisect_left(turns, end)]
        ]
        is_bent = any(semitones for _, semitones in bends)
        of_pitch = track.program is not None
        program, kit = (now.program, STANDARD_KIT) if of_pitch else (None, now.program)
        sample = SampleKey(program, pitch, layer, kit)
        start_s = at(start)
        early_s = round(at(start + note.early_whole) - start_s, 6)
        held = bends if is_bent else []
        yield _Note(sample, start_s, at(end), float(f"{gain:.4g}"), early_s, held)
