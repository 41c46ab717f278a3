"""Where the sections are, in exact seconds from the start of the file, count-in included."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from backing.audio.frames import seconds_at
from backing.score import Score
from backing.system.files import write_whole


class Cue(NamedTuple):
    """A stretch with a name; `end_s` is where the next one starts."""

    start_s: Fraction
    end_s: Fraction
    label: str


def section_cues(score: Score) -> tuple[Cue, ...]:
    """A cue for each marker in playing order: each goes on until the next, the last to the end."""
    seconds = seconds_at(score.tempos)
    starts = [seconds(marker.start_whole) for marker in score.markers]
    ends = [*starts[1:], seconds(score.end_whole)]
    return tuple(
        Cue(start, end, marker.text)
        for start, end, marker in zip(starts, ends, score.markers, strict=False)
    )


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
