"""Tab moved along the neck: every fret higher or lower, the rhythm unchanged.

Where a fret gets a second digit for which its cell has no room, the bar is written in
cells half as long.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from backing.form.tab import HIGHEST_FRET, Riff, TabBar
from backing.form.tab_cells import notes

_FRET = re.compile(r"([0-9]{1,2})((?:b[0-9]*|~)*)")
_TOKEN = re.compile(r"[0-9]{1,2}(?:b[0-9]*|~)*|[hp/\\x]")


def span(riff: Riff) -> tuple[int, int]:
    """A riff's lowest and highest fret; both 0 if it has no frets."""
    frets = [note.fret for note in notes(riff) if note.fret is not None]
    return (min(frets), max(frets)) if frets else (0, 0)


def shifted(riff: Riff, frets: int) -> Riff:
    """A riff `frets` frets higher (below 0: lower).

    Raises:
        ValueError: a fret would be below 0 or above 24.
    """
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
            return TabBar(bar.step_whole / times, whole)
    raise AssertionError("two cells hold a fret of two digits")


def _tokens(row: str, frets: int) -> Iterator[tuple[int, str]]:
    """Each sign of a row with its cell, its fret raised."""
    for found in _TOKEN.finditer(row):
        token = found[0]
        if fret := _FRET.fullmatch(token):
            goals = re.sub("[0-9]+", lambda goal: str(int(goal[0]) + frets), fret[2])
            token = f"{int(fret[1]) + frets}{goals}"
        yield found.start(), token


def _row(tokens: list[tuple[int, str]], cells: int, times: int) -> str | None:
    """A row of tokens in cells `times` as fine; None where two tokens would run together."""
    row = ""
    for cell, token in tokens:
        at = cell * times
        if at < len(row) or (at == len(row) and row[-1:].isdigit() and token[0].isdigit()):
            return None
        row += "-" * (at - len(row)) + token
    return row + "-" * (cells * times - len(row)) if len(row) <= cells * times else None
