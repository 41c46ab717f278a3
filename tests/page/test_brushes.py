"""Brushes on the page: the samples are of the brush set, and sound like it."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import numpy as np
import soundfile

from backing.audio.engines import choose
from backing.audio.soundfonts import bundled
from backing.form import read_form_text
from backing.page.notes import SampleKey, played_parts
from backing.page.sprite import sprite
from backing.players import play
from backing.theory.built_in_beats import HAT, KICK, SLAP, SNARE, SWIRL, TAP
from backing.theory.general_midi import BRUSH_KIT, STANDARD_KIT
from backing.timeline import unroll

SONG = """\
title: Two Kits
tempo: 100
parts: {bass: off, guitar: off, drums: {beat: brushes}}
sections:
  verse: {bars: "| A | D | E | A |"}
  chorus: {bars: "| A | D | E | A |", parts: {drums: {beat: eighths}}}
form: [verse, chorus, verse]
"""


def test_each_drum_is_a_sample_of_the_kit_that_plays_it() -> None:
    timeline = unroll(read_form_text(SONG))
    needs = played_parts(play(timeline), timeline, {}).needs
    by_kit: dict[int, set[int]] = {}
    for key in needs:
        by_kit.setdefault(key.kit, set()).add(key.pitch)
    assert set(by_kit) == {STANDARD_KIT, BRUSH_KIT}
    assert {TAP, SLAP, SWIRL, KICK} <= by_kit[BRUSH_KIT]
    assert {SNARE, HAT, KICK} <= by_kit[STANDARD_KIT]
    assert not {SLAP, SWIRL} & by_kit[STANDARD_KIT]


def test_a_tap_and_a_snare_share_a_key_and_sound_apart(tmp_path: Path) -> None:
    """Both are key 38. A brush has hardly any of a snare drum's low tone."""
    keys = [SampleKey(None, 38, 100, kit) for kit in (STANDARD_KIT, BRUSH_KIT)]
    made = sprite(dict.fromkeys(keys, 0.1), ["wood"], bundled(), choose(), tmp_path)
    samples, rate = soundfile.read(BytesIO(made.encoded), dtype="float32")
    centers = []
    for entry in made.table:
        start = round(entry["at"] * rate)
        power = np.abs(np.fft.rfft(samples[start : start + rate // 4])) ** 2
        hz = np.fft.rfftfreq(rate // 4, 1 / rate)
        centers.append(float((power * hz).sum() / power.sum()))
    print(f"centroids {centers[0]:.0f} and {centers[1]:.0f} Hz")
    assert len(centers) == 2
    assert abs(np.log2(centers[0] / centers[1])) > 0.3
