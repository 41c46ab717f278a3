"""A built-in pattern as a player would write it down."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple


class Steps(NamedTuple):
    """Tokens a step apart: one for each step in `play`, with blanks between, `|` between bars."""

    step_whole: Fraction
    play: str
