"""Measuring in blocks, and the gain that follows."""

from __future__ import annotations

from math import inf, log10
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from backing.audio.loudness import Loudness, measure
from backing.audio.meter import Peak
from backing.errors import BackingError


def plucks(frames: int, seed: int) -> Any:
    """Bursts of noise that die away, as a guitar's do."""
    noise = np.random.default_rng(seed).standard_normal((frames, 2))
    return (0.1 * noise * np.exp(-(np.arange(frames) % 9000) / 2000)[:, None]).astype("f4")


def whole_peak(sound: Any, rate: int) -> float:
    return 20 * log10(Peak(rate).highest(sound, 0))


@pytest.mark.parametrize("rate", [44100, 48000, 96000])
def test_the_true_peak_in_windows_is_that_of_the_whole(rate: int) -> None:
    for seed in range(4):
        sound = plucks(60_000 + 777 * seed, seed)
        blocks = np.split(sound, [0, 5, 20_001, 50_000])
        peak = measure(blocks, rate).true_peak_db
        assert peak == pytest.approx(whole_peak(sound, rate), abs=1e-5)


@pytest.mark.parametrize("at", [*range(1000, 1026), *range(65510, 65538)])
def test_a_peak_that_comes_out_after_its_window_or_block(at: int) -> None:
    """Two samples whose peak lies between them comes out of the meter some frames later."""
    sound = np.zeros((70_000, 2), "f4")
    sound[at : at + 2] = 0.5
    whole = whole_peak(sound, 44100)
    assert whole > 20 * log10(0.55)
    peak = measure(np.split(sound, [65536]), 44100).true_peak_db
    assert peak == pytest.approx(whole, abs=1e-5)


@pytest.mark.parametrize("rate", [22050, 44100, 48000, 96000])
def test_blocks_of_any_size_measure_as_one(rate: int) -> None:
    sound = plucks(3 * rate + 123, 5)
    at_once = measure([sound], rate)
    for cuts in ([1, 2, 4409, 4410, 70_000], list(range(0, len(sound), 997))):
        pieces = measure(np.split(sound, cuts), rate)
        assert pieces == pytest.approx(at_once, abs=1e-6)


def test_a_raw_file_measures_as_its_blocks(tmp_path: Path) -> None:
    sound, raw = plucks(150_000, 9), tmp_path / "x.raw"
    raw.write_bytes(sound.astype("<f4").tobytes())
    assert measure(raw, 44100) == measure([sound], 44100)


def test_silence_and_nothing_have_no_loudness() -> None:
    silence = np.zeros((44100, 2), "f4")
    assert measure([silence], 44100) == measure([], 44100) == Loudness(-inf, -inf)


def test_too_short_to_measure_has_no_loudness() -> None:
    assert measure([plucks(4410, 1)], 44100).lufs == -inf


def test_a_raw_file_that_is_cut_or_missing(tmp_path: Path) -> None:
    raw = tmp_path / "x.raw"
    with pytest.raises(BackingError, match="there is no such file"):
        measure(raw, 44100)
    raw.write_bytes(b"\0" * 12)
    with pytest.raises(BackingError, match="cut off"):
        measure(raw, 44100)
