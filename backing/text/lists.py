"""Lists of numbers and names in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TypeVar

Key = TypeVar("Key")
Value = TypeVar("Value")


def ranges(numbers: Sequence[int], dash: str = "-", after: str = "", comma: str = ", ") -> str:
    """Numbers, with three or more in a row as one range: 1-3, 5.

    Args:
        numbers: in rising order.
        dash: joins the ends of a range.
        after: follows each number that is written.
        comma: parts the ranges.
    """
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    written = []
    for run in runs:
        if len(run) > 2:
            written.append(f"{run[0]}{after}{dash}{run[-1]}{after}")
        else:
            written += [f"{number}{after}" for number in run]
    return comma.join(written)


def same_values(mapping: Mapping[Key, Value]) -> Iterator[tuple[tuple[Key, ...], Value]]:
    """Each value once, with all keys that have it, in the order of their first keys."""
    left = list(mapping)
    while left:
        value = mapping[left[0]]
        same = tuple(key for key in left if mapping[key] == value)
        left = [key for key in left if key not in same]
        yield same, value
