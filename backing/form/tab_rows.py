"""Tab as usually printed: a row for each string, highest first; each character is a cell.

    e|----0---|--------|
    B|--2---2-|2h3---0-|
    G|----2---|----1---|

Text before a row's first bar line is the string's name and is ignored. A bar may set its
own step in any row: `|1/8t: 0--0--|`. Spaces at a bar's ends are padding. What the cells say is
in `tab`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.form.comments import without_comment
from backing.form.tab import STRINGS, CellError, Riff, TabBar, events_on
from backing.theory.rhythm import parse_note_value

MAX_CELLS = 4096

_OWN_STEP = re.compile(r"\s*(\d+/\d+t?)\s*:")
_CELLS = "-0123456789hp/\\bx~"


class TabError(Exception):
    """Tab that can't be read; `offset` counts characters of the tab's text."""

    def __init__(self, offset: int, message: str, fix: str = "") -> None:
        super().__init__(message)
        self.offset, self.message, self.fix = offset, message, fix


class _Piece(NamedTuple):
    """What one row holds between two bar lines, and where it starts in the text."""

    offset: int
    cells: str
    step: Fraction | None


def read_riff(step_whole: Fraction, text: str) -> Riff:
    """Read a tab block.

    Args:
        step_whole: what one cell is worth, in whole notes.
        text: six rows, one a line.

    Raises:
        TabError: the first thing that can't be read, at its place.
    """
    rows = [_row(line, offset) for offset, line in _lines(text)]
    if len(rows) != STRINGS:
        at = len(text.rstrip()) if len(rows) < STRINGS else rows[STRINGS][0].offset
        raise TabError(
            at, f"this tab has {len(rows)} rows.", "Write six, one for each string, highest first."
        )
    counts = [len(row) for row in rows]
    if len(set(counts)) > 1:
        odd = next(index for index, count in enumerate(counts) if count != counts[0])
        fix = "Give every row the same bar lines."
        message = f"this string has {_bars(counts[odd])}, but the top one has {_bars(counts[0])}."
        raise TabError(rows[odd][-1].offset, message, fix)
    bars = tuple(_bar([row[index] for row in rows], step_whole) for index in range(counts[0]))
    if sum(len(bar.rows[0]) for bar in bars) > MAX_CELLS:
        raise TabError(0, f"this riff has more than {MAX_CELLS} cells.", "Repeat a shorter one.")
    riff = Riff(step_whole, bars)
    _check_notes(riff, rows)
    return riff


def _lines(text: str) -> Iterator[tuple[int, str]]:
    """Lines with something in them, and where each starts."""
    offset = 0
    for line in text.split("\n"):
        if (row := without_comment(line)).strip():
            yield offset, row
        offset += len(line) + 1


def _row(line: str, offset: int) -> list[_Piece]:
    name, bar_line, rest = line.partition("|")
    if not bar_line:
        raise TabError(
            offset,
            "this row of tab has no bar lines.",
            "Write it as e|--0-|, with a bar line at each end.",
        )
    if any(char in _CELLS and not char.isalpha() for char in name):
        raise TabError(
            offset, "there are cells before this row's first bar line.", "Start the row as e|--0-|."
        )
    if not rest.rstrip().endswith("|"):
        raise TabError(
            offset + len(line.rstrip()),
            "this row of tab doesn't end with a bar line.",
            "Add a | at its end.",
        )
    pieces, at = [], offset + len(name) + 1
    for cells in rest.rstrip()[:-1].split("|"):
        pieces.append(_piece(cells, at))
        at += len(cells) + 1
    return pieces


def _piece(text: str, at: int) -> _Piece:
    step = None
    if own := _OWN_STEP.match(text):
        try:
            step = parse_note_value(own[1])
        except ValueError as error:
            raise TabError(at + own.start(1), f"{error}.") from None
        at, text = at + own.end(), text[own.end() :]
    start = at + len(text) - len(text.lstrip())
    cells = text.strip()
    for index, char in enumerate(cells):
        if char not in _CELLS:
            what = "a space" if char.isspace() else f"{char!r}"
            fix = "Cells are - for nothing, digits, and h p / \\ b x ~."
            raise TabError(start + index, f"can't read {what} as a cell of tab.", fix)
    if not cells:
        raise TabError(at, "this bar of tab is empty.", "Write a - for every cell.")
    return _Piece(start, cells, step)


def _bar(pieces: Sequence[_Piece], step_whole: Fraction) -> TabBar:
    wanted = len(pieces[0].cells)
    for piece in pieces:
        if len(piece.cells) != wanted:
            message = f"this bar has {len(piece.cells)} cells here and {wanted} on the top string."
            raise TabError(piece.offset, message, "Line up the bar lines.")
    steps = {piece.step for piece in pieces if piece.step is not None}
    if len(steps) > 1:
        raise TabError(pieces[0].offset, "this bar sets two steps.", "Set one, on its top string.")
    return TabBar(steps.pop() if steps else step_whole, tuple(piece.cells for piece in pieces))


def _check_notes(riff: Riff, rows: Sequence[Sequence[_Piece]]) -> None:
    """Walk every string for its problems, turning cells into places in the text."""
    for string in range(1, STRINGS + 1):
        pieces = rows[string - 1]
        try:
            for _ in events_on(riff, string):
                pass
        except CellError as problem:
            bar, cell = problem.bar, problem.cell
            raise TabError(pieces[bar].offset + cell, problem.message, problem.fix) from None


def _bars(count: int) -> str:
    return f"{count} bar{'s' * (count != 1)}"
