"""Score to Standard MIDI File: the only place with ticks.

Source: the Standard MIDI File 1.0 specification (MIDI Manufacturers Association, RP-001)
and General MIDI system level 1 (RP-003). The file is of type 1 at 960 ticks a quarter:
a conductor track (title, General MIDI on, tempos, meters, key, section markers), a track
of chord names, then a track a part, tuned where the song is not at 440 Hz. A track that
bends has its wheel set to 24 semitones either way (registered parameter 0) at the start
and left at rest at the end. Text is UTF-8. Every position is rounded once, from its exact
place; no position is counted from the one before it.

An event is a pair (tick, message): the tick from the start of the file, the message with
its status byte. Channels count from 0, so General MIDI's channel 10 is 9 here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import TypeAlias

from backing.errors import BackingError
from backing.midi.controllers import PAN, VOLUME, Setting, registered, tuned
from backing.score import Note, Score, Track
from backing.theory.rhythm import Meter

TICKS_PER_QUARTER = 960
PERCUSSION_CHANNEL = 9
MOST_PITCHED_PARTS = 15
BEND_RANGE = 24  # semitones: a slide along the whole neck

_TICKS_PER_WHOLE = 4 * TICKS_PER_QUARTER
_LONGEST_DELTA = 0x0FFFFFFF
_GENERAL_MIDI_ON = bytes.fromhex("F0 05 7E 7F 09 01 F7")
_TEXT, _TRACK_NAME, _MARKER, _END_OF_TRACK = 0x01, 0x03, 0x06, 0x2F
_TEMPO, _METER, _KEY = 0x51, 0x58, 0x59
_WHEEL_AT_REST = 0x2000
_SET_RANGE = tuple(registered(0, BEND_RANGE, 0))  # parameter 0: the bend range, and its cents
_MIDI_CLOCKS_PER_WHOLE = 96

Event: TypeAlias = "tuple[int, bytes]"
At: TypeAlias = "Callable[[Fraction], int]"


def to_bytes(score: Score) -> bytes:
    """A score as a Standard MIDI File of type 1; the same score gives the same bytes.

    The notes are written where the score has them. What `play` returns is exact to the grid,
    and `midi_of` lets `humanize` move it first, so the two files differ.

    Args:
        score: its positions in whole notes, each rounded once to one of 960 ticks a quarter.

    Raises:
        BackingError: it has more than 15 pitched parts, a note or event outside the song, or a
            value outside its range.
    """
    end = ticks(score.end_whole)
    chunks = [
        track_chunk(_conductor(score), end),
        track_chunk(_chord_names(score), end),
        *(track_chunk(events, end) for events in part_events(score, ticks)),
    ]
    return header_chunk(len(chunks), TICKS_PER_QUARTER) + b"".join(chunks)


def part_events(score: Score, at: At) -> list[list[Event]]:
    """Each track's messages in order, with the track's name as a meta message at 0.

    `at` rounds a position in whole notes to a whole number: to a tick, or to a sample.
    Raises as `to_bytes` does.
    """
    end = at(score.end_whole)
    channels = _channels(score.tracks)
    sounding = _sounding(score.tracks, channels, end, at)
    tuning = tuned(score.pitch_hz)
    return [
        _setup(track, channel, tuning)
        + _with_wheel(notes + _changes(track, channel, end, at), track, channel, end, at)
        for track, channel, notes in zip(score.tracks, channels, sounding, strict=True)
    ]


def ticks(whole: Fraction) -> int:
    """The tick nearest to a position in whole notes; a half goes up."""
    numerator, denominator = whole.as_integer_ratio()
    return (2 * _TICKS_PER_WHOLE * numerator + denominator) // (2 * denominator)


# The file's own grammar.


def header_chunk(tracks: int, ticks_per_quarter: int) -> bytes:
    """The first chunk of a type 1 file."""
    fields = (6, 4), (1, 2), (tracks, 2), (ticks_per_quarter, 2)
    return b"MThd" + b"".join(value.to_bytes(size, "big") for value, size in fields)


def track_chunk(events: Iterable[Event], end: int) -> bytes:
    """One track: events in order of tick, then the end of track at tick `end`.

    A channel message whose status is that of the message before it leaves it out.
    Raises BackingError for events out of order or after `end`.
    """
    body = bytearray()
    now = 0
    running = -1
    for tick, message in events:
        delta = tick - now
        if 0 <= delta < 0x80:
            body.append(delta)
        else:
            body += variable_length(delta)
        now = tick
        status = message[0]
        if status != running:
            body += message
            running = status if status < 0xF0 else -1
        else:
            body += message[1:]
    body += variable_length(end - now) + _meta(_END_OF_TRACK)
    return b"MTrk" + len(body).to_bytes(4, "big") + body


def variable_length(number: int) -> bytes:
    """A number of 0 to 0x0FFFFFFF, seven bits a byte, all bytes but the last with the top bit set.

    Raises BackingError outside that range.
    """
    if not 0 <= number <= _LONGEST_DELTA:
        raise BackingError(
            f"a MIDI file has no room for a step of {number} ticks; "
            f"events go forward, by {_LONGEST_DELTA} ticks at most"
        )
    out = [number & 0x7F]
    while number := number >> 7:
        out.append(0x80 | number & 0x7F)
    return bytes(reversed(out))


def _meta(kind: int, content: bytes = b"") -> bytes:
    return bytes((0xFF, kind)) + variable_length(len(content)) + content


def _text(kind: int, text: str) -> bytes:
    return _meta(kind, text.encode("utf-8"))


# The tracks without notes.


def _conductor(score: Score) -> list[Event]:
    # Where two changes fall on one tick, the later one is in force: the dict keeps it.
    tempos = {ticks(change.start_whole): change.quarter_bpm for change in score.tempos}
    meters = {ticks(change.start_whole): change.meter for change in score.meters}
    metas: list[Event] = [(0, _text(_TRACK_NAME, score.title))]
    metas += [(tick, _meta(_TEMPO, tempo_bytes(bpm))) for tick, bpm in tempos.items()]
    metas += [(tick, _meta(_METER, meter_bytes(meter))) for tick, meter in meters.items()]
    for tick, key in {ticks(change.start_whole): change.key for change in score.keys}.items():
        signature = key.signature.to_bytes(1, "big", signed=True)
        metas.append((tick, _meta(_KEY, signature + bytes((key.minor,)))))
    metas += [(ticks(place), _text(_MARKER, text)) for place, text in score.markers]
    # Metas come first at a tick; this track comes first in the file, so the
    # system-on still precedes every channel message.
    return sorted([*metas, (0, _GENERAL_MIDI_ON)], key=_tick)


def _chord_names(score: Score) -> list[Event]:
    names = [(ticks(place), _text(_TEXT, text)) for place, text in score.chords]
    return [(0, _text(_TRACK_NAME, "Chords")), *sorted(names, key=_tick)]


def tempo_bytes(quarter_bpm: Fraction) -> bytes:
    """Microseconds a quarter, rounded to the nearest, a half up, in three bytes.

    Raises BackingError for a tempo those can't hold (below about 3.6 quarters a minute).
    """
    if quarter_bpm > 0:
        numerator, denominator = 60_000_000 * quarter_bpm.denominator, quarter_bpm.numerator
        microseconds = (2 * numerator + denominator) // (2 * denominator)
        if 1 <= microseconds <= 0xFFFFFF:
            return microseconds.to_bytes(3, "big")
    raise BackingError(
        f"a MIDI file has no tempo of {quarter_bpm} quarter notes a minute; "
        "it goes from 4 to 60,000,000"
    )


def meter_bytes(meter: Meter) -> bytes:
    """nn dd cc bb: count, unit as a power of two, MIDI clocks a click, 32nds a quarter (8).

    The click is the beat; where beats are uneven, or too long for a byte, it is the unit.
    """
    click = int((meter.beat_whole or meter.unit_whole) * _MIDI_CLOCKS_PER_WHOLE)
    if click > 0xFF:
        click = int(meter.unit_whole * _MIDI_CLOCKS_PER_WHOLE)
    return bytes((meter.count, meter.unit.bit_length() - 1, click, 8))


# The parts.


def _channels(tracks: Sequence[Track]) -> list[int]:
    """A channel a pitched part, in order; all percussion on the one General MIDI keeps for it."""
    pitched = sum(track.program is not None for track in tracks)
    if pitched > MOST_PITCHED_PARTS:
        raise BackingError(
            f"{pitched} pitched parts, and a MIDI file has channels for {MOST_PITCHED_PARTS}; "
            "take parts out of the form"
        )
    free = iter(channel for channel in range(16) if channel != PERCUSSION_CHANNEL)
    return [PERCUSSION_CHANNEL if track.program is None else next(free) for track in tracks]


def _setup(track: Track, channel: int, tuning: Iterable[Setting]) -> list[Event]:
    """Name, program, volume, pan, tuning; percussion parts share a channel, so have only names."""
    name = (0, _text(_TRACK_NAME, track.name))
    if track.program is None:
        if track.bends or track.changes:
            raise BackingError(
                f"{track.name}: percussion shares its channel, so it can't bend or change"
            )
        return [name]
    return [
        name,
        (0, _control(track, channel, "program", track.program)),
        (0, _control(track, channel, "volume", track.volume)),
        (0, _control(track, channel, "pan", track.pan)),
        *((0, bytes((0xB0 | channel, *setting))) for setting in tuning),
        *((0, bytes((0xB0 | channel, *set_))) for set_ in _SET_RANGE if track.bends),
    ]


def _control(track: Track, channel: int, what: str, value: int) -> bytes:
    number = value + 64 if what == "pan" else value
    if not 0 <= number <= 127:
        allowed = "-64-63" if what == "pan" else "0-127"
        raise BackingError(f"{track.name}: a {what} must lie in {allowed}, and {value} doesn't")
    if what == "program":
        return bytes((0xC0 | channel, number))
    return bytes((0xB0 | channel, VOLUME if what == "volume" else PAN, number))


def _changes(track: Track, channel: int, end: int, at: At) -> list[Event]:
    """A track's later programs, volumes and pans: one of each a tick, the one said last."""
    placed = {
        (at(start_whole), what): _control(track, channel, what, value)
        for start_whole, what, value in track.changes
    }
    if not all(0 <= tick <= end for tick, _ in placed):
        raise BackingError(f"{track.name}: a change of its sound lies outside the song")
    return [(tick, message) for (tick, _), message in placed.items()]


def _with_wheel(notes: list[Event], track: Track, channel: int, end: int, at: At) -> list[Event]:
    """Note events and changes with a track's bends among them, in order at each tick."""
    if not track.bends:
        return sorted(notes, key=_in_order) if track.changes else notes
    placed = {0: _WHEEL_AT_REST}  # one value a tick, the one said last
    for start_whole, semitones in track.bends:
        placed[at(start_whole)] = _wheel(semitones)
    if min(placed) < 0 or max(placed) > end:
        raise BackingError(f"{track.name}: a bend lies outside the song")
    if placed[max(placed)] != _WHEEL_AT_REST:
        placed[end] = _WHEEL_AT_REST
    wheel = [
        (tick, bytes((0xE0 | channel, value & 0x7F, value >> 7)))
        for tick, value in sorted(placed.items())
    ]
    return sorted(notes + wheel, key=_in_order)


@lru_cache(maxsize=1024)
def _wheel(semitones: Fraction) -> int:
    """The wheel's fourteen bits, its middle at rest; a full bend up is one step short."""
    if not -BEND_RANGE <= semitones <= BEND_RANGE:
        raise BackingError(f"no bend of {semitones} semitones; a wheel is set to {BEND_RANGE}")
    numerator, denominator = _WHEEL_AT_REST * semitones.numerator, semitones.denominator
    steps = (2 * numerator + denominator * BEND_RANGE) // (2 * denominator * BEND_RANGE)
    return min(_WHEEL_AT_REST + steps, 0x3FFF)


def _sounding(
    tracks: Sequence[Track], channels: Sequence[int], end: int, at: At
) -> list[list[Event]]:
    """Each track's note events in order, with never two notes of a pitch at once on a channel."""
    events: list[list[Event]] = [[] for _ in tracks]
    for channel in dict.fromkeys(channels):
        note_on, note_off = 0x90 | channel, 0x80 | channel
        indices = [index for index, each in enumerate(channels) if each == channel]
        strikes = [
            strike for index in indices for strike in _strikes(tracks[index], index, end, at)
        ]
        for pitch, on, index, off, velocity in _restruck(strikes):
            events[index].append((on, bytes((note_on, pitch, velocity))))
            events[index].append((off, bytes((note_off, pitch, 64))))
    for track_events in events:
        track_events.sort()  # at a tick an off sorts before an on, its status byte being less
    return events


_Strike: TypeAlias = "tuple[int, int, int, int, int]"


def _strikes(track: Track, index: int, end: int, at: At) -> list[_Strike]:
    """Notes as (pitch, tick on, index of the track, tick off, velocity), each a tick or longer."""
    strikes = []
    for note in track.notes:
        start_whole, end_whole, pitch, velocity, *_ = note
        on, off = at(start_whole), at(end_whole)
        if on == off:
            off += 1
        if not (0 <= on < off <= end and 0 <= pitch <= 127 and 1 <= velocity <= 127):
            raise BackingError(f"{track.name}: {_what_is_wrong(note)}")
        strikes.append((pitch, on, index, off, velocity))
    return strikes


def _restruck(strikes: list[_Strike]) -> list[_Strike]:
    """Strikes of one channel, sorted, none sounding into the next of its pitch.

    A restrike ends the note before it and lasts until the later of both ends; two on one
    tick are one, as loud as the louder. Tracks of a shared channel are read in either
    order at a tick, so across tracks a note ends a tick before the next one's start; where
    that leaves it no length, the two are one in the track that comes first.
    """
    done: list[_Strike] = []
    for strike in sorted(strikes):
        pitch, on, index, off, velocity = strike
        if done and done[-1][0] == pitch:
            _, earlier_on, earlier_index, earlier_off, earlier_velocity = done[-1]
            cut = on if index == earlier_index else on - 1
            if cut <= earlier_on:
                # The track further up keeps the note at its own tick: the click stays exact.
                index, on = min((earlier_index, earlier_on), (index, on))
                velocity = max(velocity, earlier_velocity)
                off = max(off, earlier_off)
                done.pop()
            elif cut < earlier_off:
                off = max(off, earlier_off)
                done[-1] = pitch, earlier_on, earlier_index, cut, earlier_velocity
        done.append((pitch, on, index, off, velocity))
    return done


def _what_is_wrong(note: Note) -> str:
    return (
        f"a note of pitch {note.pitch} and velocity {note.velocity} from "
        f"{note.start_whole} to {note.end_whole} whole notes can't be written; pitches are "
        "0-127, velocities 1-127, and a note ends after its start, inside the song"
    )


def _tick(event: Event) -> int:
    return event[0]


def _in_order(event: Event) -> tuple[int, int]:
    """At a tick, offs come first, then all that shapes the sound, then ons."""
    return event[0], (0x80, 0xC0, 0xB0, 0xE0, 0x90).index(event[1][0] & 0xF0)
