"""Riffs as they are typed: bars of tab in rows of cells, and what each string plays."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal, NamedTuple

from backing.theory.harmonics import NATURAL_HARMONICS

HIGHEST_FRET = 24

Link = Literal["h", "p", "/", "\\"]


class TabBar(NamedTuple):
    """A bar of tab: the worth of one cell, and each string's row of cells, highest first.

    `fingers` are the rows of the right hand, of which each cell holds one letter at most; `palm` is
    the row of the palm, "" if there is none.
    """

    step_whole: Fraction
    rows: tuple[str, ...]
    fingers: tuple[str, ...] = ()
    palm: str = ""

    @property
    def length_whole(self) -> Fraction:
        """How long the bar lasts, in whole notes."""
        return self.step_whole * len(self.rows[0])


class Riff(NamedTuple):
    """A riff's bars; `step_whole` is what a cell is worth where a bar doesn't say.

    With `plays_through` it goes on where a chord's `(stop)` silences everything else. With
    `rolled` the strings that are picked together sound one after another, the low one first.
    """

    step_whole: Fraction
    bars: tuple[TabBar, ...]
    plays_through: bool = False
    rolled: bool = False

    @property
    def strings(self) -> int:
        """How many strings it is written for, 4 to 8."""
        return len(self.bars[0].rows)


class TabNote(NamedTuple):
    """One event on a string, at its place in the riff (in whole notes).

    `fret` is None for a damped string, and for one that `rests`: it is silenced without a sound.
    `link` is how the note is reached from the one before on its string: h, p, / or \\; None is a
    fresh pick. A `harmonic` is a natural one, touched at its fret; a `ghost` is very soft; a
    `short` note is cut to half of its length; a `muted` one has the palm on its string.
    """

    start_whole: Fraction
    string: int
    fret: int | None
    link: Link | None = None
    bend: bool = False
    shake: bool = False
    rests: bool = False
    harmonic: bool = False
    ghost: bool = False
    short: bool = False
    muted: bool = False

    @property
    def is_picked(self) -> bool:
        """Whether the right hand strikes it."""
        return self.link is None and not self.rests

    @property
    def semitones(self) -> int:
        """How far above the open string it sounds; a damped string is taken as open."""
        if self.fret is None:
            return 0
        return NATURAL_HARMONICS[self.fret] if self.harmonic else self.fret
