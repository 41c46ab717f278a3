"""The guitar part's pitches as they sound, against equal temperament.

Sources: ISO 16 (A above middle C is 440 Hz); equal temperament, 2^(1/12) a semitone; a
guitar's open strings E2 A2 D3 G3 B3 E4 (common practice). The tolerance is 8 cents, as
banks themselves are up to 6.5 off.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from backing.audio.engines import ENGINES
from backing.audio.render import render
from backing.audio.soundfonts import bundled
from backing.score import Note, Score, TempoChange, Track

STRINGS = {"E2": 40, "A2": 45, "D3": 50, "G3": 55, "B3": 59, "E4": 64}
TOLERANCE_CENTS = 8
STEEL_GUITAR = 25  # General MIDI program 26, counted from 0


def sounding(midi: int, pitch_hz: int, folder: Path) -> float:
    """A rendered note's pitch in Hz: the partial nearest to its fundamental, by phase."""
    note = Note(Fraction(0), Fraction(1), midi, 100)
    track = Track("guitar", "Guitar", STEEL_GUITAR, 100, 0, (note,))
    tempos = (TempoChange(Fraction(0), Fraction(120)),)
    score = Score("Note", (track,), tempos, (), (), (), (), Fraction(1), Fraction(pitch_hz))
    made = render(score, folder, bundled(), ENGINES[0])
    samples = np.fromfile(made.mix, "<f4")[::2].astype("f8")
    return frequency(samples[13230:66150], made.rate, pitch_hz * 2 ** ((midi - 69) / 12))


def frequency(samples: np.ndarray, rate: int, near: float) -> float:
    """A sine's frequency near one (within 10 Hz), from its phase's advance in 50 ms."""
    hop = rate // 20
    length = len(samples) - hop
    window = np.hanning(length)
    for _ in range(4):
        wave = np.exp(-2j * np.pi * near * np.arange(length) / rate) * window
        first, second = samples[:length] @ wave, samples[hop:] @ wave
        second *= np.exp(-2j * np.pi * near * hop / rate)
        near += float(np.angle(second / first)) / (2 * np.pi) * rate / hop
    return near


@pytest.mark.parametrize("hz", [82.4, 110.0, 329.6])
def test_the_measure_itself_is_right_within_a_tenth_of_a_cent(hz: float) -> None:
    tone = np.sin(2 * np.pi * hz * np.arange(52920) / 44100)
    assert abs(1200 * np.log2(frequency(tone, 44100, hz * 2 ** (7 / 1200)) / hz)) < 0.1


@pytest.mark.parametrize("pitch_hz", [440, 442])
@pytest.mark.parametrize("string", STRINGS)
def test_each_string_sounds_within_8_cents(string: str, pitch_hz: int, tmp_path: Path) -> None:
    midi = STRINGS[string]
    equal = pitch_hz * 2 ** ((midi - 69) / 12)
    cents = 1200 * np.log2(sounding(midi, pitch_hz, tmp_path) / equal)
    print(f"{string} at {pitch_hz}: {cents:+.2f} cents")
    assert abs(cents) <= TOLERANCE_CENTS


@pytest.mark.parametrize("pitch_hz", [415, 428, 442, 466])
@pytest.mark.parametrize("string", STRINGS)
def test_another_pitch_is_as_far_from_440_as_it_should_be(
    string: str, pitch_hz: int, tmp_path: Path
) -> None:
    """442 Hz is 7.85 cents up. FluidSynth's voices have whole cents, so within half of one."""
    midi = STRINGS[string]
    cents = 1200 * np.log2(sounding(midi, pitch_hz, tmp_path) / sounding(midi, 440, tmp_path))
    assert cents == pytest.approx(1200 * np.log2(pitch_hz / 440), abs=0.6)
