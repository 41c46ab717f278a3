"""Tab read by the proof itself, by the rules under "Riffs" of `forms/README.md`.

The form's reader has already refused tab that breaks those rules, so nothing is checked here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from math import log2
from typing import NamedTuple

from backing.form.tab import Riff

#: A fret with its brackets and what follows it; a damped string; a rest; or a slur or slide.
_SIGN = re.compile(
    r"(?P<bracket>[(<]?)(?P<fret>\d+)[)>]?(?P<shape>(?:b\d*|~|\.)*)"
    r"|(?P<damped>x)|(?P<rest>r)|(?P<link>[hp/\\])"
)
#: How far from a node of a string, in shares of its length, a fret may be that stands for it.
_NEAR_NODE = 0.01


class Number(NamedTuple):
    """Something to play on a string; string 1 is the highest.

    `fret` is None for a damped string and for a rest. `link` is the sign before it (h, p, / or
    \\), or "".
    """

    string: int
    fret: int | None
    link: str = ""
    bent: bool = False
    shaken: bool = False
    rest: bool = False
    harmonic: bool = False
    ghost: bool = False
    short: bool = False
    muted: bool = False

    @property
    def is_picked(self) -> bool:
        """Whether the right hand strikes it."""
        return not self.link and not self.rest

    @property
    def above_open(self) -> int:
        """How many semitones above its open string it sounds."""
        if self.fret is None:
            return 0
        return _partial(self.fret) if self.harmonic else self.fret


#: A bar's numbers with their offsets from its bar line in whole notes, in order of time.
Numbers = tuple[tuple[Fraction, Number], ...]


@lru_cache(maxsize=256)
def read_tab(riff: Riff) -> tuple[Numbers, ...]:
    """What each bar of a riff plays; of what starts together the low strings come first."""
    bars: list[list[tuple[Fraction, Number]]] = [[] for _ in riff.bars]
    for string in range(1, len(riff.bars[0].rows) + 1):
        for bar, cell, number in _on_string(riff, string):
            bars[bar].append((cell * riff.bars[bar].step_whole, number))
    return tuple(tuple(sorted(bar, key=_by_time)) for bar in bars)


def _by_time(placed: tuple[Fraction, Number]) -> tuple[Fraction, int]:
    at, number = placed
    return at, -number.string


def _on_string(riff: Riff, string: int) -> Iterator[tuple[int, int, Number]]:
    """What one string plays, each with its bar and its cell, both from 0."""
    link = ""
    for number, bar in enumerate(riff.bars):
        for sign in _SIGN.finditer(bar.rows[string - 1]):
            if sign["link"]:
                link = sign["link"]  # the fret that it leads to may be in a later bar
                continue
            muted = bar.palm[sign.start() : sign.start() + 1] == "="
            if sign["fret"] is None:
                rest = sign["rest"] is not None
                found = Number(string, None, rest=rest, muted=muted and not rest)
            else:
                found = Number(
                    string,
                    int(sign["fret"]),
                    link,
                    bent="b" in sign["shape"],
                    shaken="~" in sign["shape"],
                    harmonic=sign["bracket"] == "<",
                    ghost=sign["bracket"] == "(",
                    short="." in sign["shape"],
                    muted=muted,
                )
                link = ""
            yield number, sign.start(), found


def _partial(fret: int) -> int:
    """What a string sounds that is touched at a fret: the lowest partial with a node there.

    By the physics of the ideal string: fret f stands at 1 - 2^(-f/12) of its length, and partial k,
    12 log2(k) semitones above the open string, has its nodes at the multiples of 1/k.
    """
    place = 1 - 2 ** (-fret / 12)
    for partial in range(2, 8):
        if abs(place * partial - round(place * partial)) <= _NEAR_NODE * partial:
            return round(12 * log2(partial))
    raise AssertionError("the reader refuses frets without a node")
