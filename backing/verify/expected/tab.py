"""Tab read by the proof itself, by the rules under "Riffs" of `forms/README.md`.

The form's reader has already refused tab that breaks those rules, so nothing is checked here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from backing.form.tab import Riff

#: A fret with its bends and shakes; a damped string; or a slur or slide to the next fret.
_SIGN = re.compile(r"(?P<fret>\d+)(?P<shape>(?:b\d*|~)*)|(?P<damped>x)|(?P<link>[hp/\\])")


class Number(NamedTuple):
    """Something to play on a string; string 1 is the highest.

    `fret` is None for a damped string. `link` is the sign before it (h, p, / or \\), or "".
    """

    string: int
    fret: int | None
    link: str = ""
    bent: bool = False
    shaken: bool = False


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
            elif sign["damped"]:
                yield number, sign.start(), Number(string, None)
            else:
                bent, shaken = "b" in sign["shape"], "~" in sign["shape"]
                yield number, sign.start(), Number(string, int(sign["fret"]), link, bent, shaken)
                link = ""
