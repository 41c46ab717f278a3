"""Rounds without a gap as they sound: the first stroke of each is as strong and as punctual."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from backing.audio.engines import ENGINES, Engine
from backing.audio.frames import frame_at
from backing.audio.render import render
from backing.audio.soundfonts import bundled
from backing.form import read_form_text
from backing.practice import Version, play_version

#: Chords that ring over the seam onto the same strings and pitches.
SONG = """\
title: Seams
tempo: 120
count-in: 1
human: 0
parts: {drums: {beat: eighths}}
sections:
  verse: {bars: "| A | D / A(ring) / |"}
form: [verse]
"""
ROUNDS = 4
STROKE_S = 0.08
#: What other strings and the last round's release may add or cancel.
MOST_DB = 2.0
#: Engines start notes on blocks of 64 frames (seen in both).
BLOCK_S = 64 / 44100


def level_db(sound: np.ndarray) -> float:
    return 10 * float(np.log10(np.mean(sound**2)))


def late_s(sound: np.ndarray, start: int, stroke: np.ndarray, rate: int) -> float:
    """How late a stroke comes after a frame, where it fits best within 15 ms of that."""
    around = int(0.015 * rate)
    window = sound[start - around : start + len(stroke) + around]
    return (int(np.argmax(np.correlate(window, stroke, "valid"))) - around) / rate


@pytest.mark.parametrize("engine", ENGINES, ids=lambda engine: engine.key)
def test_the_first_stroke_of_each_round_is_as_strong_as_in_the_first(
    tmp_path: Path, engine: Engine
) -> None:
    score = play_version(read_form_text(SONG), Version(loop=ROUNDS)).score
    made = render(score, tmp_path, bundled(), engine, stems=True)
    at = frame_at(score.tempos, made.rate)
    starts = [at(mark.start_whole) for mark in score.markers if "round" in mark.text]
    assert starts == [round((2 + 4 * number) * made.rate) for number in range(ROUNDS)]
    length = int(STROKE_S * made.rate)
    for name in ("bass", "guitar", "drums", "mix"):
        path = made.mix if name == "mix" else made.stems[name]
        sound = np.fromfile(path, "<f4").reshape(-1, 2).mean(axis=1).astype("f8")
        first = sound[starts[0] : starts[0] + length]
        assert level_db(first) > -60, name
        for start in starts[1:]:
            change = level_db(sound[start : start + length]) - level_db(first)
            assert abs(change) < MOST_DB, (name, change)
            if name in ("bass", "drums"):  # in a strum, each string starts on its own block
                assert abs(late_s(sound, start, first, made.rate)) <= 2 * BLOCK_S, name
