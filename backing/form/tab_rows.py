"""Tab as usually printed: a row for each string, highest first; each character is a cell.

    e|----0---|--------|
    B|--2---2-|2h3---0-|
    G|----2---|----1---|

Text before a row's first bar line is the string's name; `tab_names` compares it with the tuning.
A row named RH has the letters of the right hand, one a cell (a second such row has more), and one
named PM has = where the palm mutes the strings. A bar may set its own step in any row, as in
`|1/8t: 0--0--|`. Spaces at a bar's ends are padding. What the cells say is in `tab_cells`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.form.comments import without_comment
from backing.form.tab import Riff, TabBar
from backing.form.tab_cells import CELLS, CELLS_IN_WORDS, PALM, picked_in, problems_on
from backing.theory.fretboard import FEWEST_STRINGS, MOST_STRINGS
from backing.theory.rhythm import parse_note_value

MAX_CELLS = 4096

#: What may not stand in a row's name: cells would be lost there.
_NEVER_IN_NAMES = "-0123456789/\\~()<>="
_OWN_STEP = re.compile(r"\s*(\d+/\d+t?)\s*:")


class _Kind(NamedTuple):
    """A kind of row: the name that makes it one, what its cells hold, and that in words."""

    name: str
    cells: str
    in_words: str


_STRING = _Kind("", CELLS, CELLS_IN_WORDS)
_FINGERS = _Kind("RH", "-pima", "A row named RH has p, i, m, a and - for nothing.")
_PALM = _Kind("PM", f"-{PALM}", "A row named PM has = where the palm mutes, and - elsewhere.")


class TabProblem(NamedTuple):
    """What is wrong with a tab, and how to fix it; `offset` counts characters of its text."""

    offset: int
    message: str
    fix: str = ""


class BadTab(Exception):
    """Tab that can't be read: all that is wrong with it, in the order of its text."""

    def __init__(self, problems: Sequence[TabProblem]) -> None:
        super().__init__(problems[0].message)
        self.problems = tuple(sorted(problems))


class RowName(NamedTuple):
    """What stands before a row's first bar line, and where it starts in the text."""

    offset: int
    text: str


class _Piece(NamedTuple):
    """What one row holds between two bar lines, and where it starts in the text."""

    offset: int
    cells: str
    step: Fraction | None


class _Row(NamedTuple):
    """A row and its bars, which are empty where it has no bar lines."""

    name: RowName
    pieces: tuple[_Piece, ...]
    kind: _Kind = _STRING


def read_riff(step_whole: Fraction, text: str) -> Riff:
    """Read a tab block.

    Args:
        step_whole: what one cell is worth, in whole notes.
        text: four to eight rows, one a line, and rows for the fingers and the palm.

    Raises:
        BadTab: everything that can't be read, at its place.
    """
    reader = _Reader()
    rows = [reader.row(line, offset) for offset, line in _lines(text)]
    reader.check_number_of_rows(rows, text)
    whole = [row for row in rows if row.pieces]
    reader.check_bars([row for row in whole if row.kind is _STRING], whole)
    for row in whole:
        if row.kind is _STRING:
            reader.check_cells(row)
    if not reader.problems:
        reader.check_fingers(rows)
    if reader.problems:
        raise BadTab(reader.problems)
    bars = tuple(_bar(rows, index, step_whole) for index in range(len(rows[0].pieces)))
    if sum(len(bar.rows[0]) for bar in bars) > MAX_CELLS:
        what = f"this riff has more than {MAX_CELLS} cells."
        raise BadTab([TabProblem(0, what, "Repeat a shorter one.")])
    return Riff(step_whole, bars)


def row_names(text: str) -> list[RowName]:
    """The names of a tab's strings, from the top row; "" where a row has none."""
    names = [_name(line, offset) for offset, line in _lines(text)]
    return [name for name in names if _kind_of(name) is _STRING]


def _lines(text: str) -> Iterator[tuple[int, str]]:
    """Lines with something in them, and where each starts."""
    offset = 0
    for line in text.split("\n"):
        if (row := without_comment(line)).strip():
            yield offset, row
        offset += len(line) + 1


def _name(line: str, offset: int) -> RowName:
    name = line.partition("|")[0]
    return RowName(offset + len(name) - len(name.lstrip()), name.strip())


def _kind_of(name: RowName) -> _Kind:
    letters = re.sub(r"[\s.]", "", name.text).upper()
    return next((kind for kind in (_FINGERS, _PALM) if kind.name == letters), _STRING)


class _Reader:
    """Reads rows of tab, and notes all that is wrong with them."""

    def __init__(self) -> None:
        self.problems: list[TabProblem] = []

    def _report(self, offset: int, message: str, fix: str = "") -> None:
        self.problems.append(TabProblem(offset, message, fix))

    def row(self, line: str, offset: int) -> _Row:
        """A row's bars."""
        name, bar_line, rest = line.partition("|")
        if not bar_line:
            fix = "Write it as e|--0-|, with a bar line at each end."
            self._report(offset, "this row of tab has no bar lines.", fix)
            return _Row(_name("", offset), ())
        if any(char in _NEVER_IN_NAMES for char in name):
            what = "there are cells before this row's first bar line."
            self._report(offset, what, "Start the row as e|--0-|.")
            return _Row(_name("", offset), ())
        pieces, at = [], offset + len(name) + 1
        if not rest.rstrip().endswith("|"):
            what = "this row of tab doesn't end with a bar line."
            self._report(offset + len(line.rstrip()), what, "Add a | at its end.")
            rest = rest.rstrip() + "|"
        named = _name(line, offset)
        kind = _kind_of(named)
        for cells in rest.rstrip()[:-1].split("|"):
            pieces.append(self._piece(cells, at, kind))
            at += len(cells) + 1
        return _Row(named, tuple(pieces), kind)

    def _piece(self, text: str, at: int, kind: _Kind) -> _Piece:
        step = None
        if own := _OWN_STEP.match(text):
            try:
                step = parse_note_value(own[1])
            except ValueError as error:
                self._report(at + own.start(1), f"{error}.")
            at, text = at + own.end(), text[own.end() :]
        start = at + len(text) - len(text.lstrip())
        cells = text.strip()
        for unread in re.finditer(rf"[^{re.escape(kind.cells)}]+", cells):
            char = unread[0][0]
            what = "a space" if char.isspace() else f"{char!r}"
            what = f"can't read {what} as a cell of tab."
            self._report(start + unread.start(), what, kind.in_words)
        if not cells:
            self._report(at, "this bar of tab is empty.", "Write a - for every cell.")
        return _Piece(start, cells, step)

    def check_number_of_rows(self, rows: Sequence[_Row], text: str) -> None:
        """There are as many rows as an instrument may have strings, and one of the palm at most."""
        strings = [row for row in rows if row.kind is _STRING]
        if not FEWEST_STRINGS <= len(strings) <= MOST_STRINGS:
            few = len(strings) < FEWEST_STRINGS
            at = len(text.rstrip()) if few else strings[MOST_STRINGS].name.offset
            what = f"this tab has {len(strings)} row{'s' * (len(strings) != 1)}."
            fix = "Write one for each string, highest first: six for a guitar, four for a ukulele."
            self._report(at, what, fix)
        for row in [row for row in rows if row.kind is _PALM][1:]:
            self._report(row.name.offset, "this tab already has a row named PM.", "Keep one.")

    def check_bars(self, strings: Sequence[_Row], every: Sequence[_Row]) -> None:
        """All rows have as many bars, those of one place as many cells, and one step."""
        rows = [*strings, *(row for row in every if row.kind is not _STRING)]
        counts = [len(row.pieces) for row in rows]
        for odd, others in _odd_ones(counts):
            than = "the top one has" if odd else "the others have"
            row = "string" if rows[odd].kind is _STRING else "row"
            what = f"this {row} has {_bars(counts[odd])}, but {than} {_bars(others)}."
            fix = "Give every row the same bar lines."
            self._report(rows[odd].pieces[-1].offset, what, fix)
        if len(set(counts)) != 1:
            return
        for index in range(counts[0]):
            self._check_bar([row.pieces[index] for row in rows if row.pieces[index].cells])

    def _check_bar(self, pieces: Sequence[_Piece]) -> None:
        widths = [len(piece.cells) for piece in pieces]
        for odd, others in _odd_ones(widths):
            than = "on the top string" if odd else "on the others"
            what = f"this bar has {widths[odd]} cells here and {others} {than}."
            self._report(pieces[odd].offset, what, "Line up the bar lines.")
        if len({piece.step for piece in pieces if piece.step is not None}) > 1:
            what = "this bar sets two steps."
            self._report(pieces[0].offset, what, "Set one, on its top string.")

    def check_fingers(self, rows: Sequence[_Row]) -> None:
        """Each letter has a string that is picked in its cell, and none is there twice."""
        strings = [row for row in rows if row.kind is _STRING]
        hands = [row for row in rows if row.kind is _FINGERS]
        for index in range(len(strings[0].pieces)) if hands else ():
            picked = picked_in([row.pieces[index].cells for row in strings])
            before: dict[int, str] = {}
            for row in hands:
                piece = row.pieces[index]
                for cell, letter in enumerate(piece.cells):
                    if letter == "-":
                        continue
                    others = before.setdefault(cell, "")
                    before[cell] += letter
                    if letter in others:
                        what, fix = f"{letter} is there twice.", "Keep one of the two."
                    elif len(others) >= picked.get(cell, 0):
                        what = f"{letter} has no string to pick here."
                        fix = "Write each letter above or below the number that it picks."
                    else:
                        continue
                    self._report(piece.offset + cell, what, fix)

    def check_cells(self, row: _Row) -> None:
        """What is wrong on one string, at its places in the text."""
        for bar, cell, message, fix in problems_on([piece.cells for piece in row.pieces]):
            self._report(row.pieces[bar].offset + cell, message, fix)


def _odd_ones(numbers: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Which numbers differ from the first, and the first; or the first, if all others agree."""
    if len(numbers) > 2 and len(set(numbers[1:])) == 1 and numbers[0] != numbers[1]:
        yield 0, numbers[1]
        return
    yield from ((at, numbers[0]) for at, number in enumerate(numbers) if number != numbers[0])


def _bar(rows: Sequence[_Row], index: int, step_whole: Fraction) -> TabBar:
    pieces = [(row.kind, row.pieces[index]) for row in rows]
    step = next((piece.step for _, piece in pieces if piece.step is not None), step_whole)
    cells = {
        kind: tuple(piece.cells for each, piece in pieces if each is kind)
        for kind in (_STRING, _FINGERS, _PALM)
    }
    return TabBar(step, cells[_STRING], cells[_FINGERS], "".join(cells[_PALM]))


def _bars(count: int) -> str:
    return f"{count} bar{'s' * (count != 1)}"
