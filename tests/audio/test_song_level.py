"""One gain for a song and all its versions: -16 LUFS, and peaks limited by 3 dB at most."""

from __future__ import annotations

from fractions import Fraction
from math import inf
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from backing.audio.loudness import Loudness, measure
from backing.audio.song_level import (
    MOST_REDUCTION_DB,
    Gain,
    gain_for,
    held_back_sentence,
    limited,
    of_version,
)
from backing.audio.sound_files import AudioOptions, Sounds
from backing.form import read_form_text
from backing.practice.versions import Version
from backing.tracks.one import Piece, make

RATE = 44100
SONG = """\
title: Level Song
tempo: 200
key: G
count-in: 1
parts: {drums: {beat: eighths, level: full}}
sections:
  verse: {bars: "| G | C | D | G |"}
form: [verse x2]
"""


def raw_file(folder: Path, sound: Any) -> Path:
    path = folder / "mix.raw"
    path.write_bytes(sound.astype("<f4").tobytes())
    return path


def tone(level: float, seconds: int = 3) -> Any:
    at = np.arange(seconds * RATE) / RATE
    return np.repeat(level * np.sin(2 * np.pi * 997 * at)[:, None], 2, axis=1)


def spikes(level: float) -> Any:
    """A tone with a click of four samples every tenth of a second."""
    sound = tone(0.1)
    for start in range(0, len(sound) - 4, RATE // 10):
        sound[start : start + 4] = level
    return sound


def test_the_target_is_reached(tmp_path: Path) -> None:
    gain = gain_for(raw_file(tmp_path, tone(0.05)), RATE, -23.0)
    assert not gain.held_back
    assert gain.lufs == pytest.approx(-23.0, abs=0.03)
    assert held_back_sentence(gain, -23.0) == ""


def test_limited_peaks_are_made_up_for(tmp_path: Path) -> None:
    """Peaks 2 dB over the ceiling are turned down, and the loudness is still the target."""
    raw = raw_file(tmp_path, spikes(0.5))
    as_it_is = measure(raw, RATE)
    target = as_it_is.lufs - as_it_is.true_peak_db + 0.5
    gain = gain_for(raw, RATE, target)
    assert not gain.held_back
    assert as_it_is.true_peak_db + gain.db > 0.5
    done = measure(limited(raw, RATE, gain.db, -1.0), RATE)
    assert done.lufs == pytest.approx(target, abs=0.1)
    assert done.true_peak_db <= -1.0


def test_peaks_are_turned_down_by_three_decibels_at_most_and_a_sentence_says_so(
    tmp_path: Path,
) -> None:
    raw = raw_file(tmp_path, spikes(0.9))
    gain = gain_for(raw, RATE, -10.0)
    assert gain.held_back
    assert measure(raw, RATE).true_peak_db + gain.db == pytest.approx(-1.1 + MOST_REDUCTION_DB)
    assert f"{gain.lufs:.1f} LUFS instead of -10.0" in held_back_sentence(gain, -10.0)


def test_silence_stays_and_a_short_loud_sound_is_only_kept_from_clipping(tmp_path: Path) -> None:
    assert gain_for(raw_file(tmp_path, tone(0.0)), RATE, -16.0) == Gain(0.0, -inf, False)
    gain = gain_for(raw_file(tmp_path, tone(1.2)[:4410]), RATE, -16.0)
    assert gain.lufs == -inf
    assert gain.db == pytest.approx(-2.7, abs=0.1)
    assert held_back_sentence(gain, -16.0).startswith("Turned down by 2.7 dB")


def test_a_version_with_higher_peaks_gets_less() -> None:
    gain = Gain(6.0, -16.0, False)
    assert of_version(gain, Loudness(-20.0, -5.0)) == gain
    assert of_version(gain, Loudness(-20.0, 0.0)).db == pytest.approx(1.9)


# A song and its versions


def made(folder: Path, version: Version = Version(), count_in: bool = True) -> Sounds:  # noqa: B008
    options = AudioOptions("flac", stems=True)
    piece = Piece(read_form_text(SONG), folder / "song", version, count_in, audio=options)
    sounds = make(piece).sounds
    assert sounds is not None
    return sounds


def part_of(sounds: Sounds, part: str) -> Any:
    path = next(one.path for one in sounds.files if one.part == part)
    return soundfile.read(path)[0]


def test_the_band_does_not_jump_when_the_student_takes_over(tmp_path: Path) -> None:
    """Every version has the whole song's gain, so the bass is the same."""
    whole = made(tmp_path / "whole")
    assert whole.files[0].lufs == pytest.approx(-16.0, abs=0.1)
    without = made(tmp_path / "without", Version(without=frozenset({"guitar"})))
    assert without.files[0].lufs < whole.files[0].lufs - 0.5
    bass = part_of(whole, "bass")
    alone = part_of(without, "bass")
    assert 20 * np.log10(np.std(alone) / np.std(bass)) == pytest.approx(0, abs=0.02)
    assert np.abs(alone - bass).max() < 0.01  # the first 1.5 ms of an attack may differ
    uncounted = part_of(made(tmp_path / "uncounted", count_in=False), "bass")
    level = 20 * np.log10(np.std(uncounted) / np.std(bass[len(bass) - len(uncounted) :]))
    assert abs(level) < 0.1


def test_a_slow_version_is_as_loud_part_by_part(tmp_path: Path) -> None:
    """A drum's stroke has the same peak at half the tempo."""
    whole = part_of(made(tmp_path / "whole"), "drums")
    slow = part_of(made(tmp_path / "slow", Version(speeds=(Fraction(1, 2),))), "drums")
    assert 20 * np.log10(np.abs(slow).max() / np.abs(whole).max()) == pytest.approx(0, abs=1.0)
