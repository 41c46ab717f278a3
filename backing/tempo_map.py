"""Changes of tempo in order: without repeats, and the seconds at which they come."""

from collections.abc import Iterator, Sequence
from fractions import Fraction

from backing.score import TempoChange


def without_repeats(changes: Sequence[TempoChange]) -> tuple[TempoChange, ...]:
    """At most one change at each place (the last), and none that repeats the tempo before it."""
    kept: list[TempoChange] = []
    for change in changes:
        if kept and kept[-1].start_whole == change.start_whole:
            kept.pop()
        if not kept or kept[-1].quarter_bpm != change.quarter_bpm:
            kept.append(change)
    return tuple(kept)


def running_seconds(tempos: Sequence[TempoChange]) -> Iterator[Fraction]:
    """When each change comes, in seconds from the first."""
    total = Fraction(0)
    for index, change in enumerate(tempos):
        if index:
            before = tempos[index - 1]
            total += (change.start_whole - before.start_whole) * seconds_per_whole(before)
        yield total


def seconds_per_whole(change: TempoChange) -> Fraction:
    """How many seconds a whole note lasts from a change on."""
    return 240 / change.quarter_bpm
