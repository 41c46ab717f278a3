"""The signs in the cells of tab: what each string plays, and when.

A digit is a fret, two adjacent ones a fret from 10 to 24; `h` and `p` slur to the next number,
`/` and `\\` slide to it; `b` bends a whole tone, `~` is vibrato, `x` is damped. The rows
that the cells stand in are read in `tab_rows`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from typing import Literal, NamedTuple, cast

STRINGS = 6
HIGHEST_FRET = 24

Link = Literal["h", "p", "/", "\\"]


class TabBar(NamedTuple):
    """A bar of tab: the worth of one cell, and six rows of cells, high string first."""

    step_whole: Fraction
    rows: tuple[str, ...]

    @property
    def length_whole(self) -> Fraction:
        """How long the bar lasts, in whole notes."""
        return self.step_whole * len(self.rows[0])


class Riff(NamedTuple):
    """A riff's bars; `step_whole` is what a cell is worth where a bar doesn't say.

    With `plays_through` it goes on where a chord's `(stop)` silences everything else.
    """

    step_whole: Fraction
    bars: tuple[TabBar, ...]
    plays_through: bool = False


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


class CellError(Exception):
    """A cell of tab that can't be read; its bar and its cell count from 0."""

    def __init__(self, bar: int, cell: int, message: str, fix: str = "") -> None:
        super().__init__(message)
        self.bar, self.cell, self.message, self.fix = bar, cell, message, fix


class _OpenLink(NamedTuple):
    """A link that waits for its note: its sign, its bar and its cell (from 0)."""

    sign: Link
    bar: int
    cell: int


def notes(riff: Riff) -> tuple[TabNote, ...]:
    """A riff's events in order of time, then from the low string to the high one."""
    found = [note for string in range(1, STRINGS + 1) for note in events_on(riff, string)]
    return tuple(sorted(found, key=lambda note: (note.start_whole, -note.string)))


def events_on(riff: Riff, string: int) -> Iterator[TabNote]:
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
            raise CellError(bar, cell, f"{sign} doesn't lead to a note.", fix)

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
            raise CellError(number, at, what, "Make it lead to a fret.")
        return TabNote(place, self.string, None)

    def _take_sign(self, sign: str, number: int, at: int) -> None:
        """Open a link; a bend or vibrato without a fret is refused."""
        if sign in "b~":
            fix = "Write it right after its fret: 7b or 7~."
            raise CellError(number, at, f"{sign} has no fret before it.", fix)
        if self.last is None or self.last.fret is None:
            fix = "Write a number before it on this string."
            raise CellError(number, at, f"{sign} has no note to start from.", fix)
        if self.link is not None:
            what = f"{sign} follows {self.link.sign} with no note between."
            raise CellError(number, at, what, "Keep one of the two.")
        self.link = _OpenLink(cast(Link, sign), number, at)


def _digits(cells: str, at: int, number: int) -> int:
    """How many digits a fret takes."""
    width = 1
    while at + width < len(cells) and cells[at + width].isdigit():
        width += 1
    if width > 1 and not (width == 2 and 10 <= int(cells[at : at + 2]) <= HIGHEST_FRET):
        fix = "Adjacent digits are one fret from 10 to 24; for fast notes halve the step."
        raise CellError(number, at, f"there is no fret {cells[at : at + width]}.", fix)
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
        raise CellError(bar, cell, message, fix)
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
            raise CellError(number, at + width, "a bend goes up a whole tone, two frets.", fix)
        width += len(goal[0])
    return note._replace(bend=True), width
