"""Positions in whole notes converted to seconds, exactly, and to sample frames, rounded once."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import pairwise

from backing.score import TempoChange


def frame_at(tempos: Sequence[TempoChange], rate: int) -> Callable[[Fraction], int]:
    """A function from a position in whole notes to the nearest frame; a half goes up.

    Args:
        tempos: at least one, in order, the first at 0.
        rate: frames per second.
    """
    starts, lines = [], []
    seconds = Fraction(0)
    for index, (start, bpm) in enumerate(tempos):
        if index:
            before = tempos[index - 1]
            seconds += (start - before.start_whole) * 240 / before.quarter_bpm
        slope = rate * 240 / Fraction(bpm)
        offset = rate * seconds - slope * start + Fraction(1, 2)
        # frame = floor(offset + slope * whole), as whole numbers over one denominator
        below = offset.denominator * slope.denominator
        above = offset.numerator * slope.denominator, slope.numerator * offset.denominator
        starts.append(start)
        lines.append((*above, below))

    def frame(whole: Fraction) -> int:
        at = max(0, bisect_right(starts, whole) - 1) if len(starts) > 1 else 0
        offset, slope, below = lines[at]
        numerator, denominator = whole.as_integer_ratio()
        return (offset * denominator + slope * numerator) // (below * denominator)

    return frame


def seconds_at(tempos: Sequence[TempoChange]) -> Callable[[Fraction], Fraction]:
    """A function from a position in whole notes to its exact time in seconds.

    Args:
        tempos: at least one, in order, the first at 0.
    """
    starts, before = [tempos[0].start_whole], [Fraction(0)]
    for last, (start, _) in pairwise(tempos):
        before.append(before[-1] + (start - last.start_whole) * 240 / last.quarter_bpm)
        starts.append(start)

    def seconds(whole: Fraction) -> Fraction:
        at = max(0, bisect_right(starts, whole) - 1)
        return before[at] + (whole - starts[at]) * 240 / tempos[at].quarter_bpm

    return seconds
