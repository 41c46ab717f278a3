"""MIDI files made by hand, field by field as the Standard MIDI File 1.0 specification names them.

`WHOLE` is the file of `FORM`, at 96 ticks a quarter: bar 1 from tick 0 to 384 at
120 quarters a minute, then two seconds of ring-out up to tick 768, and no notes.
"""

from __future__ import annotations

FORM = """\
title: T
tempo: 120
count-in: 0
parts: {click: off, bass: off, guitar: off}
sections: {a: {bars: A}}
form: [a]
"""

END = 768


def smf(
    *tracks: bytes, kind: int = 1, division: int = 96, count: int | None = None, more: bytes = b""
) -> bytes:
    """MThd with format, ntrks and division; `more` makes it longer; then an MTrk for each track."""
    count = len(tracks) if count is None else count
    fields = b"".join(number.to_bytes(2, "big") for number in (kind, count, division))
    return chunk(b"MThd", fields + more) + b"".join(chunk(b"MTrk", track) for track in tracks)


def chunk(kind: bytes, content: bytes) -> bytes:
    return kind + len(content).to_bytes(4, "big") + content


def meta(kind: int, content: bytes = b"", delta: bytes = b"\0") -> bytes:
    return delta + bytes((0xFF, kind, len(content))) + content


def at(tick: int) -> bytes:
    """A delta time of up to two bytes."""
    return bytes((0x80 | tick >> 7, tick & 0x7F))


TITLE = meta(0x03, b"T")
TEMPO = meta(0x51, bytes.fromhex("07 A1 20"))  # 500,000 microseconds a quarter
METER = meta(0x58, bytes.fromhex("04 02 18 08"))  # 4/4
MARKER = meta(0x06, b"A")
ENDED = meta(0x2F, delta=at(END))
NOW_ENDED = meta(0x2F)

CONDUCTOR = TITLE + TEMPO + METER + MARKER + ENDED
CHORDS = meta(0x03, b"Chords") + meta(0x01, b"A") + ENDED
WHOLE = smf(CONDUCTOR, CHORDS)


def with_conductor(*events: bytes) -> bytes:
    """The whole file with other events in its first track."""
    return smf(b"".join(events), CHORDS)
