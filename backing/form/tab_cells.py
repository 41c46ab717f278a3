"""The signs in the cells of tab: what each string plays, and when.

A digit is a fret, two adjacent ones a fret from 10 to 24; `h` and `p` slur to the next number,
`/` and `\\` slide to it; `b` bends a whole tone, `~` is vibrato, `x` is damped. A sign
of several characters takes as many cells and is played at the first of them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate
from typing import NamedTuple, cast

from backing.form.tab import HIGHEST_FRET, Link, Riff, TabNote

#: Every character that a cell may hold.
CELLS = "-0123456789hp/\\bx~"

_SIGN = re.compile(r"(?P<fret>\d+)|(?P<damped>x)|(?P<link>[hp/\\])|(?P<shape>[b~])")
_SHAPE = re.compile(r"b(?P<goal>\d*)|~")


class CellProblem(NamedTuple):
    """What is wrong on a string, and how to fix it; `bar` and `cell` count from 0."""

    bar: int
    cell: int
    message: str
    fix: str


class _OpenLink(NamedTuple):
    """A link that waits for its note: its sign, its bar and its cell (from 0)."""

    sign: Link
    bar: int
    cell: int


def notes(riff: Riff) -> tuple[TabNote, ...]:
    """A riff's events in order of time, then from the low string to the high one."""
    strings = range(1, len(riff.bars[0].rows) + 1)
    found = [note for string in strings for note in _notes_on(riff, string)]
    return tuple(sorted(found, key=lambda note: (note.start_whole, -note.string)))


def problems_on(cells: Sequence[str]) -> list[CellProblem]:
    """All that is wrong with one string, whose cells are given bar by bar."""
    walk = _Walk(cells, 1)
    for _ in walk.notes():
        pass
    return walk.problems


def _notes_on(riff: Riff, string: int) -> Iterator[TabNote]:
    """One string's events in order of time."""
    starts = list(accumulate((bar.length_whole for bar in riff.bars[:-1]), initial=Fraction(0)))
    for number, cell, note in _Walk([bar.rows[string - 1] for bar in riff.bars], string).notes():
        at = starts[number] + cell * riff.bars[number].step_whole
        yield note._replace(start_whole=at)


class _Walk:
    """Reads one string's cells in order, bar by bar; a link may cross a bar line.

    After a sign that can't be read, what follows it isn't judged by it.
    """

    def __init__(self, cells: Sequence[str], string: int) -> None:
        self.cells = cells
        self.string = string
        self.problems: list[CellProblem] = []
        self.last: TabNote | None = None
        self.link: _OpenLink | None = None
        self.is_lost = False

    def notes(self) -> Iterator[tuple[int, int, TabNote]]:
        """Each event with its bar and its cell; its own place isn't known yet, and is 0."""
        for bar, cells in enumerate(self.cells):
            at = 0
            while sign := _SIGN.search(cells, at):
                at = sign.end()
                if sign["link"]:
                    self._open_link(cast(Link, sign["link"]), bar, sign.start())
                elif sign["shape"]:
                    fix = "Write it right after its fret: 7b or 7~."
                    what = f"{sign['shape']} has no fret before it."
                    self._report(bar, sign.start(), what, fix)
                else:
                    note = self._damped(bar, sign.start()) if sign["damped"] else None
                    if sign["fret"]:
                        note, at = self._fretted(sign, bar)
                    self.last, self.link, self.is_lost = note, None, note is None
                    if note is not None:
                        yield bar, sign.start(), note
        if self.link is not None:
            what = f"{self.link.sign} doesn't lead to a note."
            fix = "Write a number after it on this string."
            self._report(self.link.bar, self.link.cell, what, fix)

    def _report(self, bar: int, cell: int, message: str, fix: str) -> None:
        self.problems.append(CellProblem(bar, cell, message, fix))

    def _fretted(self, sign: re.Match[str], bar: int) -> tuple[TabNote | None, int]:
        """A fretted note with its link, bend and vibrato, if it can be read; and its end."""
        before = len(self.problems)
        digits, at = sign["fret"], sign.end()
        if len(digits) > 1 and not (len(digits) == 2 and 10 <= int(digits) <= HIGHEST_FRET):
            fix = "Adjacent digits are one fret from 10 to 24; for fast notes halve the step."
            self._report(bar, sign.start(), f"there is no fret {digits}.", fix)
            digits = digits[0]
        note = TabNote(Fraction(0), self.string, int(digits))
        sound = len(self.problems) == before
        while shape := _SHAPE.match(sign.string, at):
            note = self._shaped(note, shape, bar, sound)
            at = shape.end()
        if self.link is not None and not self.is_lost and sound:
            note = self._linked(note, self.link)
        return (note if sound else None), at

    def _shaped(self, note: TabNote, shape: re.Match[str], bar: int, sound: bool) -> TabNote:
        """A note with a bend or vibrato; `7b9` names the bend's target, a whole tone up."""
        if shape[0] == "~":
            return note._replace(shake=True)
        assert note.fret is not None
        if shape["goal"] and sound and int(shape["goal"]) != note.fret + 2:
            fix = f"Write {note.fret}b, or {note.fret}b{note.fret + 2}."
            what = "a bend goes up a whole tone, two frets."
            self._report(bar, shape.start("goal"), what, fix)
        return note._replace(bend=True)

    def _damped(self, bar: int, cell: int) -> TabNote:
        if self.link is not None:
            what = f"{self.link.sign} leads to a damped string."
            self._report(bar, cell, what, "Make it lead to a fret.")
        return TabNote(Fraction(0), self.string, None)

    def _open_link(self, sign: Link, bar: int, cell: int) -> None:
        if self.link is not None:
            what = f"{sign} follows {self.link.sign} with no note between."
            self._report(bar, cell, what, "Keep one of the two.")
            return
        if not self.is_lost and (self.last is None or self.last.fret is None):
            fix = "Write a number before it on this string."
            self._report(bar, cell, f"{sign} has no note to start from.", fix)
            self.is_lost = True
        self.link = _OpenLink(sign, bar, cell)

    def _linked(self, note: TabNote, link: _OpenLink) -> TabNote:
        """A note reached by a link, which must go the way that its frets go."""
        assert self.last is not None
        assert self.last.fret is not None
        assert note.fret is not None
        sign, start, goal = link.sign, self.last.fret, note.fret
        up = sign in "h/"
        if goal == start or (goal > start) != up:
            other = {"h": "p", "p": "h", "/": "\\", "\\": "/"}[sign]
            what = f"{sign} goes {'up' if up else 'down'}, but {start} to {goal} doesn't."
            same = "Play the note again without it."
            fix = same if goal == start else f"Write {other} instead."
            self._report(link.bar, link.cell, what, fix)
        return note._replace(link=sign)
