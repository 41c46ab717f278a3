"""Clicks that are never alone: learned where the music allows it, and left unjudged elsewhere."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from backing.cli import main
from backing.form import read_form_text
from backing.verify.sound.audio import verify_audio
from backing.verify.sound.onsets import LEAD, learn, learn_in_place, match, reach, span

RATE = 44100
SHORT = """\
title: Short
tempo: {tempo}
meter: {meter}
count-in: 0
parts: {{drums: {drums}}}
sections: {{a: {{bars: "{bars}"}}}}
form: [a]
"""


def windows(count: int, late_s: float = 0.0) -> np.ndarray:
    """A click in each, under a stroke twice as strong that starts up to 25 ms before its place."""
    draw = np.random.default_rng(7)
    click = np.exp(-np.arange(600) / 90) * np.sin(np.arange(600) * 0.4)
    out = np.zeros((count, span(RATE)))
    for window in out:
        start = reach(RATE) + LEAD - int(draw.integers(300, 1100))
        stroke = draw.normal(size=1200) * np.exp(-np.arange(1200) / 500)
        window[start : start + 1200] += 0.4 * stroke
        at = reach(RATE) + LEAD + round(late_s * RATE)
        window[at : at + 600] += click[: len(window) - at]
    return out.astype("f4")


def lateness_s(found, these: np.ndarray) -> float:
    return float(np.median(match(these, found).places) - reach(RATE)) / RATE


def test_a_stroke_before_the_click_isnt_taken_for_it() -> None:
    these = windows(8)
    assert abs(lateness_s(learn(these, RATE), these)) > 0.002
    found = learn_in_place(these, RATE)
    assert found is not None
    assert abs(lateness_s(found, these)) < 1 / RATE


@pytest.mark.parametrize("late_s", [0.008, -0.02, 0.015])
def test_clicks_that_are_all_late_or_early_arent_in_place(late_s: float) -> None:
    assert learn_in_place(windows(12, late_s), RATE) is None


def test_music_alone_has_no_click() -> None:
    noise = np.random.default_rng(3).normal(size=(12, span(RATE))).astype("f4")
    assert learn_in_place(noise, RATE) is None


def test_three_windows_are_too_few() -> None:
    assert learn_in_place(windows(3), RATE) is None


@pytest.mark.parametrize(
    ("tempo", "meter", "drums", "bars", "clicks"),
    [
        (300, "2/8", "off", "| G |", 2),
        (300, "4/4", "{beat: eighths}", "| G |", 4),
        (300, "4/4", "{beat: eighths, level: full}", "| G | C |", 8),
        (40, "4/4", "off", "| G | C |", 8),
        (100, "6/8", "off", "| G |", 2),
    ],
)
def test_a_short_version_without_a_count_in_is_made(
    tmp_path: Path, tempo: int, meter: str, drums: str, bars: str, clicks: int
) -> None:
    text = SHORT.format(tempo=tempo, meter=meter, drums=drums, bars=bars)
    (tmp_path / "short.yaml").write_text(text)
    arguments = ["build", str(tmp_path / "short.yaml"), "--audio", "wav", "--out", str(tmp_path)]
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 0, result.output
    report = verify_audio(read_form_text(text), tmp_path / "Short.wav")
    assert report.agrees
    assert report.clicks_found + report.clicks_covered + report.clicks_unclear == clicks


def test_a_late_click_is_caught_without_a_count_in(tmp_path: Path) -> None:
    text = SHORT.format(tempo=100, meter="4/4", drums="off", bars="| G | C | D | G |")
    (tmp_path / "short.yaml").write_text(text)
    arguments = ["build", str(tmp_path / "short.yaml"), "--audio", "wav", "--out", str(tmp_path)]
    assert CliRunner().invoke(main, arguments).exit_code == 0
    sound, rate = soundfile.read(tmp_path / "Short.wav")
    at, by = round(rate * 0.6 * 6), round(rate * 0.02)
    moved = np.concatenate([sound[: at - 4000], sound[at - 4000 - by : -by]])
    moved[at + 12000 :] = sound[at + 12000 :]
    soundfile.write(tmp_path / "late.wav", moved, rate)
    report = verify_audio(read_form_text(text), tmp_path / "late.wav")
    assert not report.agrees


def test_a_long_count_in_before_music_without_a_click_is_proven(tmp_path: Path) -> None:
    """With ten clicks, nine of the ten gaps are silent: all but the one that has the music."""
    text = SHORT.format(tempo=100, meter="5/4", drums="{beat: five}", bars="| G | C |")
    (tmp_path / "short.yaml").write_text(text.replace("count-in: 0", "count-in: 2"))
    arguments = ["build", str(tmp_path / "short.yaml"), "--audio", "wav", "--without", "click"]
    result = CliRunner().invoke(main, [*arguments, "--out", str(tmp_path)])
    assert result.exit_code == 0, result.output
