"""The page's own scheduling, rendered by the browser and measured against the form's arithmetic."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page.browser.opened import Opened

from backing.audio.engines import choose
from backing.audio.mixing import mixer_for
from backing.audio.soundfonts import bundled
from backing.form import Form
from backing.players import play
from backing.players.human import humanize
from backing.timeline import unroll
from backing.verify import expect
from backing.verify.expected.click import every_click

RATE = 44100


def template(opened: Opened, sound: str, kind: str) -> Any:
    """A click's samples, as they stand in the page."""
    pcm = opened.page.evaluate(
        """([sound, kind]) => {
          const song = JSON.parse(document.getElementById("song").textContent);
          const [first, count] = song.click.sounds[sound][kind];
          const bytes = atob(document.getElementById("clicks").textContent);
          const byte = (n) => bytes.charCodeAt(n);
          const at = (n) => (byte(2 * n) + 256 * byte(2 * n + 1)) << 16 >> 16;
          return Array.from({ length: count }, (_, index) => at(first + index));
        }""",
        [sound, kind],
    )
    return np.array(pcm, "f8") / 32768


def clicks_of(form: Form, percent: int) -> list[tuple[Fraction, str]]:
    """The form's clicks from bar 1 on, in seconds at a speed, by the proof's arithmetic."""
    expected = expect(form)
    return [
        (
            (click.at_s - expected.count_in_s) * 100 / percent,
            "accent" if click.accented else "plain",
        )
        for click in every_click(expected)
        if click.at_s >= expected.count_in_s and click.plays
    ]


def found_at(sound: Any, wanted: Any, near: int, within: int = 60) -> tuple[int, float]:
    """Where within so many frames of a place a click matches best, and how loud it is there.

    The click's first thirty milliseconds are looked for; they are over before the next begins.
    """
    head = wanted[: RATE * 3 // 100]
    span = np.zeros(2 * within + len(head))
    first = near - within
    piece = sound[max(0, first) : first + len(span)]
    span[max(0, -first) : max(0, -first) + len(piece)] = piece
    products = np.correlate(span, head)
    best = int(np.argmax(products))
    return first + best, float(products[best] / np.dot(head, head))


@pytest.mark.parametrize("percent", [50, 100, 127])
@pytest.mark.parametrize("name", ["short", "rich"])
def test_every_click_is_within_a_sample_of_its_time(
    opens: Callable[..., Opened],
    forms: dict[str, Form],
    songs: dict[str, dict[str, Any]],
    name: str,
    percent: int,
) -> None:
    """And as loud as it is in balance, at a volume of 60 percent."""
    opened, gains = opens(name), songs[name]["click"]["sounds"]["wood"]["gains"]
    first = 1 if forms[name].pickup else 0
    how = {"from": first, "percent": percent, "only": [], "countIn": 1, "volume": 60}
    sound, made = opened.render(sides=1, **how)
    left = sound[:, 0].astype("f8")
    templates = {kind: template(opened, "wood", kind) for kind in ("accent", "plain")}
    rest = left.copy()
    wanted = clicks_of(forms[name], percent)
    count_in = [
        (
            Fraction(made["start"]).limit_denominator(10**6) * beat / 4 - Fraction(made["start"]),
            kind,
        )
        for beat, kind in enumerate(["accent", "plain", "plain", "plain"])
    ]
    assert len(wanted) > 30
    for at_s, kind in [*count_in, *wanted]:
        exact = (Fraction(made["start"]) + at_s) * RATE
        frame, level = found_at(rest, templates[kind], round(exact))
        assert abs(frame - exact) <= 1, (name, percent, float(at_s))
        loud = [gains["accent"]] if kind == "accent" else [gains["beat"], gains["between"]]
        assert any(level == pytest.approx(0.6 * gain, rel=0.02) for gain in loud)
        whole = templates[kind][: len(rest) - frame]
        rest[frame : frame + len(whole)] -= level * whole
    # Nothing else has clicked: what is left is nothing but rounding.
    assert np.abs(rest).max() < 0.01 * np.abs(left).max()


def test_divisions_of_the_beat_are_on_time(short: Opened, forms: dict[str, Form]) -> None:
    sound, made = short.render(**{"from": 0, "to": 2}, only=[], subdivide="1/8t", percent=80)
    plain = template(short, "wood", "plain")
    beat = Fraction(60, 150) * 100 / 80
    for third in range(24):
        if third % 12 == 0:
            continue
        exact = (Fraction(made["start"]) + third * beat / 3) * RATE
        frame, level = found_at(sound[:, 0], plain, round(exact))
        assert abs(frame - exact) <= 1
        assert level > 0.05


@pytest.mark.parametrize("percent", [50, 100, 127])
def test_a_loop_has_no_gap(short: Opened, percent: int) -> None:
    """Three rounds of two bars: each begins where the one before ends, and sound goes on."""
    bar = Fraction(4 * 60, 150) * 100 / percent
    clicked, made = short.render(**{"from": 1, "to": 3}, rounds=3, percent=percent, only=[])
    accent = template(short, "wood", "accent")
    for index in range(6):
        exact = (Fraction(made["start"]) + index * bar) * RATE
        frame, _ = found_at(clicked[:, 0], accent, round(exact))
        assert abs(frame - exact) <= 1, index
    held, made = short.render(
        **{"from": 1, "to": 3}, rounds=3, percent=percent, only=["pad"], clickOn=False
    )
    block = RATE // 100
    levels = np.sqrt(np.mean(held[: len(held) // block * block, 0].reshape(-1, block) ** 2, axis=1))
    for seam in (2, 4):
        at = round((Fraction(made["start"]) + seam * bar) * 100)
        assert levels[at - 2 : at + 6].min() > 0.2 * np.median(levels[: int(6 * bar * 100)])


def test_each_round_is_faster_and_counted_in(short: Opened) -> None:
    """Bars of 1.6 s: one counted and two played a round, at 80, 90 and then no more than 95."""
    clicked, made = short.render(
        **{"from": 1, "to": 3},
        rounds=3, percent=80, faster=10, upTo=95, countIn=1, between=1, only=[], volume=60,
    )  # fmt: skip
    accent = template(short, "wood", "accent")
    bar, exact = Fraction(4 * 60, 150), Fraction(0)
    for percent in (80, 90, 95):
        for _ in range(3):
            frame, level = found_at(clicked[:, 0], accent, round(exact * RATE))
            assert abs(frame - exact * RATE) <= 1, percent
            assert level > 0.1
            exact += bar * 100 / percent
    assert made["legs"][-1]["end"] == pytest.approx(float(exact))


def test_a_muted_part_is_silent_and_the_others_are_unchanged(short: Opened) -> None:
    names = short.page.evaluate(
        "() => JSON.parse(document.getElementById('song').textContent).parts.map((p) => p.name)"
    )
    assert names == ["bass", "guitar", "lead", "drums", "pad"]
    how = {"from": 0, "to": 4, "clickOn": False, "volume": 40}
    everything, _ = short.render(**how)
    assert np.abs(everything).max() < 0.5  # where the desk is exactly linear
    for name in names:
        alone, _ = short.render(**how, only=[name])
        without, _ = short.render(**how, mute=[name])
        assert np.abs(alone).max() > 0.005, name
        assert np.abs(everything - alone - without).max() < 1e-5, name
    nothing, _ = short.render(**how, mute=names)
    assert np.abs(nothing).max() == 0


def test_the_click_can_be_off_or_skip_bars(short: Opened) -> None:
    off, _ = short.render(**{"from": 0, "to": 4}, only=[], clickOn=False)
    assert np.abs(off).max() == 0
    some, made = short.render(**{"from": 0, "to": 4}, only=[], plays=[1, 2])
    bar = round(1.6 * RATE)
    start = round(made["start"] * RATE)
    loud = [
        np.abs(some[start + n * bar + bar // 4 + 5000 : start + (n + 1) * bar]).max()
        for n in range(4)
    ]
    assert loud[0] > 0.1
    assert loud[2] > 0.1
    assert loud[1] == loud[3] == 0


def test_moving_up_sounds_higher(short: Opened) -> None:
    how = {"from": 0, "to": 1, "only": ["bass"], "clickOn": False}
    found = [hertz(short.render(**how, transpose=by)[0][:, 0]) for by in (0, 3, -5)]
    assert 12 * np.log2(found[1] / found[0]) == pytest.approx(3, abs=0.2)
    assert 12 * np.log2(found[2] / found[0]) == pytest.approx(-5, abs=0.2)


def hertz(sound: Any) -> float:
    """The strongest frequency below 400 Hz in the second quarter of a second."""
    part = sound[RATE // 8 : RATE // 8 + RATE // 2] * np.hanning(RATE // 2)
    spectrum = np.abs(np.fft.rfft(part, 1 << 18))
    frequencies = np.fft.rfftfreq(1 << 18, 1 / RATE)
    below = frequencies < 400
    return float(frequencies[below][np.argmax(spectrum[below])])


def test_sound_stays_below_full_scale(rich: Opened) -> None:
    sound, _ = rich.render(volume=100)
    assert np.abs(sound).max() <= 0.981
    loud = np.sqrt(np.mean(sound**2))
    assert -32 < 20 * np.log10(loud) < -14


def test_the_page_sounds_as_the_engine_does(
    rich: Opened, forms: dict[str, Form], tmp_path: Path
) -> None:
    """Part by part the loudness of each tenth of a second, but for one factor, and its colors."""
    form = forms["rich"]
    timeline = unroll(form)
    score = humanize(play(timeline), form.human)
    mixer = mixer_for(score, bundled(), choose(), tmp_path)
    rendered = mixer.render(score, "stems", stems=True)
    start = round(float(timeline.seconds(timeline.played[0].start_whole)) * RATE)
    end = start + 35 * RATE
    to = next(n for n, bar in enumerate(timeline.played) if timeline.seconds(bar.start_whole) > 36)
    factors = []
    for part in ("bass", "guitar", "drums", "pad"):
        stereo = np.fromfile(rendered.stems[part], "<f4").reshape(-1, 2)[start:end]
        page, made = rich.render(**{"from": 0, "to": to}, only=[part], clickOn=False)
        ours = page[round(made["start"] * RATE) :][: len(stereo)]
        theirs, here = (np.hypot(*map(loudness, sound.T)) for sound in (stereo, ours))
        heard = theirs > 0.05 * theirs.max()
        ratio = 20 * np.log10((here[heard] + 1e-9) / theirs[heard])
        least = 0.7 if part == "pad" else 0.9  # strings waver, each time in another way
        assert np.corrcoef(here, theirs)[0, 1] > least, part
        assert np.percentile(np.abs(ratio - np.median(ratio)), 80) < 3, part
        factors.append(float(np.median(ratio)))
        colors = bands(ours) - bands(stereo)
        assert np.ptp(colors - np.median(colors)) < 3, part
    assert max(factors) - min(factors) < 1
    clicks, made = rich.render(**{"from": 1, "to": to}, only=[])
    line = round(float(timeline.seconds(timeline.bars[0].start_whole)) * RATE)
    engine = np.fromfile(rendered.stems["click"], "<f4").reshape(-1, 2)[line : line + 20 * RATE]
    ours = clicks[round(made["start"] * RATE) :][: 20 * RATE]
    ratio = 10 * np.log10(np.sum(ours**2, dtype="f8") / np.sum(engine**2, dtype="f8"))
    assert ratio == pytest.approx(float(np.mean(factors)), abs=0.5)


def loudness(sound: Any) -> Any:
    return np.sqrt(np.mean(np.square(sound[: len(sound) // 4410 * 4410].reshape(-1, 4410)), axis=1))


def bands(sound: Any) -> Any:
    """How strong four ranges of frequency are in two channels, in dB."""
    spectrum = np.sum(np.abs(np.fft.rfft(sound, axis=0)) ** 2, axis=1)
    edges = [round(hertz * len(sound) / RATE) for hertz in (60, 200, 800, 3000, 10000)]
    return 10 * np.log10([spectrum[low:high].sum() + 1e-9 for low, high in pairwise(edges)])


def test_the_decoders_delay_is_measured(short: Opened) -> None:
    assert short.page.evaluate("() => window.practicePage.delay") == pytest.approx(0, abs=0.1)
