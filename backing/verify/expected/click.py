"""Every click of a file: the beats of each bar that clicks, and what divides them.

The click never strays from its exact time, and its pitch is the one that its sound has for an
accented or for a plain click. A bar's first click is the accented one.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from backing.theory.general_midi import CLICK_SOUNDS
from backing.theory.rhythm import Meter
from backing.verify.expected.beats import swung
from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.moments import Moment
from backing.verify.expected.plans import Swing
from backing.verify.expected.records import Clicking, Expected, ExpectedBar, ExpectedClick


class ExpectedClicks(NamedTuple):
    """Every click that must sound, in order: its time, and the one pitch that it has there."""

    part: str
    moments: tuple[Moment, ...] = ()


def expect_click(expected: Expected, part: str, clock: Clockwork) -> ExpectedClicks:
    """Work out every click that a file must hold."""
    places: list[float] = []
    pitches: list[int] = []
    for bar in _bars(expected):
        if bar.clicked:
            offsets, of_bar = _as_numbers(bar.meter, bar.clicking)
            start = float(bar.start_quarters)
            places += [start + offset for offset in offsets]
            pitches += of_bar
    return ExpectedClicks(part, tuple(map(Moment, clock.all_seconds(places), pitches)))


def every_click(expected: Expected) -> list[ExpectedClick]:
    """All clicks with their exact times, in order; bars that skip them are listed too."""
    return list(_exact(expected))


def _exact(expected: Expected) -> Iterator[ExpectedClick]:
    tempos, at = expected.tempos, 0
    for bar in _bars(expected):
        sound, accented, step_whole, swing = bar.clicking
        for index, offset in enumerate(_offsets(bar.meter, step_whole, swing)):
            place = bar.start_quarters + offset
            while at + 1 < len(tempos) and tempos[at + 1].start_quarters <= place:
                at += 1
            start_s, start, quarter_bpm = tempos[at]
            at_s = start_s + (place - start) * 60 / quarter_bpm
            yield ExpectedClick(at_s, sound, accented and not index, bar.clicked)


def _bars(expected: Expected) -> tuple[ExpectedBar, ...]:
    """Every bar of the file, those that count in included."""
    return (*expected.count_in_bars, *expected.bars)


@lru_cache(maxsize=1024)
def _as_numbers(meter: Meter, clicking: Clicking) -> tuple[list[float], list[int]]:
    """A bar's clicks in quarters from its line, and the bit of each one's pitch."""
    sound, accented, step_whole, swing = clicking
    offsets = _offsets(meter, step_whole, swing)
    loud, plain = (1 << pitch for pitch in CLICK_SOUNDS[sound])
    pitches = [loud if accented else plain] + [plain] * (len(offsets) - 1)
    return list(map(float, offsets)), pitches


@lru_cache(maxsize=1024)
def _offsets(meter: Meter, step_whole: Fraction | None, swing: Swing | None) -> list[Fraction]:
    """Where a bar clicks, in quarters from its line: at each beat, and at each step within it."""
    found: list[Fraction] = []
    start = Fraction(0)
    for beat in meter.beats:
        step = step_whole or beat
        for index in range(-(-beat // step)):
            found.append((start + swung(index * step, beat, swing)) * 4)
        start += beat
    return found
