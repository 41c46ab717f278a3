"""The limiter: peaks come under the ceiling, smoothly, and nothing else changes."""

from __future__ import annotations

from collections.abc import Iterator
from math import log10
from typing import Any

import numpy as np
import pytest
from scipy.signal import resample_poly

from backing.audio.limiter import LOOK_AHEAD_S, RELEASE_DB_S, Limiter
from backing.audio.loudness import WINDOW, measure

RATE = 44100
CEILING_DB = -1.0


def struck(seconds: int, level: float, seed: int = 1) -> Any:
    """A held tone at -10 dB with strokes that ring for a few milliseconds, at random places."""
    draw = np.random.default_rng(seed)
    at = np.arange(seconds * RATE) / RATE
    sound = 0.3 * np.sin(2 * np.pi * 220 * at)
    for second in range(2 * seconds):
        first = int(second * RATE / 2) + int(draw.integers(0, 2000))
        ring = np.arange(min(2000, len(sound) - first))
        tone = np.sin(2 * np.pi * draw.uniform(100, 9000) * ring / RATE + draw.uniform(0, 6))
        sound[first : first + len(ring)] += level * np.exp(-ring / 300) * tone
    return np.stack([sound, 0.8 * sound], axis=1).astype("f4")


def limited(sound: Any, block: int = 1024 * WINDOW) -> tuple[Any, float]:
    """The limited sound, and the most that it was turned down."""

    def blocks() -> Iterator[Any]:
        for start in range(0, len(sound), block):
            yield sound[start : start + block]

    limiter = Limiter(RATE, CEILING_DB)
    return np.concatenate(list(limiter.limited(blocks()))), limiter.most_db


def true_peak_db(sound: Any) -> float:
    """By a foreign interpolator: 8 steps a frame."""
    return 20 * log10(float(np.abs(resample_poly(sound, 8, 1, axis=0)).max()))


@pytest.mark.parametrize("seed", range(4))
def test_peaks_come_under_the_ceiling(seed: int) -> None:
    sound = struck(6, 1.3, seed)
    out, most_db = limited(sound)
    assert true_peak_db(sound) > 1.0
    assert CEILING_DB - 0.3 < true_peak_db(out) <= CEILING_DB
    assert most_db == pytest.approx(true_peak_db(sound) - CEILING_DB, abs=0.3)


def test_what_has_no_peaks_is_unchanged_to_the_last_bit() -> None:
    sound = struck(3, 0.5)
    out, most_db = limited(sound)
    assert np.array_equal(out, sound)
    assert most_db == 0.0


@pytest.mark.parametrize("frames", [0, 1, 63, 64, 65, 1000, 65536, 65537, 70000])
def test_every_frame_comes_out_at_its_place(frames: int) -> None:
    sound = (struck(3, 1.3)[:frames] / 4).astype("f4")
    out, _ = limited(sound)
    assert np.array_equal(out, sound)


def test_blocks_of_any_size_give_the_same() -> None:
    sound = struck(4, 1.3)
    whole, _ = limited(sound)
    for block in (WINDOW, 10 * WINDOW, 333 * WINDOW):
        assert np.array_equal(limited(sound, block)[0], whole)


def test_the_gain_moves_smoothly_and_lets_go_as_fast_as_it_should() -> None:
    """One peak of 6 dB over the ceiling: down within 4 ms before it, up again at 60 dB a second."""
    sound = np.full((RATE, 2), 0.1, "f4")
    sound[RATE // 2] = 10 ** ((6 + CEILING_DB) / 20)
    out, most_db = limited(sound)
    gain_db = 20 * np.log10(out[:, 0] / sound[:, 0])
    moved = np.flatnonzero(gain_db < -0.01)
    assert RATE // 2 - moved[0] <= (LOOK_AHEAD_S + 0.002) * RATE + WINDOW
    assert np.abs(np.diff(gain_db)).max() < 0.1
    back_s = (moved[-1] - RATE // 2) / RATE
    assert back_s == pytest.approx(most_db / RELEASE_DB_S, abs=0.01)


def test_a_peak_in_the_first_frame_is_down_from_the_start() -> None:
    noise = np.sign(np.random.default_rng(3).uniform(-1, 1, (RATE, 2))).astype("f4")
    out, _ = limited(noise)
    assert measure([noise], RATE).true_peak_db > 3
    assert measure([out], RATE).true_peak_db <= CEILING_DB


def test_both_channels_get_the_same_gain() -> None:
    sound = struck(3, 1.3)
    out, _ = limited(sound)
    loud = np.abs(sound[:, 0]) > 0.01
    ratio = out[loud] / sound[loud]
    assert np.abs(ratio[:, 0] - ratio[:, 1]).max() < 1e-5
