"""Times as people read them off a clock."""

from __future__ import annotations

from fractions import Fraction


def clock(seconds: Fraction | float, decimals: int = 3) -> str:
    """Minutes and seconds, rounded: 1:05.217, with one decimal 1:05.2, with none 1:05.

    Args:
        seconds: not negative.
        decimals: of a second, 0 to 3.
    """
    minutes, rest = divmod(round(seconds * 10**decimals), 60 * 10**decimals)
    whole, part = divmod(rest, 10**decimals)
    return f"{minutes}:{whole:02d}" + (f".{part:0{decimals}d}" if decimals else "")


def long_clock(seconds: Fraction) -> str:
    """Hours, minutes, seconds and milliseconds: 00:01:05.217."""
    minutes, milliseconds = divmod(round(seconds * 1000), 60_000)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{milliseconds // 1000:02d}.{milliseconds % 1000:03d}"
