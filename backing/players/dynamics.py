"""How loud each section is played, and how the bar before one may grow into it.

A pass's `dynamic` scales the velocities of every part but the click. A dynamic mark is
worth about sixteen steps of velocity (common practice), about a fifth of a velocity in
the middle of the range. Where a line of the form has a `lift`, the bar before it grows
evenly by `LIFT` up to its start. A pass starts at its bar line or, where its first chord
is pushed, with that chord.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from fractions import Fraction
from types import MappingProxyType
from typing import NamedTuple

from backing.score import Note
from backing.timeline import Pass, Timeline

#: What a velocity is multiplied by.
LEVELS: Mapping[str, Fraction] = MappingProxyType(
    {"soft": Fraction(4, 5), "medium": Fraction(1), "loud": Fraction(6, 5)}
)
DEFAULT = "medium"
#: By what share a velocity has grown at a lift's end.
LIFT = Fraction(1, 6)


class Stretch(NamedTuple):
    """From `start_whole` on, velocities are multiplied by `level`, which grows by `grows` of it."""

    start_whole: Fraction
    level: Fraction
    grows: Fraction = Fraction(0)
    length_whole: Fraction = Fraction(1)


def starts(timeline: Timeline) -> list[tuple[Fraction, Pass]]:
    """Each pass with where its sound starts; the first one has the count-in and pickup too."""
    found: list[tuple[Fraction, Pass]] = []
    for span in timeline.spans:
        leads_in = timeline.pickup is not None and span.playing is timeline.pickup.playing
        playing = timeline.passes[0] if leads_in else span.playing
        if not found or playing is not found[-1][1]:
            found.append((span.start_whole if found else Fraction(0), playing))
    return found


def dynamics(timeline: Timeline) -> list[Stretch]:
    """The song's dynamics in order, from its start."""
    passes = starts(timeline)
    found: list[Stretch] = []
    last_bars = {id(bar.playing): bar.start_whole for bar in timeline.bars}
    for (start, playing), following in zip(passes, [*passes[1:], None], strict=True):
        level = LEVELS[playing.settings.dynamic or DEFAULT]
        if not found or found[-1].grows or found[-1].level != level:
            found.append(Stretch(start, level))
        if following is not None and _lifted(following[1]):
            from_whole = max(start, last_bars[id(playing)])
            if from_whole < following[0]:
                found.append(Stretch(from_whole, level, LIFT, following[0] - from_whole))
    return found


def scaled(notes: Sequence[Note], stretches: Sequence[Stretch]) -> tuple[Note, ...]:
    """Notes with their velocities scaled by where they start, within 1-127."""
    if all(stretch.level == 1 and not stretch.grows for stretch in stretches):
        return tuple(notes)
    begins = [stretch.start_whole for stretch in stretches]
    found = []
    for note in notes:
        stretch = stretches[max(0, bisect_right(begins, note.start_whole) - 1)]
        velocity = _times(note.velocity, stretch, note.start_whole)
        found.append(note._replace(velocity=velocity))
    return tuple(found)


def _lifted(playing: Pass) -> bool:
    return playing.opens and bool(playing.settings.lift)


def _times(velocity: int, stretch: Stretch, at: Fraction) -> int:
    level = stretch.level
    if stretch.grows:
        level *= 1 + stretch.grows * (at - stretch.start_whole) / stretch.length_whole
    return min(127, max(1, velocity * level.numerator // level.denominator))
