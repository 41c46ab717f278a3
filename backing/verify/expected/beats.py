"""The proof's own arithmetic of beats: tempos beat by beat, swing, the ring-out.

Tempos are quarters a minute. Times are exact seconds from the start of the file and places
exact quarters, but offsets in a bar or a beat are whole notes.
"""

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from backing.theory.swing import RATIO_BY_TEMPO
from backing.verify.expected.plans import Change, Swing
from backing.verify.expected.records import ExpectedTempo

RING_OUT_S = 2


def ratio_at(bpm: Fraction) -> Fraction:
    """The ratio of swing by tempo: on straight lines between the table's tempos, flat beyond."""
    tempos = [tempo for tempo, _ in RATIO_BY_TEMPO]
    inside = min(max(bpm, tempos[0]), tempos[-1])
    for (low, at_low), (high, at_high) in pairwise(RATIO_BY_TEMPO):
        if low <= inside <= high:
            share = (inside - low) / (high - low)
            return at_low * (1 - share) + at_high * share
    raise AssertionError("the table's tempos rise")


def beat_tempos(bpm: Fraction, change: Change | None, beats: Sequence[int]) -> list[list[Fraction]]:
    """The tempo of every beat of a pass, bar by bar; `beats` is how many each bar has.

    Of the n beats of a change the k-th, from one, is played at start + (to - start) k / n.
    """
    if change is None:
        return [[bpm] * count for count in beats]
    first = 0 if change.from_first else len(beats) - change.over_bars
    total = sum(beats[first : first + change.over_bars])
    tempos, k = [], 0
    for number, count in enumerate(beats):
        changes = first <= number < first + change.over_bars
        bar = []
        for _ in range(count):
            k += changes
            bar.append(bpm + (change.to_bpm - bpm) * k / total)
        tempos.append(bar)
    return tempos


@lru_cache(maxsize=4096)
def length(beat_whole: Fraction, bpm: Fraction) -> tuple[Fraction, Fraction]:
    """A beat's length in quarters, and in seconds at a tempo."""
    return beat_whole * 4, beat_whole * 240 / bpm


def push_quarters(swing: Swing | None) -> Fraction:
    """How early a push comes: an eighth, or of two swung in a quarter the shorter."""
    if swing is None or swing.level_whole != Fraction(1, 8):
        return Fraction(1, 2)
    return 1 / (1 + swing.ratio)


def tempo_at(tempos: Sequence[ExpectedTempo], quarters: Fraction) -> ExpectedTempo:
    """The tempo that applies at a place."""
    return tempos[bisect_right(tempos, quarters, key=lambda tempo: tempo.start_quarters) - 1]


def seconds_at(tempos: Sequence[ExpectedTempo], quarters: Fraction) -> Fraction:
    """The time of a place that tempos have reached."""
    tempo = tempo_at(tempos, quarters)
    return tempo.start_s + (quarters - tempo.start_quarters) * 60 / tempo.quarter_bpm


def ring_out_quarters(quarter_bpm: Fraction) -> Fraction:
    """How long a last chord may ring, in quarters: two seconds, rounded up to a 64th note."""
    return Fraction(-(-RING_OUT_S * quarter_bpm * 16 // 60), 16)


def ring_out_s(quarter_bpm: Fraction) -> Fraction:
    """The same in seconds."""
    return ring_out_quarters(quarter_bpm) * 60 / quarter_bpm


def swung(offset: Fraction, beat: Fraction, swing: Swing | None) -> Fraction:
    """A place in a beat as it sounds: the first of two notes lasts `ratio` times the second.

    Triplets stay where they are, and so does all in a beat that pairs don't fill.
    """
    if swing is None or beat % (swing.level_whole * 2) or offset.denominator % 3 == 0:
        return offset
    level, ratio = swing
    notes = offset % (level * 2) / level
    long, short = min(notes, Fraction(1)), max(notes - 1, Fraction(0))
    return offset - notes * level + level * 2 * (long * ratio + short) / (ratio + 1)
