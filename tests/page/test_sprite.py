"""The page's samples, decoded again: in tune, in their places, with inaudible loops."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from backing.audio.engines import choose
from backing.audio.soundfonts import bundled
from backing.page.notes import SampleKey
from backing.page.sample_shaping import MOST_RELEASE_S, one_channel
from backing.page.sprite import (
    GAP_S,
    MARKER_S,
    MOST_DRUM_S,
    MOST_S,
    MOST_TOGETHER_S,
    PEAK,
    Sprite,
    _lengths,
    sprite,
)

STEEL, BASS, ORGAN, STRINGS, KICK, HAT = 25, 33, 16, 48, 36, 42
NEEDS = {
    SampleKey(STEEL, 52, 70): 2.0,
    SampleKey(STEEL, 64, 100): 60.0,
    SampleKey(BASS, 33, 100): 3.0,
    SampleKey(ORGAN, 60, 70): 9.0,
    SampleKey(STRINGS, 67, 70): 9.0,
    SampleKey(None, KICK, 100): 0.1,
    SampleKey(None, HAT, 70): 0.1,
}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Sprite:
    folder = tmp_path_factory.mktemp("raw")
    return sprite(NEEDS, ["wood", "sticks"], bundled(), choose(), folder)


@pytest.fixture(scope="module")
def decoded(made: Sprite) -> Any:
    samples, rate = soundfile.read(BytesIO(made.encoded), dtype="float32")
    assert rate == made.rate
    assert samples.ndim == 1
    return samples


def piece(made: Sprite, decoded: Any, number: int) -> Any:
    entry = made.table[number]
    start = round(entry["at"] * made.rate)
    return decoded[start : start + round(entry["length"] * made.rate)]


def test_the_marker_is_where_the_page_expects_it(made: Sprite, decoded: Any) -> None:
    head = np.abs(decoded[: made.rate // 5])
    assert int(np.argmax(head)) == round(MARKER_S * made.rate)
    around = np.delete(head, np.arange(-40, 41) + int(np.argmax(head)))
    assert head.max() > 0.6
    assert around.max() < 0.05


def hertz(samples: Any, rate: int, near: float) -> float:
    """The frequency within a quarter tone of `near` that samples repeat with the most."""
    part = samples[rate // 20 : rate // 20 + rate]
    size = 1 << (2 * len(part)).bit_length()
    again = np.fft.irfft(np.abs(np.fft.rfft(part, size)) ** 2)
    lags = np.arange(int(rate / near * 0.97), int(rate / near * 1.03) + 2)
    best = int(lags[np.argmax(again[lags])])
    before, at, after = again[best - 1 : best + 2]
    return float(rate / (best + (before - after) / (2 * (before - 2 * at + after))))


def test_each_sample_sounds_its_pitch(made: Sprite, decoded: Any) -> None:
    for number, key in enumerate(NEEDS):
        entry = made.table[number]
        if key.program is None:
            assert entry["pitch"] is None
            continue
        assert entry["pitch"] == key.pitch
        at_pitch = 440 * 2 ** ((key.pitch - 69) / 12)
        cents = 1200 * np.log2(hertz(piece(made, decoded, number), made.rate, at_pitch) / at_pitch)
        assert abs(cents) < 15, (key, cents)


def test_samples_start_at_once_and_die_away(made: Sprite, decoded: Any) -> None:
    for number, key in enumerate(NEEDS):
        entry, samples = made.table[number], piece(made, decoded, number)
        assert np.abs(samples).max() == pytest.approx(PEAK, rel=0.15), key
        heard = np.nonzero(np.abs(samples) > 0.05 * PEAK)[0][0] / made.rate
        assert heard < (0.15 if entry["loop"] else 0.02), key
        if entry["loop"] is None:
            assert np.abs(samples[-made.rate // 200 :]).max() < 0.02, key
        gap = decoded[round((entry["at"] + entry["length"]) * made.rate) :][
            : int(GAP_S * made.rate)
        ]
        assert np.abs(gap[len(gap) // 2 :]).max(initial=0.0) < 0.02, key


def test_only_held_sounds_loop_and_loops_are_inaudible(made: Sprite, decoded: Any) -> None:
    """What leads up to the loop's end is what leads up to its start, but for the encoding."""
    for number, key in enumerate(NEEDS):
        entry = made.table[number]
        assert (entry["loop"] is not None) == (key.program in (ORGAN, STRINGS))
        if entry["loop"] is None:
            continue
        start, end = (round(at * made.rate) for at in entry["loop"])
        assert end - start > 1.5 * made.rate
        into_start, into_end = decoded[start - 400 : start], decoded[end - 400 : end]
        apart = np.sqrt(np.mean((into_end - into_start) ** 2) / np.mean(into_start**2))
        assert apart < 0.08, key
        looped = decoded[start:end]
        level = np.sqrt(
            np.mean(looped[: len(looped) // 4410 * 4410].reshape(-1, 4410) ** 2, axis=1)
        )
        faded = np.sqrt(np.mean(looped[-8820:] ** 2))
        assert level.min() * 0.9 < faded < level.max() * 1.1, key


def test_samples_are_no_longer_than_needed(made: Sprite) -> None:
    for entry, key in zip(made.table, NEEDS, strict=True):
        if key.program is None:
            assert entry["length"] <= MOST_DRUM_S
        elif entry["loop"] is None:
            assert entry["length"] <= min(MOST_S, NEEDS[key] + MOST_RELEASE_S)


def test_many_samples_share_the_time_that_there_is() -> None:
    needs = {
        SampleKey(STEEL, pitch, layer): 30.0 for pitch in range(30, 90) for layer in (40, 70, 100)
    }
    lengths = _lengths(needs)
    assert 0.9 * MOST_TOGETHER_S < sum(lengths.values()) <= MOST_TOGETHER_S
    assert min(lengths.values()) > 1


def test_clicks_are_exact_from_their_first_sample(made: Sprite) -> None:
    pcm = np.frombuffer(made.clicks, "<i2").astype(float)
    assert set(made.click_places) == {"wood", "sticks"}
    wood = made.click_places["wood"]
    assert wood["accent"] != wood["plain"]
    for places in made.click_places.values():
        for first, count in places.values():
            sound = np.abs(pcm[first : first + count])
            assert sound.max() == 32767
            assert sound[0] >= 0.01 * 32767
            assert count < made.rate
    sticks = made.click_places["sticks"]
    assert sticks["accent"] == sticks["plain"]


def test_the_same_needs_give_the_same_bytes(made: Sprite, tmp_path: Path) -> None:
    again = sprite(NEEDS, ["wood", "sticks"], bundled(), choose(), tmp_path)
    assert list(tmp_path.iterdir()) == []
    assert again.encoded == made.encoded
    assert again.clicks == made.clicks
    assert again.table == made.table


def test_clicks_are_the_same_with_and_without_samples(made: Sprite, tmp_path: Path) -> None:
    alone = sprite({}, ["wood", "sticks"], bundled(), choose(), tmp_path)
    assert alone.click_places == made.click_places
    there, here = (np.frombuffer(one.clicks, "<i2").astype(int) for one in (made, alone))
    assert np.abs(there - here).max() <= 3


@pytest.mark.parametrize("likeness", [1.0, 0.5, 0.0, -0.4, -0.8, -1.0])
def test_two_channels_made_one_keep_their_power(likeness: float) -> None:
    """Also where their sum would cancel most of it or all, as in wide strings."""
    noise = np.random.default_rng(1).standard_normal((2, 44100)).astype("f4")
    left = noise[0]
    right = 0.8 * (likeness * left + np.sqrt(1 - likeness**2) * noise[1])
    stereo = np.stack([left, right], axis=1)
    one = stereo @ one_channel(stereo)
    assert np.mean(one**2) == pytest.approx(np.mean(stereo**2), rel=1e-3)


def test_silence_stays_silence() -> None:
    stereo = np.zeros((100, 2), "f4")
    assert not np.any(stereo @ one_channel(stereo))
