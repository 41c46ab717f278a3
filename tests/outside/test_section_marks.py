"""The sections of a song are marked in its sound file, read back by readers that are not ours.

Where they must be comes from the proof's arithmetic, which shares none with what writes them.
The readers follow the formats' own documents, byte by byte, and use nothing that wrote the tags:

- WAV: "Multimedia Programming Interface and Data Specifications 1.0", IBM and Microsoft, 1991
  (cue, LIST adtl with labl and ltxt).
- FLAC: RFC 9639, section 8.6 (Vorbis comment); Ogg: RFC 3533 (pages) and "Vorbis I
  specification", section 5 (comment header); chapters: Xiph wiki, "Chapter Extension".
- MP3: "ID3 tag version 2.3.0" and "ID3v2 Chapter Frame Addendum 1.0".
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import pytest

from backing.audio.sound_files import AudioOptions
from backing.form import read_form_text
from backing.practice.versions import PLAIN
from backing.tracks.one import Piece, make
from backing.verify import expected_of

FORM = """\
title: Marked Song
tempo: 180
count-in: 1
sections:
  verse: {bars: "| G | D |"}
  bridge: {meter: 3/4, bars: "| C | C |"}
form: [verse, {section: bridge, label: "Brücke – 橋"}, verse]
"""
RATE = 44100

#: Each section's start in seconds, and its name.
Marks = list[tuple[Fraction, str]]


def chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 0
    while at < len(data):
        name, size = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "little")
        yield name, data[at + 8 : at + 8 + size]
        at += 8 + size + size % 2


def marks_of_wav(path: Path) -> Marks:
    data = path.read_bytes()
    assert (data[:4], data[8:12]) == (b"RIFF", b"WAVE")
    assert int.from_bytes(data[4:8], "little") == len(data) - 8
    starts, names = {}, {}
    for chunk, content in chunks(data[12:]):
        if chunk == b"cue ":
            (count,) = struct.unpack_from("<I", content)
            for number in range(count):
                point, _, of, _, _, frame = struct.unpack_from("<II4sIII", content, 4 + 24 * number)
                assert of == b"data"
                starts[point] = Fraction(frame, RATE)
        if chunk == b"LIST" and content[:4] == b"adtl":
            for kind, note in chunks(content[4:]):
                if kind == b"labl":
                    text = note[4:].rstrip(b"\0").decode("utf-8")
                    names[int.from_bytes(note[:4], "little")] = text
    assert starts.keys() == names.keys()
    return [(starts[point], names[point]) for point in sorted(starts)]


def marks_in_comments(block: bytes) -> Marks:
    """Of a Vorbis comment: a vendor, then so many texts NAME=value."""

    def text(at: int) -> tuple[str, int]:
        end = at + 4 + int.from_bytes(block[at : at + 4], "little")
        return block[at + 4 : end].decode("utf-8"), end

    _, at = text(0)
    count = int.from_bytes(block[at : at + 4], "little")
    at += 4
    comments = {}
    for _ in range(count):
        comment, at = text(at)
        name, _, value = comment.partition("=")
        comments[name.upper()] = value
    marks = []
    for number in range(1, 1000):
        if f"CHAPTER{number:03d}" not in comments:
            break
        hours, minutes, seconds = comments[f"CHAPTER{number:03d}"].split(":")
        start = int(hours) * 3600 + int(minutes) * 60 + Fraction(seconds)
        marks.append((start, comments[f"CHAPTER{number:03d}NAME"]))
    return marks


def marks_of_flac(path: Path) -> Marks:
    data = path.read_bytes()
    assert data[:4] == b"fLaC"
    at, is_last = 4, False
    while not is_last:
        is_last, kind = bool(data[at] & 0x80), data[at] & 0x7F
        size = int.from_bytes(data[at + 1 : at + 4], "big")
        if kind == 4:
            return marks_in_comments(data[at + 4 : at + 4 + size])
        at += 4 + size
    return []


def marks_of_ogg(path: Path) -> Marks:
    data, at, packet, packets = path.read_bytes(), 0, b"", list[bytes]()
    while len(packets) < 2:
        assert data[at : at + 4] == b"OggS"
        segments = data[at + 27 : at + 27 + data[at + 26]]
        at += 27 + len(segments)
        for size in segments:
            packet += data[at : at + size]
            at += size
            if size < 255:
                packets.append(packet)
                packet = b""
    assert packets[1][:7] == b"\x03vorbis"
    return marks_in_comments(packets[1][7:])


def frames_of_id3(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 0
    while at + 10 <= len(data) and data[at]:
        size = int.from_bytes(data[at + 4 : at + 8], "big")
        yield data[at : at + 4], data[at + 10 : at + 10 + size]
        at += 10 + size


def marks_of_mp3(path: Path) -> Marks:
    data = path.read_bytes()
    assert data[:4] == b"ID3\x03"
    size = 0
    for byte in data[6:10]:  # seven bits each
        size = size << 7 | byte
    found, order = {}, list[bytes]()
    for kind, content in frames_of_id3(data[10 : 10 + size]):
        if kind == b"CHAP":
            element, rest = content.split(b"\0", 1)
            start = Fraction(int.from_bytes(rest[:4], "big"), 1000)
            ((title, text),) = frames_of_id3(rest[16:])
            assert (title, text[:1]) == (b"TIT2", b"\x01")
            found[element] = start, text[1:].decode("utf-16").rstrip("\0")
        if kind == b"CTOC":
            _, rest = content.split(b"\0", 1)
            assert rest[0] & 3 == 3  # the top one, in order
            order = rest[2:].split(b"\0")[: rest[1]]
    assert found.keys() == set(order)
    return [found[element] for element in order]


READERS: dict[str, tuple[Callable[[Path], Marks], Fraction]] = {
    "wav": (marks_of_wav, Fraction(1, 2 * RATE)),
    "flac": (marks_of_flac, Fraction(1, 2000)),
    "ogg": (marks_of_ogg, Fraction(1, 2000)),
    "mp3": (marks_of_mp3, Fraction(1, 2000)),
}


@pytest.mark.parametrize("kind", READERS)
def test_every_section_is_marked_where_it_starts(kind: str, tmp_path: Path) -> None:
    form = read_form_text(FORM)
    expected = expected_of(form, PLAIN, True)
    make(Piece(form, tmp_path / "song", audio=AudioOptions(kind)))
    read, within = READERS[kind]
    marks = read(tmp_path / f"song.{kind}")
    sections = [(section.start_s, section.label) for section in expected.passes]
    assert [name for _, name in marks] == ["Count-in", *(label for _, label in sections)]
    assert marks[0][0] == 0
    for (start, _), (wanted, _) in zip(marks[1:], sections, strict=True):
        assert abs(start - wanted) <= within
    assert not list(tmp_path.glob("*.txt"))
