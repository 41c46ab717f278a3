"""The least effort that the lowest strings of a shape take, worked out string by string.

`hand` judges whole shapes. A search that adds one string at a time needs a bound for all shapes
that start alike: none of them takes less than `Hold.effort`, and unless `Hold.fits`, only a ring
finger laid flat across the next string, too, can finish one.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

#: What happens to a string: not struck, open, at the position's fret, above it, or so far above it
#: that the hand stretches.
SILENT, OPEN, LOW, ABOVE, FAR_ABOVE = range(5)

_FINGERS = 4
_STRETCH = 2  # for a far fret, at least
_BARRE = 3  # for the index across three strings or more, at least
_RING_FLAT = 5  # for a shape with the ring finger laid flat, at least


class Hold(NamedTuple):
    """The strings so far, as far as the effort of the next ones depends on them.

    `low` and `above` count the strings at the position's fret and above it. `flat` is whether the
    index can still lie across, `gap` whether it couldn't beyond a silent string. `far` is whether
    the hand stretches, `last` what happened to the last string, `arching` whether that one is open
    next to a fretted one. `more` is the effort besides fingers and barre.
    """

    low: int
    above: int
    flat: bool
    gap: bool
    far: bool
    last: int
    arching: bool
    more: int
    effort: int
    fits: bool


#: Before the first string. In a position the index is at its fret in any case.
IN_POSITION = Hold(
    low=0, above=0, flat=True, gap=False, far=False, last=SILENT, arching=False, more=0,
    effort=1, fits=True,
)  # fmt: skip
#: Before the first of strings that are all open, which take no finger.
ALL_OPEN = IN_POSITION._replace(more=-1, effort=0)


@lru_cache(maxsize=4096)
def hold_after(hold: Hold, string: int) -> Hold:
    """The hold with one more string; `string` is `SILENT`, `OPEN`, `LOW`, `ABOVE` or `FAR_ABOVE`.

    A silent string counts as one that a finger damps: it lies between strings that are struck.
    """
    silent, opened, fretted = string == SILENT, string == OPEN, string >= LOW
    low, above = hold.low + (string == LOW), hold.above + (string > LOW)
    far = hold.far or string == FAR_ABOVE
    gap = hold.gap or (silent and hold.last == LOW)
    flat = hold.flat and not (opened and hold.low) and not (string == LOW and hold.gap)
    more = hold.more + silent + (fretted and hold.arching) + _STRETCH * (far and not hold.far)
    index = max(low, 1)
    if flat:
        fits = above < _FINGERS
        effort = min(index, _BARRE) + min(above, _FINGERS)
    else:
        fits = index + above <= _FINGERS
        effort = min(index + above, _RING_FLAT)
    arching = opened and hold.last >= LOW
    return Hold(low, above, flat, gap, far, string, arching, more, effort + more, fits)
