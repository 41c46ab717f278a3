"""Where the sections are, in exact seconds from the start of the file, with the count-in."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from backing.audio.frames import seconds_at
from backing.score import Score


class Cue(NamedTuple):
    """A part of the file with a name; `end_s` is where the next one starts."""

    start_s: Fraction
    end_s: Fraction
    label: str


def section_cues(score: Score) -> tuple[Cue, ...]:
    """A cue for each marker, in playing order; each lasts until the next, the last to the end."""
    seconds = seconds_at(score.tempos)
    starts = [seconds(marker.start_whole) for marker in score.markers]
    ends = [*starts[1:], seconds(score.end_whole)]
    return tuple(
        Cue(start, end, marker.text)
        for start, end, marker in zip(starts, ends, score.markers, strict=False)
    )
