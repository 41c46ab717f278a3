"""Players: a Timeline in, a Score out.

`PARTS` is the one table of who plays. A part's program, sound, volume and pan are the
song's own (`Form.settings`), since a file holds one of each, at its start; only the
click's `sound` may change by section, being a choice of percussion pitches. Percussion
parts share a channel, so their volume lies in their velocities.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain

from backing.form.model import PartSettings
from backing.players import bass, click, strum
from backing.players.cues import SettingsOf, settings_of
from backing.score import MeterChange, Note, Score, Track, Words
from backing.theory.chords import Chord
from backing.theory.keys import Key
from backing.timeline import Timeline

__all__ = ["PARTS", "Part", "play"]

FULL_VOLUME = 100
NO_CHORD = "N.C."
COUNT_IN = "Count-in"


@dataclass(frozen=True, slots=True)
class Part:
    """A part: its name in forms and in print, its player, and what holds unless a form says else.

    `programs` are General MIDI programs by `sound`, the default one first; without any
    it is percussion. `on` is whether it plays where no form says.
    """

    name: str
    title: str
    play: Callable[[Timeline, SettingsOf], Sequence[Note]]
    on: bool
    programs: Mapping[str, int] = field(default_factory=dict)
    volume: int = FULL_VOLUME
    pan: int = 0


PARTS = (
    Part("click", "Click", click.play, on=True),
    Part("bass", "Bass", bass.play, on=True, programs={"fingered": 33}),
    Part("guitar", "Guitar", strum.play, on=True, programs=strum.PROGRAMS),
)


def play(timeline: Timeline) -> Score:
    """Everything that is heard, and what the file says of it; a part with no note has no track."""
    form = timeline.form
    key = form.key and form.key.transposed(form.capo)
    tracks = (_track(part, timeline) for part in PARTS)
    return Score(
        title=form.title,
        tracks=tuple(track for track in tracks if track.notes),
        tempos=timeline.tempos,
        meters=_meters(timeline),
        markers=_markers(timeline),
        chords=_chord_names(timeline, key),
        key=key,
        end_whole=timeline.end_whole + timeline.ring_out_whole,
    )


def _track(part: Part, timeline: Timeline) -> Track:
    said = timeline.form.settings.parts.get(part.name, PartSettings())
    volume = part.volume if said.volume is None else said.volume
    pan = part.pan if said.pan is None else said.pan
    notes = tuple(part.play(timeline, settings_of(part.name, part.on)))
    if not part.programs:
        return Track(part.name, part.title, None, volume, pan, _balanced(notes, volume))
    default, *_ = part.programs.values()
    program = part.programs.get(said.sound or "", default)
    return Track(part.name, part.title, program, volume, pan, notes)


def _balanced(notes: tuple[Note, ...], volume: int) -> tuple[Note, ...]:
    """Velocities scaled by a volume; `FULL_VOLUME` leaves them, and none falls below 1."""
    if volume == FULL_VOLUME:
        return notes
    return tuple(
        note._replace(velocity=min(127, max(1, note.velocity * volume // FULL_VOLUME)))
        for note in notes
    )


def _meters(timeline: Timeline) -> tuple[MeterChange, ...]:
    changes: list[MeterChange] = []
    for bar in chain(timeline.count_in, timeline.bars):
        if not changes or bar.meter != changes[-1].meter:
            changes.append(MeterChange(bar.start_whole, bar.meter))
    return tuple(changes)


def _markers(timeline: Timeline) -> tuple[Words, ...]:
    markers = [Words(timeline.count_in[0].start_whole, COUNT_IN)] if timeline.count_in else []
    playing = None
    for bar in timeline.bars:
        if bar.playing is not playing:
            playing = bar.playing
            markers.append(Words(bar.start_whole, playing.label))
    return tuple(markers)


def _chord_names(timeline: Timeline, key: Key | None) -> tuple[Words, ...]:
    """Each chord as it sounds, where it is written."""
    capo = timeline.form.capo
    names: dict[Chord | None, str] = {None: NO_CHORD}
    for span in timeline.spans:
        chord = span.chord
        if chord is not None and chord not in names:
            flats = key.flats if key else _usually_flat(chord, capo)
            names[chord] = str(chord.transposed(capo, flats))
    return tuple(Words(span.slot_whole, names[span.chord]) for span in timeline.spans)


def _usually_flat(chord: Chord, capo: int) -> bool:
    """How a chord is raised without a key: a sign stays of its kind, and a natural becomes
    the black key's usual name: Eb, Ab, Bb, C#, F# (common practice).
    """
    if chord.root.accidental:
        return chord.root.accidental < 0
    return (chord.root.pitch_class + capo) % 12 in (3, 8, 10)
