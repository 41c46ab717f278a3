"""Tracks to MIDI messages: channels, programs, notes, bends and tuning.

Source: MIDI 1.0 and General MIDI system level 1 (MIDI Manufacturers Association, RP-003). A
part is tuned where the song isn't at 440 Hz. A track that bends has its wheel set to 24
semitones either way (registered parameter 0) at the start and left at rest at the end.
Channels count from 0, so General MIDI's channel 10 is 9 here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import TypeAlias

from backing.errors import BackingError
from backing.midi.chunks import TRACK_NAME, Event, text_event
from backing.midi.controllers import (
    EXPRESSION,
    PAN,
    REVERB,
    VOLUME,
    Setting,
    registered,
    tuned,
)
from backing.midi.kits import kit_events
from backing.score import Note, Score, Track

PERCUSSION_CHANNEL = 9
MOST_PITCHED_PARTS = 15
BEND_RANGE = 24  # semitones: a slide along the whole neck

_WHEEL_AT_REST = 0x2000
_SET_RANGE = tuple(registered(0, BEND_RANGE, 0))  # parameter 0: the bend range, and its cents

_CONTROLLERS = {"volume": VOLUME, "pan": PAN, "expression": EXPRESSION, "reverb": REVERB}
_FULL = 127

At: TypeAlias = "Callable[[Fraction], int]"


def part_events(score: Score, at: At, alone: bool = False) -> list[list[Event]]:
    """Each track's messages in order, with the track's name as a meta message at 0.

    Args:
        score: positions in whole notes.
        at: rounds a position to a whole number: to a tick, or to a sample.
        alone: whether each percussion track gets a channel to itself, and so has a volume.

    Raises:
        BackingError: as `to_bytes` does.
    """
    end = at(score.end_whole)
    channels = _channels(score.tracks)
    sounding = _sounding(score.tracks, channels, end, at)
    kits = _kits(score.tracks, sounding, end, at)
    tuning = tuned(score.pitch_hz)
    return [
        _setup(track, channel, tuning, alone)
        + (
            sorted(notes + kits[index] + _changes(track, channel, end, at, alone), key=_in_order)
            if kits.get(index)
            else _with_wheel(
                notes + _changes(track, channel, end, at, alone), track, channel, end, at
            )
        )
        for index, (track, channel, notes) in enumerate(
            zip(score.tracks, channels, sounding, strict=True)
        )
    ]


def _kits(
    tracks: Sequence[Track], sounding: Sequence[Sequence[Event]], end: int, at: At
) -> dict[int, list[Event]]:
    """The program events of each percussion track, by its place among the tracks."""
    places = [index for index, track in enumerate(tracks) if track.program is None]
    programs = kit_events(
        [tracks[index] for index in places],
        [sounding[index] for index in places],
        end,
        PERCUSSION_CHANNEL,
        at,
    )
    return dict(zip(places, programs, strict=True))


def _channels(tracks: Sequence[Track]) -> list[int]:
    """A channel for each pitched part, in order; General MIDI's own one for all percussion."""
    pitched = sum(track.program is not None for track in tracks)
    if pitched > MOST_PITCHED_PARTS:
        raise BackingError(
            f"a MIDI file has channels for {MOST_PITCHED_PARTS} pitched parts, not {pitched}. "
            "Turn some of the form's parts off."
        )
    free = iter(channel for channel in range(16) if channel != PERCUSSION_CHANNEL)
    return [PERCUSSION_CHANNEL if track.program is None else next(free) for track in tracks]


def _setup(track: Track, channel: int, tuning: Iterable[Setting], alone: bool) -> list[Event]:
    """Name, program, volume, pan, reverb, expression, tuning.

    Percussion that shares a channel has only its name.
    """
    name = (0, text_event(TRACK_NAME, track.name))
    reverb = (0, _control(track, channel, "reverb", track.reverb))
    volume = (0, _control(track, channel, "volume", track.volume))
    if track.program is None:
        if track.bends:
            raise BackingError(f"{track.name}: percussion shares a channel, so it can't bend.")
        return [name, *([volume, reverb] if alone else [])]
    expression = (0, _control(track, channel, "expression", track.expression))
    grows = track.expression < _FULL or any(one.what == "expression" for one in track.changes)
    return [
        name,
        (0, _control(track, channel, "program", track.program)),
        volume,
        (0, _control(track, channel, "pan", track.pan)),
        reverb,
        *[expression][: int(grows)],
        *((0, bytes((0xB0 | channel, *setting))) for setting in tuning),
        *((0, bytes((0xB0 | channel, *set_))) for set_ in _SET_RANGE if track.bends),
    ]


def _control(track: Track, channel: int, what: str, value: int) -> bytes:
    number = value + 64 if what == "pan" else value
    if not 0 <= number <= 127:
        allowed = "-64 to 63" if what == "pan" else "0 to 127"
        raise BackingError(f"{track.name}: its {what} is {value}, outside the range {allowed}.")
    if what == "program":
        return bytes((0xC0 | channel, number))
    return bytes((0xB0 | channel, _CONTROLLERS[what], number))


def _changes(track: Track, channel: int, end: int, at: At, alone: bool) -> list[Event]:
    """A track's later programs and controllers: at most one of each at a tick, the last.

    Percussion has only volumes, where it is alone: its kits are chosen among those of the
    channel's other tracks.
    """
    placed = {
        (at(start_whole), what): _control(track, channel, what, value)
        for start_whole, what, value in track.changes
        if what != "level_lu" and (track.program is not None or (alone and what == "volume"))
    }
    if not all(0 <= tick <= end for tick, _ in placed):
        raise BackingError(f"{track.name}: a change of its sound is outside the song.")
    return [(tick, message) for (tick, _), message in placed.items()]


def _with_wheel(notes: list[Event], track: Track, channel: int, end: int, at: At) -> list[Event]:
    """Note events and changes with a track's bends among them, in order at each tick."""
    if not track.bends:
        return sorted(notes, key=_in_order) if track.changes else notes
    placed = {0: _WHEEL_AT_REST}  # one value at a tick, the last
    for start_whole, semitones in track.bends:
        placed[at(start_whole)] = _wheel(semitones)
    if min(placed) < 0 or max(placed) > end:
        raise BackingError(f"{track.name}: a bend is outside the song.")
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
        raise BackingError(
            f"a bend of {semitones} semitones goes past the wheel's range, {BEND_RANGE} either way."
        )
    numerator, denominator = _WHEEL_AT_REST * semitones.numerator, semitones.denominator
    steps = (2 * numerator + denominator * BEND_RANGE) // (2 * denominator * BEND_RANGE)
    return min(_WHEEL_AT_REST + steps, 0x3FFF)


def _sounding(
    tracks: Sequence[Track], channels: Sequence[int], end: int, at: At
) -> list[list[Event]]:
    """Each track's note events in order; a channel never has two notes of one pitch at once."""
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
    """Notes as (pitch, tick on, track's index, tick off, velocity), each at least a tick long."""
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
        f"{note.start_whole} to {note.end_whole} whole notes can't be written. Pitches go from "
        "0 to 127 and velocities from 1 to 127; a note ends after its start, inside the song."
    )


def _in_order(event: Event) -> tuple[int, int]:
    """At a tick, offs come first, then all that shapes the sound, then ons."""
    return event[0], (0x80, 0xC0, 0xB0, 0xE0, 0x90).index(event[1][0] & 0xF0)
