"""Patterns laid over bars: which of a written pattern's steps falls where in a bar.

Each bar takes the pattern's next bar; a shorter bar plays its beginning, a longer one
repeats it; a pattern starts again with each pass. One line that lasts several of the
pass's own bars is those bars. Positions are in whole notes from the bar line, as written:
`Bar.at` swings them.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import TypeAlias, TypeVar

from backing.form.model import Form
from backing.theory.rhythm import Meter
from backing.timeline import Bar

Token = TypeVar("Token")
#: A token a step, with its place from the bar line, in order.
Steps: TypeAlias = "tuple[tuple[Fraction, Token], ...]"


def own_meter(form: Form, bar: Bar) -> Meter:
    """The meter that a pass was set under, whatever single bars have changed since."""
    return bar.playing.settings.meter or form.meter


def bar_steps(
    pattern_bars: Sequence[Sequence[Token]], step_whole: Fraction, bar: Bar, own_meter: Meter
) -> Steps[Token]:
    """The steps of a pattern that fall to a bar, rests among them.

    Args:
        pattern_bars: tokens, a tuple a bar where bar lines are written (hashable).
        step_whole: how far apart they are.
        own_meter: as `own_meter` gives it; what one long line is cut by.
    """
    lines = _by_bar(pattern_bars, step_whole, own_meter.bar_whole)
    return _filled(lines[bar.pattern_bar % len(lines)], bar.meter.bar_whole)


@lru_cache(maxsize=256)
def _by_bar(
    pattern_bars: Sequence[Sequence[Token]], step: Fraction, bar_whole: Fraction
) -> tuple[tuple[Fraction, Steps[Token]], ...]:
    """A pattern's bars, each with its length; one line that lasts several bars is cut at them."""
    lines = [
        (step * len(tokens), tuple((index * step, token) for index, token in enumerate(tokens)))
        for tokens in pattern_bars
    ]
    length, placed = lines[0]
    if len(lines) > 1 or length == bar_whole or length % bar_whole:
        return tuple(lines)
    cuts = [index * bar_whole for index in range(int(length / bar_whole) + 1)]
    return tuple(
        (bar_whole, tuple((at - start, token) for at, token in placed if start <= at < end))
        for start, end in pairwise(cuts)
    )


@lru_cache(maxsize=256)
def _filled(line: tuple[Fraction, Steps[Token]], bar_whole: Fraction) -> Steps[Token]:
    """One bar of a pattern in a bar of any length: its beginning, or itself again and again."""
    length, placed = line
    return tuple(
        (again * length + at, token)
        for again in range(-(-bar_whole // length))
        for at, token in placed
        if again * length + at < bar_whole
    )
