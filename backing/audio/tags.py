"""Title, artist, tempo and section cues, in the places that each format has for them.

- WAV: LIST INFO (INAM, IART, ICMT for the tempo, which has no field), a cue chunk, and a
  LIST adtl with a name (labl) and a length (ltxt) for each cue: "Multimedia Programming Interface
  and Data Specifications 1.0", IBM and Microsoft, 1991. Texts are UTF-8 (common practice;
  the document names no Unicode).
- FLAC and Ogg: Vorbis comments TITLE, ARTIST, BPM (common practice), and
  CHAPTERxxx=hh:mm:ss.mmm with CHAPTERxxxNAME (Xiph wiki, "Chapter Extension").
- MP3: ID3v2.3 TIT2, TPE1, TBPM (whole numbers only), CHAP and CTOC ("ID3v2 Chapter Frame
  Addendum 1.0"); texts are UTF-16.
"""

from __future__ import annotations

import os
import struct
from fractions import Fraction
from pathlib import Path
from typing import Any, NamedTuple

from backing.audio.cues import Cue
from backing.text.tempo import beats_per_minute
from backing.text.times import long_clock

#: As many chapters as three digits can number.
MOST_COMMENT_CHAPTERS = 999
#: As many entries as a table of contents can have: their number is one byte.
MOST_TABLE_ENTRIES = 255


class Tags(NamedTuple):
    """The tags of a file. `bpm` is the first tempo in beats per minute."""

    title: str
    artist: str = ""
    bpm: Fraction | None = None
    cues: tuple[Cue, ...] = ()


def write_tags(path: Path, format_: str, tags: Tags, rate: int) -> None:
    """Write tags into a file that has none yet.

    Args:
        path: the encoded file; its name doesn't matter.
        format_: wav, flac, ogg or mp3.
        tags: what to write; empty texts are left out.
        rate: in Hz, for cues counted in frames.

    Raises:
        OSError: the file can't be written.
    """
    if format_ == "wav":
        _append_chunks(path, _info(tags) + _cue_chunks(tags.cues, rate))
    elif format_ == "mp3":
        _write_id3(path, tags)
    else:
        from mutagen.flac import FLAC
        from mutagen.oggvorbis import OggVorbis

        file: Any = FLAC(path) if format_ == "flac" else OggVorbis(path)
        for name, text in _comments(tags):
            file[name] = text
        file.save()


# WAV


def _append_chunks(path: Path, chunks: bytes) -> None:
    """Add chunks to the end of a RIFF file, and set its size."""
    with open(path, "r+b") as file:
        size = file.seek(0, os.SEEK_END)
        if size % 2:
            file.write(b"\0")
        file.write(chunks)
        whole = file.tell() - 8
        file.seek(4)
        file.write(struct.pack("<I", whole))


def _chunk(name: bytes, data: bytes) -> bytes:
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def _text(text: str) -> bytes:
    return text.replace("\0", " ").encode("utf-8") + b"\0"


def _info(tags: Tags) -> bytes:
    fields = [(b"INAM", tags.title), (b"IART", tags.artist), (b"ICMT", _tempo(tags, " bpm"))]
    return _chunk(b"LIST", b"INFO" + b"".join(_chunk(name, _text(s)) for name, s in fields if s))


def _cue_chunks(cues: tuple[Cue, ...], rate: int) -> bytes:
    if not cues:
        return b""
    points, notes = struct.pack("<I", len(cues)), b"adtl"
    for number, cue in enumerate(cues, start=1):
        start, end = round(cue.start_s * rate), round(cue.end_s * rate)
        points += struct.pack("<II4sIII", number, start, b"data", 0, 0, start)
        notes += _chunk(b"labl", struct.pack("<I", number) + _text(cue.label))
        length = struct.pack("<II4sHHHH", number, end - start, b"rgn ", 0, 0, 0, 0)
        notes += _chunk(b"ltxt", length)
    return _chunk(b"cue ", points) + _chunk(b"LIST", notes)


# FLAC and Ogg Vorbis


def _comments(tags: Tags) -> list[tuple[str, str]]:
    comments = [("TITLE", tags.title), ("ARTIST", tags.artist), ("BPM", _tempo(tags))]
    for number, cue in enumerate(tags.cues[:MOST_COMMENT_CHAPTERS], start=1):
        comments.append((f"CHAPTER{number:03d}", long_clock(cue.start_s)))
        comments.append((f"CHAPTER{number:03d}NAME", cue.label))
    return [(name, text) for name, text in comments if text]


def _tempo(tags: Tags, unit: str = "") -> str:
    return "" if tags.bpm is None else beats_per_minute(tags.bpm) + unit


# MP3


def _write_id3(path: Path, tags: Tags) -> None:
    from mutagen.id3 import CHAP, ID3, TBPM, TIT2, TPE1
    from mutagen.id3 import Encoding as Text

    id3: Any = ID3()
    id3.add(TIT2(encoding=Text.UTF16, text=[tags.title]))
    if tags.artist:
        id3.add(TPE1(encoding=Text.UTF16, text=[tags.artist]))
    if tags.bpm is not None:
        id3.add(TBPM(encoding=Text.LATIN1, text=[str(round(tags.bpm))]))
    ids = [f"chp{number}" for number in range(1, len(tags.cues) + 1)]
    for name, cue in zip(ids, tags.cues, strict=True):
        id3.add(
            CHAP(
                element_id=name,
                start_time=round(cue.start_s * 1000),
                end_time=round(cue.end_s * 1000),
                start_offset=0xFFFFFFFF,  # the times hold, not places in the file
                end_offset=0xFFFFFFFF,
                sub_frames=[TIT2(encoding=Text.UTF16, text=[cue.label])],
            )
        )
    if ids:
        _add_contents(id3, ids)
    id3.save(path, v2_version=3)


def _add_contents(id3: Any, ids: list[str]) -> None:
    """One table of contents, or a table of tables if there are too many chapters for one."""
    from mutagen.id3 import CTOC, CTOCFlags

    top, ordered = CTOCFlags.TOP_LEVEL | CTOCFlags.ORDERED, CTOCFlags.ORDERED
    if len(ids) > MOST_TABLE_ENTRIES:
        groups = [
            ids[at : at + MOST_TABLE_ENTRIES] for at in range(0, len(ids), MOST_TABLE_ENTRIES)
        ]
        ids = [f"toc{number}" for number in range(1, len(groups) + 1)]
        for name, group in zip(ids, groups, strict=True):
            id3.add(CTOC(element_id=name, flags=ordered, child_element_ids=group, sub_frames=[]))
    id3.add(CTOC(element_id="toc", flags=top, child_element_ids=ids, sub_frames=[]))
