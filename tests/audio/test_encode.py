"""Encoded files decoded again by libsndfile and, for WAV, by SciPy."""

from __future__ import annotations

import resource
import tracemalloc
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.io.wavfile
import soundfile

from backing.audio.cues import Cue
from backing.audio.encode import FORMATS, encode, measure_file
from backing.audio.song_level import gain_for
from backing.audio.tags import Tags
from backing.errors import BackingError

RATE = 44100
TAGS = Tags("Two Chords", "A Teacher", Fraction(96), (Cue(Fraction(0), Fraction(1), "verse"),))
FRAMES = 3 * RATE + 17


def sound(level: float = 0.1) -> Any:
    """A tone that is cut each half second, silent in its second second."""
    at = np.arange(FRAMES)
    left = np.sin(at * 2 * np.pi * 440 / RATE) * np.exp(-(at % 22050) / 8000)
    left[RATE : 2 * RATE] = 0
    return (level * np.stack([left, -left / 2], axis=1)).astype("<f4")


def raw_file(tmp_path: Path, samples: Any) -> Path:
    path = tmp_path / "mix.raw"
    path.write_bytes(samples.astype("<f4").tobytes())
    return path


@pytest.mark.parametrize("format_", FORMATS)
def test_it_gets_its_loudness_and_keeps_its_length(format_: str, tmp_path: Path) -> None:
    raw, target = raw_file(tmp_path, sound()), tmp_path / f"x.{format_}"
    gain = gain_for(raw, RATE, target_lufs=-20.0)
    done = encode(raw, RATE, target, format_, gain.db, TAGS)
    assert done.lufs == pytest.approx(-20.0, abs=0.3 if format_ in ("ogg", "mp3") else 0.01)
    assert done.true_peak_db <= -1.0
    assert done.frames == FRAMES
    assert measure_file(target) == (FRAMES, (done.lufs, done.true_peak_db))
    assert soundfile.info(target).format == FORMATS[format_].name
    assert sorted(path.name for path in tmp_path.iterdir()) == ["mix.raw", target.name]


@pytest.mark.parametrize("format_", FORMATS)
def test_the_same_sound_gives_the_same_bytes(format_: str, tmp_path: Path) -> None:
    raw, paths = raw_file(tmp_path, sound()), [tmp_path / "a", tmp_path / "b"]
    for path in paths:
        encode(raw, RATE, path, format_, -3.0, TAGS)
    assert paths[0].read_bytes() == paths[1].read_bytes()


@pytest.mark.parametrize("format_", ["ogg", "mp3"])
def test_a_lossy_file_over_the_ceiling_is_encoded_again_lower(format_: str, tmp_path: Path) -> None:
    noise = np.random.default_rng(3).uniform(-1, 1, (FRAMES, 2))
    raw = raw_file(tmp_path, np.sign(noise) * 0.5)
    free = encode(raw, RATE, tmp_path / "free", format_, 0.0, TAGS, ceiling_db=None)
    held = encode(raw, RATE, tmp_path / "held", format_, 0.0, TAGS, ceiling_db=-6.0)
    assert free.true_peak_db > -6.0
    assert held.lufs < free.lufs
    assert -7.5 < held.true_peak_db <= -6.0


@pytest.mark.parametrize(("subtype", "step"), [("PCM_16", 2**-15), ("PCM_24", 2**-23)])
@pytest.mark.parametrize("format_", ["wav", "flac"])
def test_no_sample_is_off_by_more_than_its_bits(
    format_: str, subtype: str, step: float, tmp_path: Path
) -> None:
    raw, target = raw_file(tmp_path, sound()), tmp_path / "x"
    encode(raw, RATE, target, format_, 0.0, TAGS, subtype)
    heard, _ = soundfile.read(target, dtype="float64")
    off = heard - sound().astype("f8")
    assert np.abs(off).max() <= 1.5 * step
    assert not heard[RATE : 2 * RATE].any()  # silence stays silent under dither
    assert soundfile.info(target).subtype == subtype


def test_dither_leaves_no_trace_of_the_tone_in_the_error(tmp_path: Path) -> None:
    """A tone below one bit is heard through its dither; rounding alone would lose it."""
    tone = 0.4 * 2**-15 * np.sin(np.arange(FRAMES) * 2 * np.pi * 441 / RATE)
    raw = raw_file(tmp_path, np.stack([tone, tone], axis=1))
    encode(raw, RATE, tmp_path / "x", "wav", 0.0, TAGS)
    heard, _ = soundfile.read(tmp_path / "x")
    assert np.dot(heard[:, 0], tone) / np.dot(tone, tone) == pytest.approx(1.0, abs=0.1)


def test_another_reader_reads_the_same_wav(tmp_path: Path) -> None:
    raw, target = raw_file(tmp_path, sound()), tmp_path / "x.wav"
    encode(raw, RATE, target, "wav", 0.0, TAGS)
    with pytest.warns(scipy.io.wavfile.WavFileWarning, match="not understood"):
        rate, heard = scipy.io.wavfile.read(target)  # it passes over the cue chunk, aloud
    assert rate == RATE
    assert np.array_equal(heard, soundfile.read(target, dtype="int16")[0])


def test_memory_does_not_grow_with_the_length(tmp_path: Path) -> None:
    raw = tmp_path / "mix.raw"
    with open(raw, "wb") as file:
        file.truncate(60 * RATE * 8)  # 21 MB of silence
    tracemalloc.start()
    encode(raw, RATE, tmp_path / "x.wav", "wav", 0.0, TAGS)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 10e6


@pytest.mark.parametrize("format_", FORMATS)
def test_a_full_disk_leaves_what_was_there(format_: str, tmp_path: Path) -> None:
    noise = np.random.default_rng(1).uniform(-0.5, 0.5, (FRAMES, 2))
    raw, target = raw_file(tmp_path, noise), tmp_path / "x"
    target.write_bytes(b"before")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, hard))
    try:
        with pytest.raises(BackingError, match=r"x: (can't be|only \d+ of \d+ frames)"):
            encode(raw, RATE, target, format_, 0.0, TAGS)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert target.read_bytes() == b"before"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["mix.raw", "x"]


def test_what_is_refused(tmp_path: Path) -> None:
    raw, target = raw_file(tmp_path, sound()), tmp_path / "x"
    with pytest.raises(BackingError, match="wav, flac, ogg, mp3"):
        encode(raw, RATE, target, "aiff", 0.0, TAGS)
    with pytest.raises(BackingError, match="not written as PCM_24"):
        encode(raw, RATE, target, "mp3", 0.0, TAGS, "PCM_24")
    with pytest.raises(BackingError, match="can't be written"):
        encode(raw, 12345, target, "mp3", 0.0, TAGS)
    broken = tmp_path / "x.wav"
    broken.write_bytes(b"RIFF0000WAVE")
    with pytest.raises(BackingError, match="can't be read"):
        measure_file(broken)
    soundfile.write(broken, np.zeros((100, 1)), RATE)
    with pytest.raises(BackingError, match="1 channels instead of 2"):
        measure_file(broken)
    assert not target.exists()
