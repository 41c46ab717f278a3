"""The signs in the cells of tab: what each string plays, and when.

A digit is a fret, two adjacent ones a fret from 10 to 24; `(5)` is a ghost note and `<12>` a
natural harmonic; `h` and `p` slur to the next number, `/` and `\\` slide to it; after a fret
`b` bends a whole tone, `~` is vibrato and `.` is short; `x` is damped, and `r` is a rest, which
silences the string. A sign of several characters takes as many cells and is played at the first.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate
from typing import NamedTuple, cast

from backing.form.tab import HIGHEST_FRET, Link, Riff, TabNote
from backing.theory.fretboard import Neck
from backing.theory.harmonics import NATURAL_HARMONICS

#: Every character that a cell may hold, and how to say so.
CELLS = "-0123456789hp/\\bx~r.()<>"
CELLS_IN_WORDS = "Cells are - for nothing, digits, (5), <12>, and h p / \\ b ~ . x r."

#: What a cell of the palm's row holds where the palm lies on the strings.
PALM = "="

_SIGN = re.compile(
    r"(?P<open>[(<]?)(?P<fret>\d+)(?P<close>[)>]?)"
    r"|(?P<alone>[xr])|(?P<link>[hp/\\])|(?P<shape>[b~.])|(?P<bracket>[()<>])"
)
_SHAPE = re.compile(r"b(?P<goal>\d*)|~|\.")


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


@lru_cache(maxsize=64)
def notes(riff: Riff) -> tuple[TabNote, ...]:
    """A riff's events in order of time, then from the low string to the high one."""
    strings = range(1, len(riff.bars[0].rows) + 1)
    found = [note for string in strings for note in _notes_on(riff, string)]
    return tuple(sorted(found, key=lambda note: (note.start_whole, -note.string)))


@lru_cache(maxsize=64)
def notes_by_bar(riff: Riff) -> tuple[Sequence[tuple[Fraction, TabNote]], ...]:
    """Each bar's events in order, with their places from its bar line in whole notes."""
    starts = list(accumulate((bar.length_whole for bar in riff.bars[:-1]), initial=Fraction(0)))
    found: tuple[list[tuple[Fraction, TabNote]], ...] = tuple([] for _ in starts)
    for note in notes(riff):
        number = bisect_right(starts, note.start_whole) - 1
        found[number].append((note.start_whole - starts[number], note))
    return found


@lru_cache(maxsize=64)
def span(riff: Riff) -> tuple[int, int]:
    """A riff's lowest and highest fret; both 0 if it has no frets."""
    frets = [note.fret for note in notes(riff) if note.fret is not None]
    return min(frets, default=0), max(frets, default=0)


def has_harmonics(riff: Riff) -> bool:
    """Whether a riff has natural harmonics."""
    return any(note.harmonic for note in notes(riff))


def fixed_by(riff: Riff, neck: Neck) -> str:
    """What a riff has that can't be moved along the neck, in words; "" where all can be."""
    if has_harmonics(riff):
        return "natural harmonics"
    if neck.has_short_string and any(
        note.fret is not None and note.string == riff.strings for note in notes(riff)
    ):
        return "notes on the short string"
    return ""


def letters(riff: Riff) -> dict[Fraction, str]:
    """The letters of the right hand, from p to a, by their place in the riff in whole notes."""
    found = {}
    start = Fraction(0)
    for bar in riff.bars:
        for cell, column in enumerate(zip(*bar.fingers, strict=True)):
            plucking = sorted(set(column) - {"-"}, key="pima".index)
            if plucking:
                found[start + cell * bar.step_whole] = "".join(plucking)
        start += bar.length_whole
    return found


def problems_on(cells: Sequence[str]) -> list[CellProblem]:
    """All that is wrong with one string, whose cells are given bar by bar."""
    walk = _Walk(cells, 1)
    for _ in walk.notes():
        pass
    return walk.problems


def picked_in(bar: Sequence[str]) -> dict[int, int]:
    """How many strings are picked in each cell of a bar, whose rows of cells are given.

    A slur or slide that leads over the bar line counts as picked.
    """
    found: dict[int, int] = {}
    for cells in bar:
        for _, cell, note in _Walk([cells], 1).notes():
            if note.is_picked:
                found[cell] = found.get(cell, 0) + 1
    return found


def _notes_on(riff: Riff, string: int) -> Iterator[TabNote]:
    """One string's events in order of time."""
    starts = list(accumulate((bar.length_whole for bar in riff.bars[:-1]), initial=Fraction(0)))
    for number, cell, note in _Walk([bar.rows[string - 1] for bar in riff.bars], string).notes():
        bar = riff.bars[number]
        muted = bar.palm[cell : cell + 1] == PALM and not note.rests
        yield note._replace(start_whole=starts[number] + cell * bar.step_whole, muted=muted)


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
                elif sign["shape"] or sign["bracket"]:
                    self._refuse(sign[0], bar, sign.start())
                else:
                    note = self._alone(sign["alone"], bar, sign.start()) if sign["alone"] else None
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

    def _refuse(self, sign: str, bar: int, cell: int) -> None:
        """A sign that stands without its fret."""
        if sign in "()<>":
            fix = "Write (5) for a ghost note, and <12> for a natural harmonic."
            self._report(bar, cell, f"{sign} has no fret next to it.", fix)
            return
        fix = f"Write it right after its fret: 7{sign}"
        self._report(bar, cell, f"{sign} has no fret before it.", fix)

    def _fretted(self, sign: re.Match[str], bar: int) -> tuple[TabNote | None, int]:
        """A fretted note with its link and what follows it, if it can be read; and its end."""
        at, is_good = sign.end(), self._check_fret(sign, bar)
        note = TabNote(
            Fraction(0),
            self.string,
            int(sign["fret"][:2]),
            harmonic=sign["open"] == "<",
            ghost=sign["open"] == "(",
        )
        while shape := _SHAPE.match(sign.string, at):
            note = self._shaped(note, shape, bar, is_good)
            at = shape.end()
        if self.link is not None and not self.is_lost and is_good:
            note = self._linked(note, self.link)
        return (note if is_good else None), at

    def _check_fret(self, sign: re.Match[str], bar: int) -> bool:
        """Whether a fret and its brackets can be read; what is wrong with them is noted."""
        digits, pair = sign["fret"], sign["open"] + sign["close"]
        if len(digits) > 1 and not (len(digits) == 2 and 10 <= int(digits) <= HIGHEST_FRET):
            fix = "Adjacent digits are one fret from 10 to 24; for fast notes halve the step."
            self._report(bar, sign.start("fret"), f"there is no fret {digits}.", fix)
            return False
        if pair not in ("", "()", "<>"):
            fix = f"Write ({digits}) for a ghost note, and <12> for a natural harmonic."
            self._report(bar, sign.start(), f"{sign[0]} has one bracket.", fix)
            return False
        if pair == "<>" and int(digits) not in NATURAL_HARMONICS:
            *others, last = map(str, NATURAL_HARMONICS)
            what = f"there is no natural harmonic at fret {digits}."
            self._report(bar, sign.start(), what, f"Write {', '.join(others)} or {last}.")
            return False
        return True

    def _shaped(self, note: TabNote, shape: re.Match[str], bar: int, is_good: bool) -> TabNote:
        """A note with a bend, vibrato or dot; `7b9` names the bend's target, a whole tone up."""
        if shape[0] == ".":
            return note._replace(short=True)
        assert note.fret is not None
        if note.harmonic:
            what = f"a harmonic can't have {shape[0]}."
            self._report(bar, shape.start(), what, "Take it away, or write a plain fret.")
        if shape[0] == "~":
            return note._replace(shake=True)
        if shape["goal"] and is_good and int(shape["goal"]) != note.fret + 2:
            fix = f"Write {note.fret}b, or {note.fret}b{note.fret + 2}."
            what = "a bend goes up a whole tone, two frets."
            self._report(bar, shape.start("goal"), what, fix)
        return note._replace(bend=True)

    def _alone(self, sign: str, bar: int, cell: int) -> TabNote:
        """A damped string, or one that rests."""
        if self.link is not None:
            goal = "a damped string" if sign == "x" else "a rest"
            what = f"{self.link.sign} leads to {goal}."
            self._report(bar, cell, what, "Make it lead to a fret.")
        return TabNote(Fraction(0), self.string, None, rests=sign == "r")

    def _open_link(self, sign: Link, bar: int, cell: int) -> None:
        if self.link is not None:
            what = f"{sign} follows {self.link.sign} with no note between."
            self._report(bar, cell, what, "Keep one of the two.")
            return
        if not self.is_lost and (self.last is None or self.last.fret is None):
            fix = "Write a number before it on this string."
            self._report(bar, cell, f"{sign} has no note to start from.", fix)
            self.is_lost = True
        elif self.last is not None and (self.last.harmonic or self.last.short):
            kind = "a harmonic" if self.last.harmonic else "a short note"
            fix = f"Take the {sign} away" + (", or the dot." if self.last.short else ".")
            self._report(bar, cell, f"{sign} can't start from {kind}.", fix)
            self.is_lost = True
        self.link = _OpenLink(sign, bar, cell)

    def _linked(self, note: TabNote, link: _OpenLink) -> TabNote:
        """A note reached by a link, which must go the way that its frets go."""
        assert self.last is not None
        assert self.last.fret is not None
        assert note.fret is not None
        sign, start, goal = link.sign, self.last.fret, note.fret
        up = sign in "h/"
        if note.harmonic:
            what = f"{sign} leads to a harmonic."
            self._report(link.bar, link.cell, what, "Pick the harmonic, or write a plain fret.")
        elif goal == start or (goal > start) != up:
            other = {"h": "p", "p": "h", "/": "\\", "\\": "/"}[sign]
            what = f"{sign} goes {'up' if up else 'down'}, but {start} to {goal} doesn't."
            same = "Play the note again without it."
            fix = same if goal == start else f"Write {other} instead."
            self._report(link.bar, link.cell, what, fix)
        return note._replace(link=sign)
