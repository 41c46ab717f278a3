"""Bars, passes and endings in words."""

from __future__ import annotations

from collections.abc import Sequence

from backing.text.counts import plural
from backing.text.lists import ranges


def bars(count: int) -> str:
    """How many bars: 1 bar, 8 bars."""
    return plural(count, "bar")


def bar_numbers(first: int, last: int, dash: str = "-") -> str:
    """A stretch of bars by its numbers alone: 9-12, or 9 for a single bar."""
    return f"{first}{dash}{last}" if last > first else str(first)


def bar_range(first: int, last: int, dash: str = "-") -> str:
    """A stretch of bars: bars 9-12, or bar 9."""
    return f"bar{'s' * (last > first)} {bar_numbers(first, last, dash)}"


def bar_name(number: int) -> str:
    """One bar: bar 9; bar 0 is the pickup."""
    return f"bar {number}" if number else "the pickup"


def pass_name(name: str, number: int, passes: int) -> str:
    """A pass of a line of the form: Verse 2 of 3; just Verse where there is only one pass.

    A comma keeps two numbers apart: Verse 1, 2 of 3.
    """
    if passes == 1:
        return name
    comma = "," if name[-1].isdigit() else ""
    return f"{name}{comma} {number} of {passes}"


def ending_numbers(passes: Sequence[int]) -> str:
    """The passes that share an ending, as its bracket shows them in print: 1.–3., 5."""
    return ranges(passes, dash="–", after=".")
