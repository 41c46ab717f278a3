"""A bar of a drum beat, in any meter and at any level.

A beat from the table (`backing.theory.built_in_beats`) is played where its row lists the meter; in
any other meter the meter's plain beat takes its place, which is the first plain one that
lists it, or else kick and snare by turns over the beats with a hi-hat between them.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from backing.players.tiling import repeated
from backing.theory.built_in_beats import (
    BEATS,
    DRUMS,
    EVEN_THREE,
    GROUPS,
    HAT,
    LEVELS,
    OPEN_HAT,
    PLAIN_BEATS,
    RIM,
    UNEVEN_THREE,
    Beat,
)
from backing.theory.rhythm import Meter

#: Velocities of `X`, `x` and `o`: the backbeat is loudest, the hats are well below it.
VELOCITIES = {
    "kick": (102, 88, 66),
    "snare": (104, 84, 42),
    "brush": (74, 58, 42),
    "hat": (78, 58, 44),
    "foot": (62, 54, 44),
    "ride": (80, 64, 48),
}
DEFAULT_LEVEL = "medium"


class Hit(NamedTuple):
    """A stroke of a drum, at its distance from the bar line as written."""

    offset_whole: Fraction
    pitch: int
    velocity: int


def at_level(velocity: int, level: str) -> int:
    """A velocity as a level has it, at most 127."""
    return min(127, velocity * LEVELS[level] // 100)


def beat_for(name: str | None, meter: Meter) -> Beat:
    """The beat that plays in a meter: the one named, the meter's plain one, or one made for it."""
    fitting = [beat for beat in BEATS if str(meter) in beat.meters]
    for choice in (name, *PLAIN_BEATS):
        for beat in fitting:
            if beat.name == choice:
                return beat
    return _made_for(meter)


@lru_cache(maxsize=512)
def beat_hits(name: str | None, meter: Meter, level: str) -> tuple[Hit, ...]:
    """A bar of a beat at a level, in order.

    `light` leaves out soft strokes and all but the kick's accents, and plays the side
    stick for the snare; `full` opens the bar's last hi-hat.
    """
    beat = beat_for(name, meter)
    hits = sorted(
        Hit(at, _pitch(voice, level), at_level(VELOCITIES[voice]["Xxo".index(mark)], level))
        for voice, line in beat.lines
        for at, mark in repeated(line, beat.step_whole, meter.bar_whole)
        if mark != "-" and not (level == "light" and _is_left_out(voice, mark))
    )
    return tuple(_opened(hits) if level == "full" else hits)


def _pitch(voice: str, level: str) -> int:
    return RIM if level == "light" and voice == "snare" else DRUMS[voice]


def _is_left_out(voice: str, mark: str) -> bool:
    return (voice == "kick" and mark == "x") or (voice == "snare" and mark == "o")


def _opened(hits: list[Hit]) -> list[Hit]:
    """Hits whose last hi-hat is open, unless it is the one on the bar line."""
    last = max((index for index, hit in enumerate(hits) if hit.pitch == HAT), default=None)
    if last is None or not hits[last].offset_whole:
        return hits
    return [*hits[:last], hits[last]._replace(pitch=OPEN_HAT), *hits[last + 1 :]]


@lru_cache(maxsize=256)
def _made_for(meter: Meter) -> Beat:
    """Kick and snare by turns over the beats of any meter, and a hi-hat between them."""
    by_unit = len(meter.beats) < meter.count or meter.unit >= 8
    step = meter.unit_whole if by_unit else meter.unit_whole / 2
    kick, snare, hat = ["-"] * (n := int(meter.bar_whole / step)), ["-"] * n, ["x"] * n
    for start, drum in zip(meter.beat_starts, _drums(meter), strict=True):
        at = int(start / step)
        hat[at] = "X"
        if drum != "-":
            (kick if drum == "K" else snare)[at] = "x" if drum == "s" else "X"
    lines = (("hat", "".join(hat)), ("snare", "".join(snare)), ("kick", "".join(kick)))
    return Beat("plain", (str(meter),), step, lines)


def _drums(meter: Meter) -> str:
    """What opens each beat, in the letters of `GROUPS`."""
    if len(meter.beats) == 3 and not (meter.even and meter.groups and meter.unit <= 4):
        return EVEN_THREE if meter.even else UNEVEN_THREE
    longest = GROUPS[2] * len(meter.beats)
    return "".join(GROUPS.get(size, longest[:size]) for size in _groups(meter))


def _groups(meter: Meter) -> tuple[int, ...]:
    """How many beats go together: as written, or in twos, an odd number with a three."""
    count = len(meter.beats)
    if meter.groups and count == meter.count:
        return meter.groups
    usual = {1: (1,), 3: (3,), 5: (3, 2)}
    twos = (2,) * (count // 2 - count % 2)
    return usual.get(count, (*twos, 3) if count % 2 else twos)
