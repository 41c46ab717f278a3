"""One pass of a form as the proof plans it: its settings, its bars, what each part is given.

Records only; `pass_plan` fills them in.
"""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any, NamedTuple

from backing.form.model import Cell
from backing.theory.rhythm import Meter

Slots = list[tuple[Fraction, Cell]]
"""A bar's cells, each with its start from the bar line in whole notes."""

PlannedBar = tuple[Slots, Meter]


class Change(NamedTuple):
    """An even change to a tempo, over a pass's first or last bars."""

    to_bpm: Fraction
    over_bars: int
    from_first: bool


class Swing(NamedTuple):
    """Of two notes of `level_whole` the first lasts `ratio` times the second."""

    level_whole: Fraction
    ratio: Fraction


class Click(NamedTuple):
    """The click in a pass: whether it is on, its sound, and how it divides and skips bars.

    `plays` is (bars, cycle): of every `cycle` bars the first `bars` click; None is all.
    """

    on: bool = True
    sound: str = "wood"
    accented: bool = True
    step_whole: Fraction | None = None
    plays: tuple[int, int] | None = None


class PartPlan(NamedTuple):
    """A part in a pass: whether it plays, and the nearest value of each key that is written.

    Strums, picks and riffs are the patterns themselves; a built-in one is its name.
    """

    on: bool
    values: Mapping[str, Any]


class Plan(NamedTuple):
    """One pass: its tempo, its swing, its bars with their meters, and how far its chords move.

    `bpm` is quarters a minute at its start; `change` is its even change of tempo, if it has
    one. `entry` is the line of the form that it belongs to, from 0. `meter` is the one that
    the pass is set in, even where single bars have another, and `first_bar` the place of its
    first bar in its section, from 0: a cut starts later. `parts` has every part by name.
    """

    label: str
    section: str
    entry: int
    transpose: int
    bpm: Fraction
    change: Change | None
    swing: Swing | None
    click: Click
    meter: Meter
    first_bar: int
    parts: Mapping[str, PartPlan]
    bars: list[PlannedBar]
    #: The words of each bar; none where nothing is sung in this pass.
    words: list[str]
    leads_in: bool = False
    """Whether it is the plan of a pickup that has parts of its own."""
    dynamic: str = "medium"
    lifted: bool = False
    """Whether the bar before its line's start grows into it."""
