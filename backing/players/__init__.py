"""Players: a Timeline in, a Score out.

`PARTS` is the one table of who plays. A part's program, sound, volume and pan are the
song's own (`Form.settings`), since a file holds one of each, at its start; only the
click's `sound` may change by section, being a choice of percussion pitches. Percussion
parts share a channel, so their volume lies in their velocities.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import chain

from backing.form.model import PartSettings
from backing.players import bass, click, strum
from backing.players.cues import SettingsOf, settings_of
from backing.score import KeyChange, MeterChange, Note, Score, Track, Words
from backing.theory.chords import Chord
from backing.timeline import Timeline, renamed

__all__ = ["PARTS", "Part", "play"]

FULL_VOLUME = 100
NO_CHORD = "N.C."
COUNT_IN = "Count-in"
PICKUP = "Pickup"


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
    tracks = (_track(part, timeline) for part in PARTS)
    return Score(
        title=timeline.form.title,
        tracks=tuple(track for track in tracks if track.notes),
        tempos=timeline.tempos,
        meters=_meters(timeline),
        markers=_markers(timeline),
        chords=_chord_names(timeline),
        keys=_keys(timeline),
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
    markers = []
    if timeline.count_in and timeline.count_in[0] is not timeline.pickup:
        markers.append(Words(timeline.count_in[0].start_whole, COUNT_IN))
    if timeline.pickup is not None:
        markers.append(Words(timeline.pickup.start_whole, PICKUP))
    playing = None
    for bar in timeline.bars:
        if bar.playing is not playing:
            playing = bar.playing
            markers.append(Words(bar.start_whole, playing.label))
    return tuple(markers)


def _chord_names(timeline: Timeline) -> tuple[Words, ...]:
    """Each chord as it sounds, where it is written."""
    form = timeline.form
    names: dict[tuple[Chord | None, int], str] = {}
    for span in timeline.spans:
        name = (span.chord, span.playing.transpose)
        if name not in names:
            key = form.key and form.key.transposed(span.playing.transpose)
            names[name] = str(renamed(span.chord, form.capo, key) or NO_CHORD)
    return tuple(
        Words(span.slot_whole, names[span.chord, span.playing.transpose]) for span in timeline.spans
    )


def _keys(timeline: Timeline) -> tuple[KeyChange, ...]:
    """The sounding key, and where an entry moves it."""
    form = timeline.form
    if form.key is None:
        return ()
    changes = [
        KeyChange(Fraction(0), form.key.transposed(timeline.passes[0].transpose + form.capo))
    ]
    for bar in timeline.bars:
        key = form.key.transposed(bar.playing.transpose + form.capo)
        if key != changes[-1].key:
            changes.append(KeyChange(bar.start_whole, key))
    return tuple(changes)
