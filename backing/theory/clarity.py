"""What keeps a chord clear: room above its lowest note, and a sharp ninth above the third.

Low notes close together blur, and the lower they are, the more room they need (the "low interval
limits" of arranging books). Ours follow common practice on the guitar, where C with the open D
above it is clear enough for Cmaj9 (x30000) and Csus2 (x30013), and Bb with the open D for Bb6/9.

A sharp ninth is as high as a minor third. Above the major third it is the sound that the symbol
asks for; below it the two grate (common practice).

A note is a MIDI note number.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

#: Intervals in semitones that blur, each with the lowest bass note over which it is clear.
CLEAR_FROM = {1: 48, 2: 48, 3: 48, 4: 46}
_SHARP_NINTH, _MAJOR_THIRD = 3, 4


@lru_cache(maxsize=128)
def too_close(bass: int) -> frozenset[int]:
    """The notes above a bass note that blur with it."""
    return frozenset(bass + step for step, clear in CLEAR_FROM.items() if bass < clear)


def is_muddy(notes: Iterable[int]) -> bool:
    """Whether any of a chord's notes blurs with its lowest."""
    pitches = set(notes)
    return not too_close(min(pitches)).isdisjoint(pitches)


def has_sharp_ninth(intervals: Iterable[int]) -> bool:
    """Whether a chord, by its semitones above the root, has a sharp ninth beside its third."""
    return {_SHARP_NINTH, _MAJOR_THIRD} <= set(intervals)


def grates(notes: Iterable[int], root: int) -> bool:
    """Whether a sharp ninth is below a third.

    Args:
        notes: of a chord that has both.
        root: its pitch class.
    """
    by_step = [((note - root) % 12, note) for note in notes]
    thirds = [note for step, note in by_step if step == _MAJOR_THIRD]
    return any(note < third for step, note in by_step if step == _SHARP_NINTH for third in thirds)
