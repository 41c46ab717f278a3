"""Riffs as they are typed: bars of tab in rows of cells, and what each string plays."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal, NamedTuple

HIGHEST_FRET = 24

Link = Literal["h", "p", "/", "\\"]


class TabBar(NamedTuple):
    """A bar of tab: the worth of one cell, and each string's row of cells, highest first."""

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

    @property
    def strings(self) -> int:
        """How many strings it is written for, 4 to 8."""
        return len(self.bars[0].rows)


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
