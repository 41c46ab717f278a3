"""Places of a file to seconds, for as many places as a song has notes."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.verify.expected.records import ExpectedTempo


class Clockwork(NamedTuple):
    """A file's tempos as numbers: where each starts, in quarters and seconds, and its length.

    `quarter_s` is how many seconds a quarter lasts from there on.
    """

    quarters: Sequence[float]
    starts_s: Sequence[float]
    quarter_s: Sequence[float]

    def seconds(self, quarters: Fraction | float) -> float:
        """The time of a place."""
        place = float(quarters)
        at = max(0, bisect_right(self.quarters, place) - 1)
        return self.starts_s[at] + (place - self.quarters[at]) * self.quarter_s[at]

    def tempo_at(self, quarters: float) -> float:
        """How many seconds a quarter lasts at a place."""
        return self.quarter_s[max(0, bisect_right(self.quarters, quarters) - 1)]

    def all_seconds(self, places: Iterable[Fraction | float]) -> list[float]:
        """The times of places, in any order."""
        if len(self.quarters) == 1:
            (start,), (start_s,), (each,) = self
            return [start_s + (float(place) - start) * each for place in places]
        return [self.seconds(place) for place in places]


def clockwork(tempos: Sequence[ExpectedTempo]) -> Clockwork:
    """The clockwork of a file's tempos, the first of which starts it."""
    return Clockwork(
        [float(tempo.start_quarters) for tempo in tempos],
        [float(tempo.start_s) for tempo in tempos],
        [float(60 / tempo.quarter_bpm) for tempo in tempos],
    )
