"""Two engines that know nothing of each other start the same notes at the same times.

Source of the tolerance: both place events on blocks of 64 frames (seen in both), so that
two blocks hold any difference.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from backing.audio.engines import ENGINES, Engine
from backing.audio.render import render
from backing.audio.soundfonts import bundled
from backing.score import Note, Score, TempoChange, Track

BLOCK = 64
WOOD_BLOCK = 76
PLACES = [Fraction(n, 7) + Fraction(1, 4) for n in range(12)]
TEMPO = Fraction(97)


def onsets(engine: Engine, folder: Path) -> list[float]:
    """Seconds at which a wood block's strokes are first heard, over a tenth of their peak."""
    notes = tuple(Note(at, at + Fraction(1, 16), WOOD_BLOCK, 100) for at in PLACES)
    track = Track("drums", "Drums", None, 100, 0, notes)
    tempos = (TempoChange(Fraction(0), TEMPO),)
    score = Score("Strokes", (track,), tempos, (), (), (), (), Fraction(3))
    made = render(score, folder, bundled(), engine)
    sound = np.abs(np.fromfile(made.mix, "<f4")[::2])
    found = []
    for at in PLACES:
        place = int(at * 240 / TEMPO * made.rate)
        window = sound[place - 1500 : place + 1500]
        found.append((place - 1500 + int(np.argmax(window > window.max() / 10))) / made.rate)
    return found


def test_the_same_onsets_within_two_blocks(tmp_path: Path) -> None:
    first, second = (onsets(engine, tmp_path) for engine in ENGINES)
    worst = max(abs(a - b) for a, b in zip(first, second, strict=True))
    print(f"worst {worst * 44100:.0f} frames of 44.1 kHz")
    assert worst <= 2 * BLOCK / 44100


@pytest.mark.parametrize("engine", ENGINES, ids=lambda engine: engine.key)
def test_no_drift_from_the_maths(engine: Engine, tmp_path: Path) -> None:
    late = [
        found - float(at * 240 / TEMPO)
        for found, at in zip(onsets(engine, tmp_path), PLACES, strict=True)
    ]
    assert max(late) - min(late) <= 2 * BLOCK / 44100
