"""Tab as usually printed: a row for each string, highest first; each character is a cell.

    e|----0---|--------|        a digit is a fret, two adjacent ones a fret from 10 to 24;
    B|--2---2-|2h3---0-|        h and p slur to the next number, / and \\ slide to it;
    G|----2---|----1---|        b bends a whole tone, ~ is vibrato, x is damped.

Text before a row's first bar line is the string's name and is ignored. A bar may set its
own step in any row: `|1/8t: 0--0--|`. Spaces at a bar's ends are padding.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Literal, NamedTuple, cast

from backing.form.comments import without_comment
from backing.theory.rhythm import parse_note_value

STRINGS = 6
HIGHEST_FRET = 24
MAX_CELLS = 4096

Link = Literal["h", "p", "/", "\\"]

_OWN_STEP = re.compile(r"\s*(\d+/\d+t?)\s*:")
_CELLS = "-0123456789hp/\\bx~"


class TabBar(NamedTuple):
    """A bar of tab: the worth of one cell, and six rows of cells, high string first."""

    step_whole: Fraction
    rows: tuple[str, ...]

    @property
    def length_whole(self) -> Fraction:
        """How long the bar lasts, in whole notes."""
        return self.step_whole * len(self.rows[0])


class Riff(NamedTuple):
    """A riff's bars; `step_whole` is what a cell is worth where a bar doesn't say."""

    step_whole: Fraction
    bars: tuple[TabBar, ...]


class TabNote(NamedTuple):
    """One event on a string, at its place in the riff (in whole notes).

    `fret` is None for a damped string. `link` is how the note is reached from the one before
    on its string: h, p, / or \\; None is a fresh pick.
    """

    start_whole: Fraction
    string: int
    fret: int | None
    link: Link | None = None
    bend: bool = False
    shake: bool = False


class TabError(Exception):
    """Tab that can't be read; `offset` counts characters of the tab's text."""

    def __init__(self, offset: int, message: str, fix: str = "") -> None:
        super().__init__(message)
        self.offset, self.message, self.fix = offset, message, fix


class _OpenLink(NamedTuple):
    """A link that waits for its note: its sign, its bar and its cell (from 0)."""

    sign: Link
    bar: int
    cell: int


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


def notes(riff: Riff) -> tuple[TabNote, ...]:
    """A riff's events in order of time, then from the low string to the high one."""
    found = [note for string in range(1, STRINGS + 1) for note in _string(riff, string)]
    return tuple(sorted(found, key=lambda note: (note.start_whole, -note.string)))


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
            for _ in _string(riff, string):
                pass
        except _CellError as problem:
            bar, cell = problem.bar, problem.cell
            raise TabError(pieces[bar].offset + cell, problem.message, problem.fix) from None


class _CellError(Exception):
    def __init__(self, bar: int, cell: int, message: str, fix: str = "") -> None:
        super().__init__(message)
        self.bar, self.cell, self.message, self.fix = bar, cell, message, fix


def _string(riff: Riff, string: int) -> Iterator[TabNote]:
    """One string's events in order of time."""
    walk = _Walk(string)
    start = Fraction(0)
    for number, bar in enumerate(riff.bars):
        yield from walk.bar(number, bar, start)
        start += bar.length_whole
    walk.end()


class _Walk:
    """Reads one string's cells in order; a link may cross a bar line."""

    def __init__(self, string: int) -> None:
        self.string = string
        self.last: TabNote | None = None
        self.link: _OpenLink | None = None

    def bar(self, number: int, bar: TabBar, start: Fraction) -> Iterator[TabNote]:
        """The events of bar `number` (from 0), which starts at `start` in the riff."""
        cells = bar.rows[self.string - 1]
        at = 0
        while at < len(cells):
            place, width = start + at * bar.step_whole, 1
            if cells[at].isdigit():
                self.last, width = self._fretted(cells, at, place, number)
                yield self.last
            elif cells[at] == "x":
                self.last = self._damped(place, number, at)
                yield self.last
            elif cells[at] != "-":
                self._take_sign(cells[at], number, at)
            at += width

    def end(self) -> None:
        """Refuse a link that is still open after the last bar."""
        if self.link is not None:
            sign, bar, cell = self.link
            fix = "Write a number after it on this string."
            raise _CellError(bar, cell, f"{sign} doesn't lead to a note.", fix)

    def _fretted(self, cells: str, at: int, place: Fraction, number: int) -> tuple[TabNote, int]:
        """A fretted note with its link, bend and vibrato, and how many cells it takes."""
        width = _digits(cells, at, number)
        note = TabNote(place, self.string, int(cells[at : at + width]))
        if self.link is not None:
            note = _linked(note, self.link, self.last)
            self.link = None
        while at + width < len(cells) and cells[at + width] in "b~":
            note, width = _shaped(note, cells, at, width, number)
        return note, width

    def _damped(self, place: Fraction, number: int, at: int) -> TabNote:
        if self.link is not None:
            what = f"{self.link.sign} leads to a damped string."
            raise _CellError(number, at, what, "Make it lead to a fret.")
        return TabNote(place, self.string, None)

    def _take_sign(self, sign: str, number: int, at: int) -> None:
        """Open a link; a bend or vibrato without a fret is refused."""
        if sign in "b~":
            fix = "Write it right after its fret: 7b or 7~."
            raise _CellError(number, at, f"{sign} has no fret before it.", fix)
        if self.last is None or self.last.fret is None:
            fix = "Write a number before it on this string."
            raise _CellError(number, at, f"{sign} has no note to start from.", fix)
        if self.link is not None:
            what = f"{sign} follows {self.link.sign} with no note between."
            raise _CellError(number, at, what, "Keep one of the two.")
        self.link = _OpenLink(cast(Link, sign), number, at)


def _digits(cells: str, at: int, number: int) -> int:
    """How many digits a fret takes."""
    width = 1
    while at + width < len(cells) and cells[at + width].isdigit():
        width += 1
    if width > 1 and not (width == 2 and 10 <= int(cells[at : at + 2]) <= HIGHEST_FRET):
        fix = "Adjacent digits are one fret from 10 to 24; for fast notes halve the step."
        raise _CellError(number, at, f"there is no fret {cells[at : at + width]}.", fix)
    return width


def _linked(note: TabNote, link: _OpenLink, last: TabNote | None) -> TabNote:
    """A note reached by a link, which must go the way that its frets go."""
    assert last is not None
    assert last.fret is not None
    assert note.fret is not None
    sign, bar, cell = link
    up = sign in "h/"
    if note.fret == last.fret or (note.fret > last.fret) != up:
        way, other = (
            ("up", {"h": "p", "/": "\\"}.get(sign))
            if up
            else ("down", {"p": "h", "\\": "/"}.get(sign))
        )
        message = f"{sign} goes {way}, but {last.fret} to {note.fret} doesn't."
        fix = (
            f"Write {other} instead."
            if note.fret != last.fret
            else "Play the note again without it."
        )
        raise _CellError(bar, cell, message, fix)
    return note._replace(link=sign)


def _shaped(note: TabNote, cells: str, at: int, width: int, number: int) -> tuple[TabNote, int]:
    """A bend or vibrato after a fret; `7b9` names the bend's target, a whole tone up."""
    if cells[at + width] == "~":
        return note._replace(shake=True), width + 1
    width += 1
    goal = re.match(r"\d+", cells[at + width :])
    if goal:
        assert note.fret is not None
        if int(goal[0]) != note.fret + 2:
            fix = f"Write {note.fret}b, or {note.fret}b{note.fret + 2}."
            raise _CellError(number, at + width, "a bend goes up a whole tone, two frets.", fix)
        width += len(goal[0])
    return note._replace(bend=True), width


def _bars(count: int) -> str:
    return f"{count} bar{'s' * (count != 1)}"
