"""Built MIDI files damaged at random: bytes, fields and events changed, cut, doubled and moved.

A mutant has a number: the same number gives the same bytes as long as the forms stay the same.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from random import Random
from typing import NamedTuple

from midi_files import FORM, chunk

from backing.form import read_form_text
from backing.tracks.one import midi_of

SHORT = """\
title: Short
tempo: 92
capo: 2
sections:
  verse: {bars: "| A | D / F#m(push) E |", tempo: {to: 60, over: 1}}
  close: {meter: 3/4, bars: "| Bm | A(ring) |", parts: {click: {subdivide: 1/8}}}
form: [verse, close]
"""

#: Bytes that mean something: statuses, meta kinds, the edges of numbers.
TELLING = bytes.fromhex(
    "00 01 03 06 20 2F 51 54 58 59 7F 80 81 90 9F A0 B0 C0 D0 E0 F0 F4 F7 F8 FE FF"
)


class Source(NamedTuple):
    form: str
    data: bytes


@cache
def sources() -> tuple[Source, ...]:
    """Short forms, and a demo with more in it; each with the file that is built from it."""
    here = Path(__file__).resolve().parent
    texts = [FORM, SHORT, SHORT, (here.parent / "forms" / "starter.yaml").read_text("utf-8")]
    return tuple(Source(text, midi_of(read_form_text(text))) for text in texts)


def mutant(number: int) -> tuple[Source, bytes]:
    """The mutant with a number, and what it was made from."""
    dice = Random(number)
    source = dice.choice(sources())
    damage = dice.choice((_bytes, _bytes, _cut, _header, _metas, _metas, _chunks, _events))
    return source, damage(dice, bytearray(source.data))


def _bytes(dice: Random, data: bytearray) -> bytes:
    """Some bytes changed, removed, inserted or doubled."""
    for _ in range(dice.choice((1, 1, 1, 2, 5, 40))):
        at, long = dice.randrange(len(data) or 1), dice.choice((1, 1, 3, 20))
        match dice.randrange(5):
            case 0:
                data[at : at + 1] = bytes([dice.randrange(256)])
            case 1:
                data[at : at + 1] = bytes([dice.choice(TELLING)])
            case 2:
                del data[at : at + long]
            case 3:
                data[at:at] = dice.randbytes(long)
            case _:
                data[at:at] = data[at : at + long] * dice.choice((1, 2, 30))
    return bytes(data)


def _cut(dice: Random, data: bytearray) -> bytes:
    """The end cut off, or other bytes after it."""
    at = dice.randrange(len(data))
    return bytes(data[:at]) + dice.choice((b"", b"", b"\0" * 50, b"\xff" * 5000, bytes(data)))


def _header(dice: Random, data: bytearray) -> bytes:
    """Format, number of tracks, division or the header's length changed."""
    at = dice.choice((6, 8, 10, 12))
    values = (0, 1, 2, 3, 5, 8, 24, 96, 480, 0x7FFF, 0x8000, 0xE728, 0xFFFF)
    data[at : at + 2] = dice.choice(values).to_bytes(2, "big")
    return bytes(data)


def _metas(dice: Random, data: bytearray) -> bytes:
    """A meta event's kind, length or content changed."""
    places = [at for at in range(len(data) - 4) if data[at] == 0xFF and data[at + 1] < 0x80]
    for at in dice.sample(places, min(len(places), dice.choice((1, 1, 3)))):
        kinds = bytes.fromhex("00 01 03 05 06 20 21 2F 51 54 58 59 7F")
        match dice.randrange(4):
            case 0:
                data[at + 1] = dice.choice(kinds)
            case 1:
                data[at + 2] = dice.choice((0, 1, 2, 3, 4, 5, 0x7F, 0x80))
            case 2:
                data[at + 3 : at + 3 + data[at + 2]] = bytes(data[at + 2])
            case _:
                data[at + 3 : at + 3 + data[at + 2]] = dice.randbytes(data[at + 2])
    return bytes(data)


def _chunks(dice: Random, data: bytearray) -> bytes:
    """Chunks dropped, doubled, swapped, emptied, renamed or of another length."""
    head, chunks, at = bytes(data[:14]), [], 14
    while at < len(data):
        size = int.from_bytes(data[at + 4 : at + 8], "big")
        chunks.append(bytes(data[at : at + 8 + size]))
        at += 8 + size
    index = dice.randrange(len(chunks))
    other = dice.choice(
        (b"", b"\0\xff\x2f\0", b"\0\xff\x03\x04Bass\0\x90\x3c\x40", dice.randbytes(9))
    )
    match dice.randrange(6):
        case 0:
            del chunks[index]
        case 1:
            chunks.insert(index, chunks[index])
        case 2:
            dice.shuffle(chunks)
        case 3:
            chunks[index] = chunk(b"MTrk", other)
        case 4:
            chunks.insert(index, chunk(dice.choice((b"XFIH", b"MTrk", b"mtrk")), other))
        case _:
            size = dice.choice((0, 1, len(chunks[index]), 1 << 31, 0xFFFFFFFF))
            chunks[index] = b"MTrk" + size.to_bytes(4, "big") + chunks[index][8:]
    if dice.random() < 0.5:
        head = head[:10] + len(chunks).to_bytes(2, "big") + head[12:]
    return head + b"".join(chunks)


def _events(dice: Random, data: bytearray) -> bytes:
    """A track more, of events at random, most of them whole."""
    body = b"".join(_event(dice) for _ in range(dice.choice((1, 5, 50, 400))))
    count = int.from_bytes(data[10:12], "big") + 1
    data[10:12] = count.to_bytes(2, "big")
    return bytes(data) + chunk(b"MTrk", body + dice.choice((b"", b"\0\xff\x2f\0")))


def _event(dice: Random) -> bytes:
    delta = dice.choice((b"\0", b"\0", b"\x60", b"\x87\x40", b"\xff\xff\xff\x7f"))
    low = lambda: dice.randrange(128)  # noqa: E731
    match dice.randrange(6):
        case 0 | 1:
            return delta + bytes((dice.choice((0x80, 0x90, 0xA0, 0xB0, 0xE0)), low(), low()))
        case 2:
            return delta + bytes((dice.choice((0xC1, 0xD2)), low()))
        case 3:
            kind, size = dice.choice((1, 3, 6, 0x20, 0x51, 0x58, 0x59, 0x7F)), dice.randrange(6)
            return delta + bytes((0xFF, kind, size)) + dice.randbytes(size)
        case 4:
            size = dice.randrange(9)
            return delta + bytes((dice.choice((0xF0, 0xF7)), size)) + dice.randbytes(size)
        case _:
            return delta + bytes((low(), low()))
