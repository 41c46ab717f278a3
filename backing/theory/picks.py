"""Built-in picking patterns for the guitar, and the string that each finger rests on.

`p` is the thumb on the chord's lowest string, `p2` the thumb on the next one; `i`, `m` and
`a` are index, middle and ring. Common practice, from memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import NamedTuple

from backing.theory.steps import Steps

_EIGHTH = Fraction(1, 8)

#: Strings count from the highest, 1.
FINGER_STRINGS = {"i": 3, "m": 2, "a": 1}
#: How a picked chord is struck all at once.
TOGETHER = ("p", "i", "m", "a")


class Picking(NamedTuple):
    """A picking pattern: its bars by meter, and what it is made of in any other meter.

    There the thumb opens each beat (`thumb_each_beat`) or the bar alone, and takes its
    strings in turn; the fingers take turns on the steps between. `replaced` has, by the number
    of strings, the fingers that play in place of others: on four, the thumb's second string is
    the index's own.
    """

    by_meter: Mapping[str, Steps]
    thumbs: tuple[str, ...]
    fingers: tuple[str, ...]
    thumb_each_beat: bool
    replaced: Mapping[int, Mapping[str, str]] = MappingProxyType({})


PICKS = {
    "alternating": Picking(
        {
            "4/4": Steps(_EIGHTH, "p i p2 m p i p2 m"),
            "3/4": Steps(_EIGHTH, "p - i m i m | p2 - i m i m"),
            "6/8": Steps(_EIGHTH, "p i m p2 i m"),
        },
        thumbs=("p", "p2"),
        fingers=("i", "m"),
        thumb_each_beat=True,
        replaced=MappingProxyType({4: MappingProxyType({"i": "m", "m": "a"})}),
    ),
    "arpeggio": Picking(
        {
            "4/4": Steps(_EIGHTH, "p i m i a i m i"),
            "3/4": Steps(_EIGHTH, "p i m a m i"),
            "6/8": Steps(_EIGHTH, "p i m a m i"),
        },
        thumbs=("p",),
        fingers=("i", "m", "a", "m"),
        thumb_each_beat=False,
    ),
}
