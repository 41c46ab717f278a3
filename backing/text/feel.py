"""How eighths or sixteenths are played, in words."""

from __future__ import annotations

from fractions import Fraction


def feel(ratio: Fraction | None, level_whole: Fraction) -> str:
    """Straight, swung eighths, swung sixteenths 3 to 2, swung eighths by tempo.

    Args:
        ratio: how much longer the first of two notes lasts than the second; 1 is straight, None
            goes by the tempo. A ratio of 2, the usual swing, is not spelled out.
        level_whole: the notes that swing, in fractions of a whole note.
    """
    if ratio == 1:
        return "straight"
    notes = "sixteenths" if level_whole == Fraction(1, 16) else "eighths"
    if ratio is None:
        return f"swung {notes}, by tempo"
    how = "" if ratio == 2 else f" {ratio.numerator} to {ratio.denominator}"
    return f"swung {notes}{how}"
