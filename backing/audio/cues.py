"""Where the sections are, in exact seconds from the start of the file, count-in included."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

from backing.files import write_whole
from backing.timeline import Bar, Timeline


class Cue(NamedTuple):
    """A stretch with a name; `end_s` is where the next one starts."""

    start_s: Fraction
    end_s: Fraction
    label: str


def section_cues(timeline: Timeline) -> tuple[Cue, ...]:
    """The count-in and the pickup, where there are any, and every pass, in playing order."""
    return tuple(_cues(timeline))


def _cues(timeline: Timeline) -> Iterator[Cue]:
    pickup = timeline.pickup
    counted = timeline.count_in[:-1] if pickup else timeline.count_in
    if counted:
        yield _cue(timeline, counted, "Count-in")
    if pickup:
        yield _cue(timeline, (pickup,), "Pickup")
    for playing, bars in groupby(timeline.bars, key=lambda bar: bar.playing):
        yield _cue(timeline, tuple(bars), playing.label)


def _cue(timeline: Timeline, bars: tuple[Bar, ...], label: str) -> Cue:
    start, end = bars[0].start_whole, bars[-1].end_whole
    return Cue(timeline.seconds(start), timeline.seconds(end), label)


def label_lines(cues: Iterable[Cue]) -> str:
    """A line a cue: start, end and name between tabs, in seconds to six decimals.

    Audio editors read this as a track of labels (common practice).
    """
    return "".join(
        f"{_decimal(cue.start_s)}\t{_decimal(cue.end_s)}\t{' '.join(cue.label.split())}\n"
        for cue in cues
    )


def write_labels(path: Path, cues: Iterable[Cue]) -> None:
    """Write the label file (UTF-8); raises BackingError where it can't be written."""
    write_whole(path, label_lines(cues).encode("utf-8"))


def _decimal(seconds: Fraction) -> str:
    whole, millionths = divmod(round(seconds * 10**6), 10**6)
    return f"{whole}.{millionths:06d}"
