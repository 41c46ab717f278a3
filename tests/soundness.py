"""What makes a file sound: the rules, checked on plain mido messages, and random scores.

Nothing here uses the writer. A rule is a function from a read file to what breaks it;
`RULES` is the whole table, and `check_sound` runs it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from fractions import Fraction
from io import BytesIO
from itertools import accumulate, pairwise
from typing import Any, NamedTuple

import mido
from hypothesis import strategies as st

from backing.score import (
    Bend,
    Control,
    KeyChange,
    MeterChange,
    Note,
    Score,
    TempoChange,
    Track,
    Words,
)
from backing.theory.keys import Key, parse_key
from backing.theory.rhythm import Meter, parse_meter

PERCUSSION = 9
GENERAL_MIDI_ON = (0x7E, 0x7F, 0x09, 0x01)
VOLUME, PAN, EXPRESSION, REVERB = 7, 10, 11, 91
#: How a channel's bend range is set: registered parameter 0, its value, then no parameter.
RANGE_SET = ((101, 0), (100, 0), (6, 24), (38, 0), (101, 127), (100, 127))


class Placed(NamedTuple):
    """A message, its track (counted from 0) and its tick from the start."""

    track: int
    tick: int
    message: Any


class Sounding(NamedTuple):
    """A note as a synthesizer hears it; `off` is None where nothing ends it."""

    channel: int
    pitch: int
    on: int
    off: int | None
    track: int
    velocity: int


File = list[list[Placed]]


def check_sound(data: bytes) -> list[str]:
    """Every rule the file breaks, as "rule: what"; an empty list for a sound file."""
    try:
        read = mido.MidiFile(file=BytesIO(data))
    except Exception as error:
        return [f"readable: {error!r}"]
    file = placed(read)
    broken = [f"readable: {what}" for what in _header(read, data)]
    return broken + [f"{rule}: {what}" for rule, check in RULES.items() for what in check(file)]


def placed(read: mido.MidiFile) -> File:
    """Each track's messages with their ticks, summed from the deltas."""
    return [
        [
            Placed(index, tick, message)
            for tick, message in zip(accumulate(m.time for m in track), track, strict=True)
        ]
        for index, track in enumerate(read.tracks)
    ]


def sounding(file: File) -> list[Sounding]:
    """The notes of every track, in order of their starts; stray note-offs are left out."""
    notes: list[Sounding] = []
    for track in file:
        held: dict[tuple[int, int], list[Sounding]] = defaultdict(list)
        for place in track:
            message = place.message
            if _is_on(message):
                key = message.channel, message.note
                held[key].append(Sounding(*key, place.tick, None, place.track, message.velocity))
            elif _is_off(message) and held[message.channel, message.note]:
                note = held[message.channel, message.note].pop(0)
                notes.append(note._replace(off=place.tick))
        notes += [note for left in held.values() for note in left]
    return sorted(notes, key=lambda note: (note.channel, note.pitch, note.on))


def _header(read: mido.MidiFile, data: bytes) -> Iterator[str]:
    if read.type != 1:
        yield f"type {read.type}"
    chunks, at = 0, 0
    while at < len(data):
        at += 8 + int.from_bytes(data[at + 4 : at + 8], "big")
        chunks += 1
    if at != len(data) or chunks != 1 + len(read.tracks):
        yield "bytes left over"


def _deltas(file: File) -> Iterator[str]:
    # A delta below zero can only reach a file as an over-long number.
    for place in _all(file):
        if place.message.time > 0x0FFFFFFF:
            yield f"{place}"


def _one_end(file: File) -> Iterator[str]:
    for index, track in enumerate(file):
        ends = [place.message.type == "end_of_track" for place in track]
        if sum(ends) != 1 or not ends[-1]:
            yield f"track {index}"


def _same_end(file: File) -> Iterator[str]:
    ends = {track[-1].tick if track else 0 for track in file}
    if len(ends) > 1:
        yield f"tracks end on ticks {sorted(ends)}"


def _metas_first(file: File) -> Iterator[str]:
    for track in file:
        for a, b in pairwise(track):
            late = b.message.is_meta and b.message.type != "end_of_track"
            if a.tick == b.tick and late and not a.message.is_meta:
                yield f"{b}"


def _offs_first(file: File) -> Iterator[str]:
    for track in file:
        struck: set[int] = set()
        for place in track:
            if _is_on(place.message):
                struck.add(place.tick)
            elif _is_off(place.message) and place.tick in struck:
                yield f"{place}"


def _balanced(file: File) -> Iterator[str]:
    notes = sounding(file)
    for note in notes:
        if note.off is None:
            yield f"{note} never ends"
    offs = sum(_is_off(place.message) for place in _all(file))
    if offs != sum(note.off is not None for note in notes):
        yield "a note-off ends nothing"


def _no_zero_length(file: File) -> Iterator[str]:
    for note in sounding(file):
        if note.off == note.on:
            yield f"{note}"


def _one_of_a_pitch(file: File) -> Iterator[str]:
    for a, b in pairwise(sounding(file)):
        if (a.channel, a.pitch) != (b.channel, b.pitch) or a.off is None:
            continue
        # Two tracks may be read in either order at a tick, so theirs may not even touch.
        if b.on < a.off or (b.on == a.off and a.track != b.track):
            yield f"{a} and {b}"


def _one_a_tick(file: File) -> Iterator[str]:
    changes = Counter(
        (place.message.type, place.tick)
        for place in _all(file)
        if place.message.type in ("set_tempo", "time_signature", "key_signature")
    )
    yield from (f"{what}" for what, count in changes.items() if count > 1)


def _conductor_first(file: File) -> Iterator[str]:
    for place in _all(file[1:]):
        if place.message.type in ("set_tempo", "time_signature", "key_signature", "marker"):
            yield f"{place}"
    for place in file[0]:
        if _channel(place.message) is not None:
            yield f"{place}"


def _one_channel_a_part(file: File) -> Iterator[str]:
    users: dict[int, set[int]] = defaultdict(set)
    for index, track in enumerate(file):
        channels = _channels(track)
        if len(channels) > 1:
            yield f"track {index} uses channels {channels}"
        for channel in channels:
            users[channel].add(index)
    for channel, tracks in users.items():
        if len(tracks) > 1 and channel != PERCUSSION:
            yield f"channel {channel} is used by tracks {tracks}"


def _bare_percussion(file: File) -> Iterator[str]:
    """Notes alone or, where a file has brushes, the programs of the two kits as well."""
    kits: set[int] = set()
    for place in _all(file):
        if _channel(place.message) != PERCUSSION or _is_on(place.message) or _is_off(place.message):
            continue
        if place.message.type == "program_change":
            kits.add(place.message.program)
        else:
            yield f"{place}"
    if kits and kits != {0, 40}:
        yield f"kits {sorted(kits)}"


def _set_up(file: File) -> Iterator[str]:
    for index, track in enumerate(file):
        channels = _channels(track) - {PERCUSSION}
        start = Counter(
            (message.type, getattr(message, "control", None))
            for _, tick, message in track
            if tick == 0
            and message.type in ("program_change", "control_change")
            and getattr(message, "control", None) not in {control for control, _ in RANGE_SET}
        )
        controls = Counter(("control_change", number) for number in (VOLUME, PAN, REVERB))
        wanted = controls + Counter([("program_change", None)])
        grows = Counter([("control_change", EXPRESSION)])
        if channels and start not in (wanted, wanted + grows):
            yield f"track {index} starts with {start}"


def _wheels(file: File) -> Iterator[str]:
    for index, track in enumerate(file):
        bends = [place for place in track if place.message.type == "pitchwheel"]
        if not bends:
            continue
        controls = [
            (place.message.control, place.message.value)
            for place in track
            if place.tick == 0 and place.message.type == "control_change"
        ]
        sixes = [tuple(controls[at : at + len(RANGE_SET)]) for at in range(len(controls))]
        if sixes.count(RANGE_SET) != 1:
            yield f"track {index} bends without its range set"
        if bends[0].tick or bends[-1].message.pitch:
            yield f"track {index} leaves its wheel at {bends[-1].message.pitch}"
        if any(a.tick == b.tick for a, b in pairwise(bends)):
            yield f"track {index} turns its wheel twice on a tick"
        for a, b in pairwise(track):
            if a.tick == b.tick and _is_on(a.message) and b.message.type == "pitchwheel":
                yield f"track {index} turns its wheel after a note's start on tick {b.tick}"


def _sounds_first(file: File) -> Iterator[str]:
    """A program, volume or pan is set once a tick, and before the notes that start there."""
    for index, track in enumerate(file):
        placed = [
            (place.tick, place.message.type, getattr(place.message, "control", None))
            for place in track
            if place.message.type == "program_change"
            or (place.message.type == "control_change" and place.message.control in (VOLUME, PAN))
        ]
        for what, count in Counter(placed).items():
            if count > 1:
                yield f"track {index} sets {what} twice"
        struck = {
            place.tick: at for at, place in reversed([*enumerate(track)]) if _is_on(place.message)
        }
        for at, place in enumerate(track):
            shapes = place.message.type in ("program_change", "control_change")
            if shapes and struck.get(place.tick, at) < at:
                yield f"track {index} sets its sound after a note's start on tick {place.tick}"


def _named(file: File) -> Iterator[str]:
    for index, track in enumerate(file):
        names = [place.tick for place in track if place.message.type == "track_name"]
        if names != [0]:
            yield f"track {index} is named {len(names)} times"


def _general_midi_on(file: File) -> Iterator[str]:
    on = [
        place
        for place in _all(file)
        if place.message.type == "sysex" and tuple(place.message.data) == GENERAL_MIDI_ON
    ]
    if [(place.track, place.tick) for place in on] != [(0, 0)]:
        yield f"system-on at {on}"


#: Each rule by name; `readable` stands before them, in `check_sound`.
RULES: dict[str, Callable[[File], Iterator[str]]] = {
    "deltas in range": _deltas,
    "one end of track, last": _one_end,
    "tracks end together": _same_end,
    "metas first": _metas_first,
    "note-offs first": _offs_first,
    "balanced notes": _balanced,
    "no zero-length note": _no_zero_length,
    "one sounding note of a pitch": _one_of_a_pitch,
    "one change a tick": _one_a_tick,
    "the conductor's events on the first track": _conductor_first,
    "one channel a part": _one_channel_a_part,
    "bare percussion": _bare_percussion,
    "program, volume, pan and reverb at the start": _set_up,
    "wheels set and at rest": _wheels,
    "sounds set before notes": _sounds_first,
    "named tracks": _named,
    "General MIDI on first": _general_midi_on,
}


def _all(file: File) -> Iterator[Placed]:
    return (place for track in file for place in track)


def _is_on(message: Any) -> bool:
    return bool(message.type == "note_on" and message.velocity > 0)


def _is_off(message: Any) -> bool:
    return bool(message.type == "note_off" or (message.type == "note_on" and not message.velocity))


def _channels(track: list[Placed]) -> set[int]:
    channels = (_channel(place.message) for place in track)
    return {channel for channel in channels if channel is not None}


def _channel(message: Any) -> int | None:
    return getattr(message, "channel", None) if not message.is_meta else None


# Random scores, crowded on purpose: few pitches, positions that collide or nearly do.

# fmt: off
METERS: tuple[Meter, ...] = tuple(map(parse_meter, (
    "2/2", "3/2", "2/4", "3/4", "4/4", "5/4", "3/8", "6/8", "9/8", "12/8", "5/8", "7/8",
    "7/8 (3+2+2)", "11/16 (3+3+3+2)", "64/1",
)))
# fmt: on
KEYS: tuple[Key, ...] = tuple(map(parse_key, ("C", "A", "F#m", "Bb", "Ebm", "C#", "Cb", "Abm")))
SONG_WHOLE = 3
_END_WHOLE = Fraction(SONG_WHOLE) + Fraction(1, 16)
_POSITIONS = st.builds(
    Fraction, st.integers(0, 40), st.sampled_from((16, 24, 40, 1920, 3840, 4801))
).filter(lambda position: position < SONG_WHOLE)
_LENGTHS = st.builds(Fraction, st.integers(0, 12), st.sampled_from((4, 24, 3840, 9000, 10**6)))
_TITLES = st.text(max_size=12) | st.sampled_from(("Мій чайник", "緑のやかん", "Ærø 🎸"))


@st.composite
def scores(draw: st.DrawFn) -> Score:
    """A score of up to five crowded parts, with its notes and changes in any order."""
    count = draw(st.integers(0, 5))
    words = st.lists(st.builds(Words, _POSITIONS, _TITLES), max_size=4).map(tuple)
    tempos = st.builds(TempoChange, _POSITIONS, st.fractions(4, 999, max_denominator=97))
    meters = st.builds(MeterChange, _POSITIONS, st.sampled_from(METERS))
    return Score(
        title=draw(_TITLES),
        tracks=tuple(draw(_tracks(f"part {index}")) for index in range(count)),
        tempos=tuple(draw(st.lists(tempos, max_size=6))),
        meters=tuple(draw(st.lists(meters, max_size=6))),
        markers=draw(words),
        chords=draw(words),
        keys=draw(
            st.sampled_from(KEYS).map(lambda key: (KeyChange(Fraction(0), key),)) | st.just(())
        ),
        end_whole=_END_WHOLE,
    )


@st.composite
def _tracks(draw: st.DrawFn, part: str) -> Track:
    notes = draw(st.lists(_notes(), max_size=12))
    program = draw(st.none() | st.integers(0, 127))
    volume, pan = draw(st.integers(0, 127)), draw(st.integers(-64, 63))
    turns = st.builds(Bend, _POSITIONS, st.fractions(-24, 24, max_denominator=97))
    bends = draw(st.just([]) | st.lists(turns, max_size=6)) if program is not None else []
    changes = draw(st.just([]) | st.lists(_changes(), max_size=4)) if program is not None else []
    return Track(
        part, draw(_TITLES), program, volume, pan, tuple(notes), tuple(bends), tuple(changes)
    )


def _changes() -> st.SearchStrategy[Control]:
    later = _POSITIONS.filter(lambda place: place >= Fraction(1, 40))  # the start has its own
    numbers = st.builds(Control, later, st.sampled_from(("program", "volume")), st.integers(0, 127))
    return numbers | st.builds(Control, later, st.just("pan"), st.integers(-64, 63))


@st.composite
def _notes(draw: st.DrawFn) -> Note:
    start = draw(_POSITIONS)
    end = min(start + draw(_LENGTHS), _END_WHOLE)
    return Note(start, end, draw(st.integers(60, 62)), draw(st.integers(1, 127)))
