"""How much louder a click must be to stand out of loud drums.

A sound is heard beside another one where some part of its spectrum is stronger. What is compared
is the power in each octave over a click's first 50 ms: the click's own against that of the strokes
that start with it or still ring, both as the soundfont was measured. Most soundfonts' clicks stand
out at their place in the balance; in some the drums' full level covers them.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from fractions import Fraction
from math import inf, log10
from operator import attrgetter
from typing import NamedTuple

from backing.audio.calibration import STRUCK, NotePower

#: By how much a click's strongest octave must be over the drums, in dB: 1.5, and 3 for what isn't
#: predicted. A soundfont may play loud strokes brighter (up to 2.5 dB were measured), and other
#: parts have something there, too. And at what share of the clicks.
OVER_DB, SHARE = 4.5, Fraction(93, 100)
#: The most that a click is turned up for that, in dB.
MOST_DB = 3.5
#: A stroke that starts up to this much after a click falls on it.
TOGETHER_S = 0.015
#: How many of a song's clicks are looked at.
MOST_CLICKS = 600
_TENTH_S = 0.1
_LASTS_S = (STRUCK - 1) * _TENTH_S
#: Power under what anyone can hear, so that nothing is divided by zero.
_HUSH = 1e-12

_start = attrgetter("at_s")


class Strike(NamedTuple):
    """A stroke of percussion: when it starts, its measured sound, and what its power is times."""

    at_s: float
    power: NotePower
    factor: float


def raised_db(clicks: Sequence[Strike], strokes: Sequence[Strike]) -> float:
    """How much louder clicks must be to stand out of other strokes, from 0 to `MOST_DB`, in dB.

    Args:
        clicks: those that need to stand out, with the loudness that they have at 0 dB.
        strokes: all others, in any order.
    """
    if not clicks or not strokes:
        return 0.0
    strokes = sorted(strokes, key=_start)
    starts = [stroke.at_s for stroke in strokes]
    some = clicks[:: -(-len(clicks) // MOST_CLICKS)]
    needed = sorted(OVER_DB - _over_db(click, strokes, starts) for click in some)
    return max(0.0, min(MOST_DB, needed[min(len(needed) - 1, int(len(needed) * SHARE))]))


def _over_db(click: Strike, strokes: Sequence[Strike], starts: Sequence[float]) -> float:
    """By how much the click's strongest octave is over the strokes, in dB."""
    first = bisect_left(starts, click.at_s - _LASTS_S)
    last = bisect_right(starts, click.at_s + TOGETHER_S)
    others = [0.0] * len(click.power.octaves)
    for stroke in strokes[first:last]:
        factor = stroke.factor * _still(stroke.power, click.at_s - stroke.at_s)
        for place, power in enumerate(stroke.power.octaves):
            others[place] += factor * power
    best = max(
        (
            click.factor * own / (other + _HUSH)
            for own, other in zip(click.power.octaves, others, strict=True)
        ),
        default=0.0,
    )
    return 10 * log10(best) if best > 0 else -inf


def _still(power: NotePower, since_s: float) -> float:
    """The share of a stroke's power that is left after a time."""
    tenth = int(max(0.0, since_s) / _TENTH_S)
    return power.held[tenth] / power.held[0] if tenth and power.held[0] > 0 else 1.0
