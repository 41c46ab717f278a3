"""Patterns laid over bars: which step of a pattern falls where, for every player.

Each bar takes the pattern's next bar; a shorter bar plays its beginning, a longer one
repeats it; a pattern starts again with each pass. One line that lasts several of the
pass's own bars is those bars. Positions are in whole notes from the bar line, as written,
until `placed` gives them their place in the song, swung as the bar is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import TypeAlias, TypeVar

from backing.form.model import Form
from backing.theory.rhythm import Meter
from backing.timeline import Bar

Token = TypeVar("Token")
#: A token for each step, with its place from the bar line, in order.
Placed: TypeAlias = "tuple[tuple[Fraction, Token], ...]"
#: A pattern's tokens, a tuple for each bar.
PatternBars: TypeAlias = "Sequence[Sequence[Token]]"


def own_meter(form: Form, bar: Bar) -> Meter:
    """The meter that a pass is set in, even where single bars have another."""
    return bar.playing.settings.meter or form.meter


def bar_steps(
    pattern_bars: PatternBars[Token], step_whole: Fraction, bar: Bar, own_meter: Meter
) -> Placed[Token]:
    """The steps of a pattern that fall in a bar, rests among them.

    Args:
        pattern_bars: tokens, a tuple for each bar where bar lines are written (hashable).
        step_whole: how far apart they are.
        own_meter: as `own_meter` gives it: one long line is cut into bars of it.
    """
    lines = _by_bar(pattern_bars, step_whole, own_meter.bar_whole)
    return _filled(*lines[bar.pattern_bar % len(lines)], bar.meter.bar_whole)


def bar_count(pattern_bars: PatternBars[Token], step_whole: Fraction, own_meter: Meter) -> int:
    """How many bars a pattern lasts before it repeats."""
    return len(_by_bar(pattern_bars, step_whole, own_meter.bar_whole))


def repeated(tokens: Sequence[Token], step_whole: Fraction, bar_whole: Fraction) -> Placed[Token]:
    """One line, over and over through a bar."""
    return _filled(*_line(tokens, step_whole), bar_whole)


def placed(bar: Bar, strokes: Placed[Token]) -> Iterator[tuple[Fraction, Token]]:
    """A bar's strokes where they sound in the song."""
    places = bar.places([offset for offset, _ in strokes])
    yield from zip(places, (stroke for _, stroke in strokes), strict=True)


def _line(tokens: Sequence[Token], step_whole: Fraction) -> tuple[Fraction, Placed[Token]]:
    """A line's length, and its tokens in their places."""
    steps = tuple((index * step_whole, token) for index, token in enumerate(tokens))
    return step_whole * len(tokens), steps


@lru_cache(maxsize=256)
def _by_bar(
    pattern_bars: PatternBars[Token], step_whole: Fraction, bar_whole: Fraction
) -> tuple[tuple[Fraction, Placed[Token]], ...]:
    """A pattern's bars, each with its length; one line that lasts several bars is cut at them."""
    lines = tuple(_line(tokens, step_whole) for tokens in pattern_bars)
    length, steps = lines[0]
    if len(lines) > 1 or length == bar_whole or length % bar_whole:
        return lines
    cuts = [index * bar_whole for index in range(int(length / bar_whole) + 1)]
    return tuple(
        (bar_whole, tuple((at - start, token) for at, token in steps if start <= at < end))
        for start, end in pairwise(cuts)
    )


@lru_cache(maxsize=512)
def _filled(length: Fraction, steps: Placed[Token], bar_whole: Fraction) -> Placed[Token]:
    """A line in a bar of any length: its beginning, or itself over and over."""
    return tuple(
        (again * length + at, token)
        for again in range(-(-bar_whole // length))
        for at, token in steps
        if again * length + at < bar_whole
    )
