"""Moments: when a part must start to play, and which notes it may play there.

They are what every kind of part has in common. A file's tracks are matched to parts by them,
and what went wrong in a file as a whole is found by them.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

#: Any pitch may be played.
ANY = (1 << 12) - 1


class Moment(NamedTuple):
    """A time in seconds, and the pitches that may start there: bits, 1 << pitch class.

    For percussion each bit is a whole pitch, 1 << note number.
    """

    at_s: float
    pitches: int


def mask(pitches: Iterable[int]) -> int:
    """Pitches (or, modulo 12, pitch classes) as bits."""
    bits = 0
    for pitch in pitches:
        bits |= 1 << pitch
    return bits
