"""Built-in strums: what a guitar strums where the form doesn't give one.

D strikes down, U up, `-` lets the hand pass, and `>` accents a stroke. Common practice,
from memory.
"""

from __future__ import annotations

from fractions import Fraction

from backing.theory.steps import Steps

_EIGHTH = Fraction(1, 8)

#: By meter. Chords are struck on the beats.
STRUMS = {
    "4/4": Steps(_EIGHTH, "D> - D U D - D U"),
    "3/4": Steps(_EIGHTH, "D> - D U D U"),
    "2/4": Steps(_EIGHTH, "D> - D U"),
    "3/8": Steps(_EIGHTH, "D> - U"),
}
#: Any other meter: the bar's first stroke, the first of every other beat, the steps inside
#: a beat, and its last one.
OPENS_BAR, OPENS_BEAT, INSIDE_BEAT, ENDS_BEAT = "D>", "D", "-", "U"
