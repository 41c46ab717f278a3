"""Lists of numbers and names in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TypeVar

from backing.text.printable import printable

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


#: What comes before each name where a list has a line for each.
ITEM = "\n    "


def names(listed: Iterable[str]) -> str:
    """Names with commas between them; or each on a line of its own, if one of them has a comma."""
    known = list(listed)
    if any("," in name for name in known):
        return "".join(f"{ITEM}{printable(name)}" for name in known)
    return ", ".join(known)


def after_colon(head: str, listed: Iterable[str], end: str = ".") -> str:
    """A sentence that ends in a list of names: `The song has: verse, chorus.`"""
    text = names(listed)
    return f"{head}{text}" if text.startswith(ITEM) else f"{head} {text}{end}"


def printable_lines(text: str) -> str:
    """A printable text that keeps the lines of a list of names."""
    return ITEM.join(map(printable, text.split(ITEM)))


def same_values(mapping: Mapping[Key, Value]) -> Iterator[tuple[tuple[Key, ...], Value]]:
    """Each value once, with all keys that have it, in the order of their first keys."""
    left = list(mapping)
    while left:
        value = mapping[left[0]]
        same = tuple(key for key in left if mapping[key] == value)
        left = [key for key in left if key not in same]
        yield same, value
