"""Degrees of a chord: what the numbers of a bass line mean over each chord.

A plain number is the chord's own tone. 3 is its third, minor over a minor chord; over a
suspended chord it is the suspended tone, and over a chord with neither, the fifth. 5 is
its fifth, altered where the chord's is. 7 is its seventh or, where it has none, the
minor one, as in blues and rock lines. 2, 4 and 6 are the major scale's, unless the
chord alters its ninth, eleventh or thirteenth. With b or # a number is the major scale's
degree lowered or raised, as musicians name tones: b7 is the minor seventh over any chord.
Numbers above 7 are an octave higher: 8 is 1, 10 is 3.
"""

from __future__ import annotations

from functools import lru_cache

MAJOR_SCALE = (0, 2, 4, 5, 7, 9, 11)
_SHIFTS = {"b": -1, "#": 1}


@lru_cache(maxsize=2048)
def semitones(intervals: tuple[int, ...], degree: str) -> int:
    """A degree's distance above the root, in semitones (-1 to 22).

    Args:
        intervals: the chord's, as `Chord.intervals`.
        degree: as written in patterns: 1 to 13, perhaps after b or #.
    """
    shift = _SHIFTS.get(degree[0])
    octave, step = divmod(int(degree.lstrip("b#")) - 1, 7)
    if shift is not None:
        return 12 * octave + MAJOR_SCALE[step] + shift
    return 12 * octave + own_scale(intervals)[step]


@lru_cache(maxsize=512)
def own_scale(intervals: tuple[int, ...]) -> tuple[int, ...]:
    """A chord's own seven degrees, in semitones above its root."""
    has = set(intervals)
    third = _first(has, (4, 3, 5, 2), 7)
    fifth = _first(has, (7, 6, 8), 7)
    diminished = has >= {3, 6, 9}
    seventh = _first(has, (11, 10), 9 if diminished else 10)
    sharp_ninth = has >= {3, 4}
    second = _first(has, (2, 1), 3 if sharp_ninth else 2)
    fourth = 6 if 6 in has and fifth != 6 else 5
    sixth = 8 if 8 in has and fifth != 8 else 9
    return 0, second, third, fourth, fifth, sixth, seventh


def _first(has: set[int], choices: tuple[int, ...], otherwise: int) -> int:
    return next((step for step in choices if step in has), otherwise)
