"""Players: a Timeline in, a Score out.

`backing.form.parts` is the table of who plays; each part's player is the module of its name.
The notes are exact here. How loud a section is played is decided in `dynamics`, where a
part sits in the mix in `mix`, and how people stray from the exact score in `human`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from importlib import import_module
from itertools import chain, count
from operator import attrgetter

from backing.form.parts import CLICK, DRUMS, PARTS, Part, title_of, usual_program
from backing.form.transposed import renamed
from backing.players.bends import lines
from backing.players.dynamics import dynamics, scaled
from backing.players.expression import with_expression
from backing.players.mix import mix_of
from backing.players.muted import muted_track, parted
from backing.players.part_settings import SettingsOf, settings_of
from backing.players.sung_words import sung_words
from backing.score import (
    Control,
    KeyChange,
    MeterChange,
    Note,
    Score,
    Track,
    Words,
    sounding,
)
from backing.theory.chords import Chord
from backing.theory.general_midi import SUSTAINED
from backing.timeline import Timeline

__all__ = ["play", "player_of"]

NO_CHORD = "N.C."
GUITAR = "guitar"
COUNT_IN = "Count-in"
PICKUP = "Pickup"


def player_of(part: Part) -> Callable[[Timeline, SettingsOf], Sequence[Note]]:
    """The `play` of a part's module in this room, loaded only where the part plays."""
    play: Callable[[Timeline, SettingsOf], Sequence[Note]]
    play = import_module(f"{__name__}.{part.module}").play
    return play


def play(timeline: Timeline) -> Score:
    """Play a song: every part's notes, exactly on the grid.

    A part without a note has no track. `humanize` comes next, where people are to play it.

    Args:
        timeline: the form in playing order.

    Returns:
        Notes, tempos, meters, markers, chord names, keys and words, at exact fractions of a
        whole note.
    """
    tracks = (track for part in PARTS.values() for track in _tracks(part, timeline))
    return Score(
        title=timeline.form.title,
        tracks=sounding(tracks),
        tempos=timeline.tempos,
        meters=_meters(timeline),
        markers=_markers(timeline),
        chords=_chord_names(timeline),
        keys=_keys(timeline),
        end_whole=timeline.end_whole + timeline.ring_out_whole,
        pitch_hz=timeline.form.pitch_hz,
        words=sung_words(timeline),
    )


def _tracks(part: Part, timeline: Timeline) -> list[Track]:
    """A part's track and, where it bends or mutes strings, those of its bent and muted notes."""
    settings = settings_of(part.name, part.on)
    end_whole = timeline.end_whole + timeline.ring_out_whole
    passes = [*timeline.passes, *(bar.playing for bar in timeline.played[:1])]
    if part.name != CLICK and not any(settings(playing).on for playing in passes):
        return []  # the click alone plays where it is off: it counts in
    notes = tuple(player_of(part)(timeline, settings))
    instrument = timeline.form.instrument
    program = usual_program(part, instrument) if part.programs else None
    mix, changes = mix_of(timeline, part, program)
    title = title_of(part, instrument)
    track = Track(part.name, title, *mix[:3], notes, (), changes, mix.level_lu, part.reverb)
    if not SUSTAINED.isdisjoint(part.programs.values()):
        return [with_expression(track, dynamics(timeline), end_whole)]
    if part.name != CLICK:
        notes = scaled(notes, dynamics(timeline))
    if program is None:
        kits = _kits(part, timeline, settings)
        changes = tuple(sorted((*changes, *kits), key=attrgetter("start_whole")))
        return [track._replace(notes=notes, changes=changes)]
    ringing, muted = parted(notes) if part.module == GUITAR else (notes, ())
    tracks = [
        track._replace(name=name, notes=of_line, bends=bends)
        for name, (of_line, bends) in zip(_names(title), lines(ringing, end_whole), strict=False)
    ]
    return [*tracks, muted_track(tracks[0], muted)] if muted else tracks


def _kits(part: Part, timeline: Timeline, settings: SettingsOf) -> tuple[Control, ...]:
    """A percussion part's changes of kit."""
    if part.name != DRUMS:
        return ()
    from backing.players.drums import kits

    return kits(timeline, settings)


def _names(title: str) -> Iterator[str]:
    """The names of a part's tracks: its title, then one for each track that bends."""
    yield title
    yield f"{title} bends"
    yield from (f"{title} bends {number}" for number in count(2))


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
    """The name of each chord as it sounds, at its written place."""
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
    """The key as it sounds, and each change of it by a line that transposes."""
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
