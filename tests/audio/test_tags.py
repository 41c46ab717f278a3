"""Tags and cues, byte by byte for WAV and by mutagen for the others."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from mutagen.flac import FLAC
from mutagen.id3 import ID3
from mutagen.oggvorbis import OggVorbis

from backing.audio.cues import Cue, section_cues
from backing.audio.tags import Tags, write_tags
from backing.form import read_form_text
from backing.players import play
from backing.timeline import unroll

CUES = (
    Cue(Fraction(0), Fraction(5, 2), "Count-in"),
    Cue(Fraction(5, 2), Fraction(3661), "первый куплет"),
)
TAGS = Tags("雨の歌 – Ünï", "Ζωή", Fraction(193, 2), CUES)
TEXTS = {"wav": ("WAV", "PCM_16"), "flac": ("FLAC", "PCM_16"), "ogg": ("OGG", "VORBIS")}


def tagged(tmp_path: Path, format_: str, tags: Tags = TAGS, frames: int = 101) -> Path:
    path = tmp_path / f"x.{format_}"
    name, subtype = TEXTS.get(format_, ("MP3", "MPEG_LAYER_III"))
    soundfile.write(path, np.full((frames, 2), 0.25), 8000, subtype, format=name)
    write_tags(path, format_, tags, 8000)
    return path


def test_the_wav_chunks_byte_by_byte(tmp_path: Path) -> None:
    tags = Tags("Tune", "Me", Fraction(96), (Cue(Fraction(1, 4), Fraction(1), "A"),))
    path = tagged(tmp_path, "wav", tags)
    data = path.read_bytes()
    audio = 44 + 101 * 4
    assert data[:4] + data[8:16] == b"RIFFWAVEfmt "
    assert int.from_bytes(data[4:8], "little") == len(data) - 8
    assert data[audio:] == bytes.fromhex(
        "4C495354 2E000000 494E464F"  # LIST, 46 bytes, INFO
        "494E414D 05000000 54756E65 00 00"  # INAM "Tune", ended by 0, padded to even
        "49415254 03000000 4D65 00 00"  # IART "Me", padded
        "49434D54 07000000 39362062706D 00 00"  # ICMT "96 bpm", padded
        "63756520 1C000000 01000000"  # cue, 28 bytes, one point:
        "01000000 D0070000 64617461 00000000 00000000 D0070000"  # 1, at frame 2000 of "data"
        "4C495354 2E000000 6164746C"  # LIST, 46 bytes, adtl
        "6C61626C 06000000 01000000 41 00"  # labl of point 1: "A"
        "6C747874 14000000 01000000 70170000 72676E20 0000 0000 0000 0000"  # ltxt: 6000 frames
    )


def test_a_wav_without_cues_has_no_cue_chunk(tmp_path: Path) -> None:
    assert b"cue " not in tagged(tmp_path, "wav", Tags("x")).read_bytes()


def test_wav_texts_in_any_script(tmp_path: Path) -> None:
    data = tagged(tmp_path, "wav").read_bytes()
    for text in ("雨の歌 – Ünï", "Ζωή", "96.5 bpm", "первый куплет"):
        assert text.encode("utf-8") + b"\0" in data
    with soundfile.SoundFile(tmp_path / "x.wav") as file:
        assert (file.title, file.artist, file.frames) == ("雨の歌 – Ünï", "Ζωή", 101)


@pytest.mark.parametrize(("format_", "reader"), [("flac", FLAC), ("ogg", OggVorbis)])
def test_comments(format_: str, reader: Any, tmp_path: Path) -> None:
    path = tagged(tmp_path, format_)
    found = {name.upper(): texts for name, texts in reader(path).items()}
    found.pop("ENCODER", None)  # libsndfile's own, in Ogg
    assert found == {
        "TITLE": ["雨の歌 – Ünï"],
        "ARTIST": ["Ζωή"],
        "BPM": ["96.5"],
        "CHAPTER001": ["00:00:00.000"],
        "CHAPTER001NAME": ["Count-in"],
        "CHAPTER002": ["00:00:02.500"],
        "CHAPTER002NAME": ["первый куплет"],
    }
    assert soundfile.info(path).frames == 101


def test_a_clock_past_an_hour_is_rounded_once(tmp_path: Path) -> None:
    late = Cue(Fraction(3600) + Fraction(59_999_6, 10_000), Fraction(9999), "late")
    found = FLAC(tagged(tmp_path, "flac", Tags("x", cues=(late,))))
    assert found["chapter001"] == ["01:01:00.000"]


def test_mp3_chapters(tmp_path: Path) -> None:
    path = tagged(tmp_path, "mp3")
    assert path.read_bytes()[:4] == b"ID3\x03"
    id3 = ID3(path, translate=False)
    assert id3["TIT2"].text == ["雨の歌 – Ünï"]
    assert id3["TPE1"].text == ["Ζωή"]
    assert id3["TBPM"].text == ["96"]  # 96.5 to an even whole number
    assert id3["CTOC:toc"].child_element_ids == ["chp1", "chp2"]
    chapters = [id3[f"CHAP:{name}"] for name in ("chp1", "chp2")]
    assert [(c.start_time, c.end_time) for c in chapters] == [(0, 2500), (2500, 3_661_000)]
    names = [c.sub_frames["TIT2"].text[0] for c in chapters]
    assert names == ["Count-in", "первый куплет"]
    assert soundfile.info(path).frames == 101


def test_more_chapters_than_one_table_of_contents_holds(tmp_path: Path) -> None:
    cues = tuple(Cue(Fraction(n), Fraction(n + 1), str(n)) for n in range(1100))
    id3 = ID3(tagged(tmp_path, "mp3", Tags("x", cues=cues)), translate=False)
    tables = [id3[f"CTOC:{name}"] for name in id3["CTOC:toc"].child_element_ids]
    listed = [name for table in tables for name in table.child_element_ids]
    assert [id3[f"CHAP:{name}"].start_time for name in listed] == [n * 1000 for n in range(1100)]
    assert "chapter999" in FLAC(tagged(tmp_path, "flac", Tags("x", cues=cues)))


FORM = """\
title: Cues
tempo: 120
pickup: "| 1/4 A |"
count-in: 2
sections:
  verse: {bars: "| A | D |", times: 2}
  lilt: {meter: 6/8, tempo: 70, bars: "| A |"}
form: [verse, lilt]
"""


def test_the_sections_of_a_form_in_exact_seconds() -> None:
    """120: a bar of four is 2 s; 6/8 at 70 dotted quarters is 120/70 s."""
    cues = section_cues(play(unroll(read_form_text(FORM))))
    half = Fraction(1, 2)
    last = 10 + half
    starts = [2, 2 + half, 6 + half, last, last + Fraction(12, 7)]
    assert [cue.start_s for cue in cues] == [0, *starts[:-1]]
    ring_out = 2
    assert [cue.end_s for cue in cues] == [*starts[:-1], starts[-1] + ring_out]
    labels = [cue.label for cue in cues]
    assert labels[:2] == ["Count-in", "Pickup"]
    assert labels[-1] == "Lilt"
    assert len(set(labels)) == 5


def test_no_count_in_starts_at_bar_1() -> None:
    text = FORM.replace('pickup: "| 1/4 A |"\n', "")
    cues = section_cues(play(unroll(read_form_text(text), count_in=False)))
    assert cues[0].start_s == 0
    assert len(cues) == 3
