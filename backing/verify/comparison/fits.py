"""How well a voice's notes fit the moments of a part.

Notes and moments are samples, at most `SAMPLE` of each, taken from all over the song and
never in step with its bars. A note fits a moment if it starts from `early_s` before to
`late_s` after it, at a pitch that the moment allows.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from backing.verify.comparison.leeway import Leeway
from backing.verify.expected.moments import ANY, Moment
from backing.verify.readers.voices import Notes

SAMPLE = 100
#: A damaged file may have any number of notes at one time; more than these aren't looked at.
MOST_AT_ONCE = 64
#: How long after a moment its last note may start: a slow stroke over all strings.
STROKE_S = 0.1
#: How long before a moment its first note may start: a stroke that is centered on it.
LEAD_S = 0.05
#: Steps of this share of a whole spread evenly, whatever their number.
_GOLDEN = 0.6180339887498949


class Fit(NamedTuple):
    """A voice's fit to a part.

    `share` is how many of the voice's notes fit, from 0 to 1. `covered` has a bit for each of
    the part's sampled moments where the voice plays, and `within` for each in its time span.
    """

    share: float
    covered: int
    within: int

    def worth(self, taken: int = 0) -> float:
        """From 0 to 1, less where other voices have `taken` its moments."""
        span = self.within.bit_count()
        new = (self.covered & ~taken).bit_count() / span if span else 0.0
        return self.share * (1 + new) / 2


class Line(NamedTuple):
    """A part's moments, ready for fitting, and which of them are sampled.

    A pitch's bit in `pitches` is its remainder by `modulus`. `width` is how many bits a moment
    has on average.
    """

    times: Sequence[float]
    pitches: Sequence[int]
    sample: Sequence[int]
    modulus: int
    width: float


def line_of(moments: Sequence[Moment], whole_pitches: bool = False) -> Line:
    """A part's moments; those of percussion allow whole pitches, not classes of them."""
    sample = sampled(len(moments))
    allowed = sum(moments[index].pitches.bit_count() for index in sample)
    return Line(
        [moment.at_s for moment in moments],
        [moment.pitches for moment in moments],
        sample,
        128 if whole_pitches else 12,
        allowed / len(sample) if sample else 0.0,
    )


def at_any_pitch(line: Line) -> Line:
    """The same moments, whatever is played there."""
    return line._replace(pitches=[ANY] * len(line.times))


def fit(notes: Notes, line: Line, leeway: Leeway) -> Fit:
    """How well notes fit a part's moments."""
    if not notes or not line.times:
        return Fit(0.0, 0, 0)
    early_s = (
        LEAD_S
        + leeway.human_s
        + max(leeway.tolerance(notes.starts[0]), leeway.tolerance(notes.starts[-1]))
    )
    late_s = early_s + STROKE_S
    times, pitches, modulus = line.times, line.pitches, line.modulus
    chosen = sampled(len(notes.starts))
    fitting = 0
    for at in chosen:
        start, place = notes.starts[at], notes.pitches[at] % modulus
        first = bisect_left(times, start - late_s)
        for index in range(first, bisect_right(times, start + early_s, first)):
            if pitches[index] >> place & 1:
                fitting += 1
                break
    covered, within = _covered(notes, line, early_s, late_s)
    return Fit(fitting / len(chosen), covered, within)


def _covered(notes: Notes, line: Line, early_s: float, late_s: float) -> tuple[int, int]:
    """Which of a part's sampled moments notes meet, and which are in their time span, as bits."""
    covered = within = 0
    starts, played, modulus = notes.starts, notes.pitches, line.modulus
    span = starts[0] - early_s, starts[-1] + early_s
    for place, index in enumerate(line.sample):
        at_s, allowed = line.times[index], line.pitches[index]
        if span[0] <= at_s <= span[1]:
            within |= 1 << place
            first = bisect_left(starts, at_s - early_s)
            last = min(bisect_right(starts, at_s + late_s, first), first + MOST_AT_ONCE)
            for note in range(first, last):
                if allowed >> played[note] % modulus & 1:
                    covered |= 1 << place
                    break
    return covered, within


@lru_cache(maxsize=64)
def sampled(count: int) -> Sequence[int]:
    """Places in a list of `count`, at most `SAMPLE` of them, spread evenly."""
    if count <= SAMPLE:
        return range(count)
    return sorted({int(number * _GOLDEN % 1 * count) for number in range(SAMPLE)})
