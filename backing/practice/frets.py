"""Tab moved along the neck: every fret higher or lower, the rhythm unchanged.

Where a fret gets a second digit for which its cell has no room, the bar is written in
cells half as long. Natural harmonics can't be moved: each has its place on the string.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from backing.form.tab import HIGHEST_FRET, Riff, TabBar
from backing.form.tab_cells import has_harmonics, span

#: A digit right after one of these would be read as a part of the same sign.
_TAKES_DIGITS = tuple("0123456789b")
_SIGN = re.compile(r"[(<]?[0-9]{1,2}[)>]?(?:b[0-9]*|~|\.)*|[hp/\\xr]")


def shifted(riff: Riff, frets: int) -> Riff:
    """A riff `frets` frets higher (below 0: lower).

    Raises:
        ValueError: a fret would be below 0 or above 24, or the riff has natural harmonics.
    """
    if frets and has_harmonics(riff):
        raise ValueError("natural harmonics can't be moved along the neck")
    lowest, highest = span(riff)
    if lowest + frets < 0 or highest + frets > HIGHEST_FRET:
        raise ValueError(f"frets {lowest} to {highest} don't fit on the neck {frets:+d} frets away")
    if not frets:
        return riff
    return riff._replace(bars=tuple(_bar(bar, frets) for bar in riff.bars))


def _bar(bar: TabBar, frets: int) -> TabBar:
    """The bar in its own cells or, where those are too narrow, in cells half as long."""
    tokens = [list(_tokens(row, frets)) for row in bar.rows]
    for times in (1, 2):
        rows = [_row(of_row, len(bar.rows[0]), times) for of_row in tokens]
        whole = tuple(row for row in rows if row is not None)
        if len(whole) == len(rows):
            fingers = tuple(_finer(row, times, "-") for row in bar.fingers)
            return TabBar(bar.step_whole / times, whole, fingers, _finer(bar.palm, times))
    raise AssertionError("two cells hold a fret of two digits")


def _tokens(row: str, frets: int) -> Iterator[tuple[int, str]]:
    """Each sign of a row with its cell, its fret raised."""
    for found in _SIGN.finditer(row):
        yield found.start(), re.sub("[0-9]+", lambda fret: str(int(fret[0]) + frets), found[0])


def _finer(row: str, times: int, between: str = "") -> str:
    """A row of the hand or the palm in cells `times` as fine, with `between` in the new ones."""
    return "".join(cell + (between or cell) * (times - 1) for cell in row)


def _row(tokens: list[tuple[int, str]], cells: int, times: int) -> str | None:
    """A row of tokens in cells `times` as fine; None where two tokens would run together."""
    row = ""
    for cell, token in tokens:
        at = cell * times
        if at < len(row) or (at == len(row) and row[-1:] in _TAKES_DIGITS and token[0].isdigit()):
            return None
        row += "-" * (at - len(row)) + token
    return row + "-" * (cells * times - len(row)) if len(row) <= cells * times else None
