"""How wide a chord's symbol is set, in points: what bars are measured by.

Widths are thousandths of the type's size, of Libertinus Serif Semibold as the typesetter has
it; a test measures them there again.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from backing.theory.chords import Chord

#: Thousandths of an em.
WIDTHS = {
    "A": 699, "B": 620, "C": 666, "D": 718, "E": 562, "F": 513, "G": 727, "a": 476, "b": 505,
    "d": 527, "g": 508, "i": 286, "j": 289, "m": 801, "n": 563, "o": 519, "s": 401, "u": 550,
    "0": 490, "1": 490, "2": 490, "3": 490, "4": 490, "5": 490, "6": 490, "7": 490, "8": 490,
    "9": 490, "/": 316, "(": 315, ")": 315, "+": 537, "-": 358, ",": 244, "♯": 440, "♭": 500,
    "°": 267, "ø": 519, "Δ": 692, "M": 853, "N": 710, ".": 244, " ": 250, "x": 521,
}  # fmt: skip
WIDEST = 853
#: Raised letters are set at this share of the symbol's size.
RAISED = 0.75
#: The smallest type on the page, in points.
SMALLEST = 9.0

# The minor sign stands on the line; the rest of a quality is raised (common practice).
_MINOR = re.compile(r"min(?!o)|m(?!aj)|-")
_SIGNS = str.maketrans("#b", "♯♭")
_LOOKALIKES = str.maketrans("△∆ºØ∅−–", "ΔΔ°øø--")
_FLAT = re.compile(r"b(?=[0-9])|#")


class Symbol(NamedTuple):
    """A chord's symbol in pieces: on the line, raised, and on the line again."""

    root: str
    raised: str = ""
    bass: str = ""

    @property
    def text(self) -> str:
        """As it reads on the page."""
        return self.root + self.raised + self.bass

    def width(self, size: float) -> float:
        """In points, set at this size."""
        line = self.root + self.bass
        raised = max(RAISED * size, SMALLEST)
        return (size * _thousandths(line) + raised * _thousandths(self.raised)) / 1000


def symbol(chord: Chord | None) -> Symbol:
    """A chord in print: real sharps and flats, the quality raised; N.C. for none."""
    if chord is None:
        return Symbol("N.C.")
    quality = _FLAT.sub(
        lambda sign: sign[0].translate(_SIGNS), chord.quality.translate(_LOOKALIKES)
    )
    minor = _MINOR.match(quality)
    base = minor[0] if minor else ""
    bass = f"/{chord.bass.pretty}" if chord.bass else ""
    return Symbol(chord.root.pretty + base, quality[len(base) :], bass)


def _thousandths(text: str) -> int:
    return sum(WIDTHS.get(letter, WIDEST) for letter in text)
