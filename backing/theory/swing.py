"""Swing: where the second of two written-equal notes falls when the first is played longer.

Ratios are long to short: 1 is straight, 2 the triplet feel, 3 the dotted one.
"""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction
from itertools import pairwise

from backing.theory.rhythm import Meter

#: Quarter notes a minute and the ratio there, straight lines between.
#:
#: From 140 up it is what drummers play on the ride cymbal in jazz. Friberg and Sundström measured
#: up to 3.5:1 around 120, falling about evenly with the tempo to 1:1, the short note staying near
#: 100 ms from medium tempos up ("Preferred swing ratio in jazz as a function of tempo", TMH-QPSR
#: 4/1997; "Swing ratios and ensemble timing in jazz performance", Music Perception 19(3), 2002;
#: abstracts read). The places of 2:1 and 1:1 are worked out from those 100 ms: a third of a beat at
#: 200, half of one at 300.
#:
#: Below 140 the whole band, a student's guitar among it, swings more softly than such a drummer.
#: Soloists do: considerably less than the cymbal when slow (2002, abstract), below 2:1 at medium
#: tempos where drummers are above it (figure of the same measurements on the authors' page
#: "Ensemble Swing", read), 1.3:1 over 456 solos, with ratios near 2:1 more likely when slow or
#: moderate (Corcoran and Frieler, "Playing It Straight", Music Perception 38(4), 2021, abstract
#: read). No measurement of a whole band when slow was found: the line from 140 to triplets at 60,
#: the ratio of slow shuffles (common practice), is our own choice between the two.
RATIO_BY_TEMPO = (
    (Fraction(60), Fraction(2)),
    (Fraction(140), Fraction(25, 8)),
    (Fraction(200), Fraction(2)),
    (Fraction(300), Fraction(1)),
)


def swung(
    offset_whole: Fraction, beat_whole: Fraction, level_whole: Fraction, ratio: Fraction
) -> Fraction:
    """Where an offset from a beat sounds under swing, in whole notes.

    The second of each pair of `level_whole` notes moves to its ratio, and finer even divisions
    move with their half of the pair. Triplets stay, and so does everything where pairs don't
    fill the beat, like eighths in 6/8.
    """
    pair = level_whole * 2
    if ratio == 1 or beat_whole % pair or offset_whole.denominator % 3 == 0:
        return offset_whole
    pairs, within = divmod(offset_whole, pair)
    middle = pair * ratio / (ratio + 1)
    if within <= level_whole:
        placed = within * middle / level_whole
    else:
        placed = middle + (within - level_whole) * (pair - middle) / level_whole
    return pairs * pair + placed


def swung_in_bar(
    offset_whole: Fraction, meter: Meter, level_whole: Fraction, ratio: Fraction
) -> Fraction:
    """`swung` for an offset from the bar line, whichever beat it falls in."""
    starts = meter.beat_starts
    beat = bisect_right(starts, offset_whole) - 1
    start = starts[beat]
    return start + swung(offset_whole - start, meter.beats[beat], level_whole, ratio)


def ratio_by_tempo(quarter_bpm: Fraction) -> Fraction:
    """The ratio at a tempo in quarters a minute; beyond the table's ends it stays the same."""
    slowest, fastest = RATIO_BY_TEMPO[0], RATIO_BY_TEMPO[-1]
    if quarter_bpm <= slowest[0]:
        return slowest[1]
    for (low, above), (high, below) in pairwise(RATIO_BY_TEMPO):
        if quarter_bpm <= high:
            return above + (below - above) * (quarter_bpm - low) / (high - low)
    return fastest[1]
