"""How decimal numbers and percentages read."""

from __future__ import annotations

from fractions import Fraction


def decimal(number: Fraction) -> str:
    """A number rounded to the nearest thousandth, without zeros at its end: 60, 12.5."""
    return f"{float(round(number, 3)):.3f}".rstrip("0").rstrip(".")


def percent(share: Fraction) -> str:
    """A share of one as a percentage: 3/5 is 60%, 1/8 is 12.5%."""
    return f"{decimal(share * 100)}%"


def exact_decimal(number: Fraction) -> str:
    """A number with at most six decimals, without loss: 92, 58.2."""
    whole, rest = divmod(number, 1)
    if not rest:
        return str(whole)
    return f"{whole}.{int(rest * 1_000_000):06d}".rstrip("0")
