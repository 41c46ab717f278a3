"""Ranges of numbers as JSON Schema: of numbers, and by a regular expression of numbers in quotes.

A sign and zeros before a number are taken, as the reader takes them.
"""

from __future__ import annotations


def whole_between(low: int, high: int) -> dict[str, object]:
    """Whole numbers from `low` to `high`, which is 0 or above."""
    below = f"|-0*({_between(0, -low)})" if low <= 0 else ""
    quoted = rf"^\s*(\+?0*({_between(max(low, 0), high)}){below})\s*$"
    return {"type": ["integer", "string"], "minimum": low, "maximum": high, "pattern": quoted}


def decimal_between(low: int, high: int) -> dict[str, object]:
    """Decimals from `low` to `high` (0 <= low < high); in quotes with at most six places."""
    quoted = rf"^\s*0*(({_between(low, high - 1)})(\.[0-9]{{1,6}})?|{high}(\.0{{1,6}})?)\s*$"
    return {"type": ["number", "string"], "minimum": low, "maximum": high, "pattern": quoted}


def _between(low: int, high: int) -> str:
    """Whole numbers from 0 up, one branch for each number of digits and each bound's digits."""
    branches = []
    for size in range(len(str(low)), len(str(high)) + 1):
        first = max(low, 10 ** (size - 1) if size > 1 else 0)
        branches += _same_size(str(first), str(min(high, 10**size - 1)))
    return "|".join(branches)


def _same_size(first: str, last: str) -> list[str]:
    if not first:
        return [""]
    if first[0] == last[0]:
        return [first[0] + rest for rest in _same_size(first[1:], last[1:])]
    size = len(first) - 1
    if first[1:] == "0" * size and last[1:] == "9" * size:
        return [f"[{first[0]}-{last[0]}]" + "[0-9]" * size]
    if first[1:] != "0" * size:
        head = [first[0] + rest for rest in _same_size(first[1:], "9" * size)]
        return head + _same_size(str(int(first[0]) + 1) + "0" * size, last)
    tail = [last[0] + rest for rest in _same_size("0" * size, last[1:])]
    return [*_same_size(first, str(int(last[0]) - 1) + "9" * size), *tail]
