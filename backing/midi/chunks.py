"""The grammar of a Standard MIDI File: chunks, delta times, meta events.

Source: the Standard MIDI File 1.0 specification (MIDI Manufacturers Association, RP-001).

An event is a pair (tick, message): the tick from the start of the file, the message with its
status byte.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeAlias

from backing.errors import BackingError

TEXT, TRACK_NAME, LYRIC, MARKER, END_OF_TRACK = 0x01, 0x03, 0x05, 0x06, 0x2F
TEMPO, METER, KEY = 0x51, 0x58, 0x59
LONGEST_DELTA = 0x0FFFFFFF

Event: TypeAlias = "tuple[int, bytes]"


def header_chunk(tracks: int, ticks_per_quarter: int) -> bytes:
    """The first chunk of a type 1 file."""
    fields = (6, 4), (1, 2), (tracks, 2), (ticks_per_quarter, 2)
    return b"MThd" + b"".join(value.to_bytes(size, "big") for value, size in fields)


def track_chunk(events: Iterable[Event], end: int) -> bytes:
    """One track: events in order of tick, then the end of track at tick `end`.

    A channel message whose status is that of the message before it leaves it out.

    Raises:
        BackingError: events are out of order or after `end`.
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
    body += variable_length(end - now) + meta(END_OF_TRACK)
    return b"MTrk" + len(body).to_bytes(4, "big") + body


def variable_length(number: int) -> bytes:
    """A number of 0 to 0x0FFFFFFF, seven bits a byte, all bytes but the last with the top bit set.

    Raises:
        BackingError: it is outside that range.
    """
    if not 0 <= number <= LONGEST_DELTA:
        raise BackingError(
            f"a step of {number} ticks doesn't fit into a MIDI file. "
            f"Events go forward, by at most {LONGEST_DELTA} ticks."
        )
    out = [number & 0x7F]
    while number := number >> 7:
        out.append(0x80 | number & 0x7F)
    return bytes(reversed(out))


def meta(kind: int, content: bytes = b"") -> bytes:
    """A meta event's message: FF, its kind, its length and its content."""
    return bytes((0xFF, kind)) + variable_length(len(content)) + content


def text_event(kind: int, text: str) -> bytes:
    """A meta event that holds a text in UTF-8."""
    return meta(kind, text.encode("utf-8"))
