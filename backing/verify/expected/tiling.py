"""Patterns laid over bars, by the rules under "Patterns" and "Feel" of `forms/README.md`.

Offsets are whole notes from the bar line; places are quarters from the file's start.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import TypeAlias, TypeVar

from backing.theory.rhythm import Meter
from backing.verify.expected.beats import swung
from backing.verify.expected.plans import Swing
from backing.verify.expected.records import PlayedBar

Token = TypeVar("Token")
#: Tokens with their offsets, in order.
Steps: TypeAlias = "tuple[tuple[Fraction, Token], ...]"


def steps_in(
    lines: Sequence[Sequence[Token]], step_whole: Fraction, bar: PlayedBar
) -> Steps[Token]:
    """What a pattern has in a bar, rests among them.

    Args:
        lines: the pattern's tokens, a tuple for each bar where bar lines are written.
        step_whole: how far apart they are.
        bar: it takes the line of its own number, or a part of it, or that over and over.
    """
    own = bar.plan.meter.bar_whole
    return _steps(tuple(lines), step_whole, own, bar.meter.bar_whole, bar.pattern_bar)


@lru_cache(maxsize=1024)
def _steps(
    lines: Sequence[Sequence[Token]],
    step_whole: Fraction,
    own_whole: Fraction,
    bar_whole: Fraction,
    number: int,
) -> Steps[Token]:
    length = step_whole * len(lines[0])
    if len(lines) == 1 and length > own_whole and length % own_whole == 0:
        # One line as long as several bars of the pass's meter is those bars.
        start = number % int(length / own_whole) * own_whole
        line = [(index * step_whole - start, token) for index, token in enumerate(lines[0])]
        kept = [(at, token) for at, token in line if 0 <= at < own_whole]
        return tuple(_over_and_over(kept, own_whole, bar_whole))
    tokens = lines[number % len(lines)]
    line = [(index * step_whole, token) for index, token in enumerate(tokens)]
    return tuple(_over_and_over(line, step_whole * len(tokens), bar_whole))


def _over_and_over(
    line: Sequence[tuple[Fraction, Token]], length: Fraction, bar_whole: Fraction
) -> Iterator[tuple[Fraction, Token]]:
    start = Fraction(0)
    while start < bar_whole:
        for at, token in line:
            if start + at < bar_whole:
                yield start + at, token
        start += length


def places(bar: PlayedBar, steps: Steps[Token]) -> Iterator[tuple[Fraction, Token]]:
    """Where the steps that are played (without its rests) of a bar sound, swung as it is."""
    sounding = swung_steps(tuple(at for at, _ in steps), bar.meter, bar.plan.swing)
    for at, (_, token) in zip(sounding, steps, strict=True):
        yield bar.start + at, token


@lru_cache(maxsize=1024)
def swung_steps(
    offsets: tuple[Fraction, ...], meter: Meter, swing: Swing | None
) -> tuple[Fraction, ...]:
    """Offsets as they sound, in quarters. A pattern with triplets in it doesn't swing."""
    if swing is None or any(at.denominator % 3 == 0 for at in offsets):
        return tuple(at * 4 for at in offsets)
    found = []
    for at in offsets:
        beat = bisect_right(meter.beat_starts, at) - 1
        start = meter.beat_starts[beat]
        found.append((start + swung(at - start, meter.beats[beat], swing)) * 4)
    return tuple(found)
