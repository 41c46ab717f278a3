"""The notes and meta events of a Standard MIDI File, read as its specification says.

Source: MIDI Manufacturers Association, "Standard MIDI Files 1.0" (RP-001, 1996). This reader
shares nothing with the writer in `backing/midi/`, nor with the library that the second reader
is built on, so none of their mistakes can hide here.

A file is read only if nothing in it has to be guessed. As the specification requires, a longer
header, unknown chunks, and unknown or longer meta events are skipped. A track without an
end-of-track event ends with its last event. Of channel events notes, programs, controllers and
the pitch wheel are kept; the others and system exclusive events are skipped. Ticks count from
the start of the file. Time and memory grow with the file's size and with nothing else.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator
from typing import NamedTuple, TypeAlias

from backing.errors import BackingError

TEXT, TRACK_NAME, LYRIC, MARKER, END_OF_TRACK = 1, 3, 5, 6, 0x2F
TEMPO, TIME_SIGNATURE, KEY_SIGNATURE = 0x51, 0x58, 0x59

#: The meta events that are kept, each with the fewest bytes that it must have.
_KEPT = {
    TEXT: 0,
    TRACK_NAME: 0,
    LYRIC: 0,
    MARKER: 0,
    TEMPO: 3,
    TIME_SIGNATURE: 4,
    KEY_SIGNATURE: 2,
}

_NAMES = {TEMPO: "tempo", TIME_SIGNATURE: "time signature", KEY_SIGNATURE: "key signature"}

#: More than any form has; this many take about two seconds.
MOST_METAS = 150_000
#: Far more than any program writes; each takes its time to compare with every part.
MOST_TRACKS = 1_000

#: Programs, controllers and pitch wheels, which take longest; this many take about two seconds.
MOST_SETTINGS = 250_000

#: What files of other kinds start with: the bytes, their place, and a sentence.
_OTHER_KINDS = (
    (b"RMID", 8, "it is MIDI wrapped in a RIFF file"),
    (b"WAVE", 8, "it is a WAV file"),
    (b"fLaC", 0, "it is a FLAC file"),
    (b"OggS", 0, "it is an Ogg file"),
    (b"ID3", 0, "it is an MP3 file"),
)

Meta: TypeAlias = "tuple[int, int, bytes]"
"""Tick, kind and content."""


class Track(NamedTuple):
    """A track's notes, settings and meta events in the file's order, and the tick where it ends.

    Settings are programs, controllers and pitch wheels: the tick, the status and two data
    bytes. A program has one, and then how many note events come before it in the track.
    """

    note_ticks: array[int]
    note_bytes: bytearray
    """Channel, pitch and velocity of every note, one after the other; there may be millions."""
    settings: list[tuple[int, int, int, int]]
    metas: list[Meta]
    end: int

    def notes(self) -> Iterator[tuple[int, int, int, int]]:
        """Tick, channel, pitch and velocity of each note event; a velocity of 0 ends a note."""
        each = self.note_bytes
        return zip(self.note_ticks, each[::3], each[1::3], each[2::3], strict=True)


class MidiFile(NamedTuple):
    """A file of type 0 or 1, or of type 2 with a single track."""

    ticks_per_quarter: int
    tracks: list[Track]


class _Fault(Exception):
    """Why a track can't be read, and where in its bytes."""

    def __init__(self, at: int, why: str) -> None:
        super().__init__(why)
        self.at = at


def read_midi(data: bytes) -> MidiFile:
    """Read a file's bytes.

    Raises:
        BackingError: they aren't a whole MIDI file, or its time can't be counted in quarters:
            it is of type 2 with several tracks, or counts in frames.
    """
    at, count, ticks_per_quarter = _header(data)
    tracks: list[Track] = []
    metas: list[Meta] = []
    settings = 0
    while len(tracks) < count:
        if at == len(data):
            raise _unreadable(f"its header says {_tracks(count)}, and it holds {len(tracks)}")
        start, end = at + 8, at + 8 + int.from_bytes(data[at + 4 : at + 8], "big")
        if max(start, end) > len(data):
            raise _unreadable(f"cut short at byte {len(data)}, in track {len(tracks) + 1}")
        if data[at : at + 4] == b"MTrk":
            if len(tracks) == MOST_TRACKS:
                raise _incomparable(f"it has more than {MOST_TRACKS:,} tracks")
            try:
                tracks.append(_track(data[start:end], metas))
            except _Fault as fault:
                place = f"at byte {start + fault.at}, in track {len(tracks) + 1}"
                raise _unreadable(f"{place}, {fault}") from None
            settings += len(tracks[-1].settings)
            if settings > MOST_SETTINGS:
                raise _incomparable(f"it has more than {MOST_SETTINGS:,} programs and controllers")
        at = end
    return MidiFile(ticks_per_quarter, tracks)


def _header(data: bytes) -> tuple[int, int, int]:
    """Where the first track starts, how many there are, and the ticks a quarter."""
    if not data:
        raise _unreadable("it is empty")
    if data[:4] != b"MThd"[: len(data)]:
        raise _unreadable(_other_kind(data))
    length = int.from_bytes(data[4:8], "big")
    if len(data) < max(14, 8 + length):
        raise _unreadable(f"cut short at byte {len(data)}, in the header")
    if length < 6:
        raise _unreadable(f"its header has {length} bytes, not 6 or more")
    kind, count, division = (int.from_bytes(data[i : i + 2], "big") for i in (8, 10, 12))
    if kind > 2:
        raise _unreadable(f"its header says type {kind}; there are types 0, 1 and 2")
    if kind == 2 and count > 1:  # one alone is what type 0 would hold
        raise _incomparable("it is of type 2, whose tracks are separate pieces")
    if division & 0x8000:
        raise _incomparable("it counts time in frames, not in ticks a quarter note")
    if not division:
        raise _unreadable("its header says 0 ticks a quarter note")
    return 8 + length, count, division


def _other_kind(data: bytes) -> str:
    for mark, at, sentence in _OTHER_KINDS:
        if data[at : at + len(mark)] == mark:
            return sentence
    return "it doesn't start with MThd, as every MIDI file does"


def _track(body: bytes, metas: list[Meta]) -> Track:
    """A track chunk's events; its meta events are added to `metas`, after earlier tracks'.

    Raises:
        _Fault: at an event that can't be read.
    """
    ticks, sounds, first = array("q"), bytearray(), len(metas)
    settings: list[tuple[int, int, int, int]] = []
    at = start = tick = status = 0
    try:
        while at < len(body):
            start = at
            delta = body[at]
            at += 1
            if delta > 0x7F:
                delta, at = _number(body, start)
            tick += delta
            if body[at] > 0x7F:
                status = body[at]
                at += 1
            elif not status:
                raise _Fault(start, "an event has no status byte")
            if status >= 0xF0:
                at = _long_event(body, at, status, tick, metas)
                status = 0  # these events end running status
            elif status & 0xE0 == 0xC0:  # program change, channel pressure: one byte
                at += 1
                if body[at - 1] > 0x7F:
                    raise _Fault(start, "an event is cut off by the next one")
                if status < 0xD0:
                    settings.append((tick, status, body[at - 1], len(ticks)))
            else:
                pitch, velocity = body[at], body[at + 1]
                at += 2
                if (pitch | velocity) > 0x7F:
                    raise _Fault(start, "an event is cut off by the next one")
                if status < 0xA0:
                    ticks.append(tick)
                    sounds += bytes((status & 0x0F, pitch, velocity if status >= 0x90 else 0))
                elif status >= 0xB0:
                    settings.append((tick, status, pitch, velocity))
    except IndexError:
        raise _Fault(start, "an event goes on past the end of the track") from None
    return Track(ticks, sounds, settings, metas[first:], tick)


def _long_event(body: bytes, at: int, status: int, tick: int, metas: list[Meta]) -> int:
    """Read past a meta or system exclusive event, keeping what is needed; where the next starts."""
    start = at
    kind = -1
    if status == 0xFF:
        kind = body[at]
        at += 1
    elif status not in (0xF0, 0xF7):
        raise _Fault(
            start - 1, f"an event has the status {status:02X}, which isn't allowed in a file"
        )
    length, at = _number(body, at)
    end = at + length
    if end > len(body):
        raise IndexError
    if kind == END_OF_TRACK and end < len(body):
        raise _Fault(start - 1, "events follow the end of the track")
    if kind in _KEPT:
        if length < _KEPT[kind]:
            what = _NAMES[kind]
            raise _Fault(start - 1, f"a {what} has {length} bytes, not {_KEPT[kind]}")
        if len(metas) == MOST_METAS:
            raise _Fault(start - 1, f"there are more than {MOST_METAS:,} texts and tempos")
        metas.append((tick, kind, body[at:end]))
    return end


def _number(body: bytes, at: int) -> tuple[int, int]:
    """A variable-length quantity of at most four bytes, and the place of the next byte."""
    number = 0
    for place in range(at, at + 4):
        byte = body[place]
        number = number << 7 | byte & 0x7F
        if byte < 0x80:
            return number, place + 1
    raise _Fault(at, "a number is longer than four bytes")


def _tracks(count: int) -> str:
    return f"{count} track{'s' * (count != 1)}"


def _incomparable(why: str) -> BackingError:
    return BackingError(f"it can't be compared with a form: {why}.")


def _unreadable(why: str) -> BackingError:
    return BackingError(f"it can't be read as MIDI: {why}.")
