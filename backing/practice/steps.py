"""The rounds of a version: at which speed each is played, which bars, and what counts it in."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from backing.practice.versions import Version
from backing.text.bars import bar_range
from backing.text.percent import percent


class Step(NamedTuple):
    """A round: a share of the written tempo, bars of the song, and bars of count-in before it."""

    speed: Fraction
    first: int
    last: int
    counted: int


def steps(version: Version, first: int, last: int) -> tuple[Step, ...]:
    """The rounds of a version that practices bars `first` to `last`.

    With several speeds only a round with another speed than the one before is counted in.
    """
    found: list[Step] = []
    for speed in version.speeds:
        for bars in _stretches(version.build_up, first, last):
            for _ in range(version.loop):
                anew = len(version.speeds) == 1 or not found or found[-1].speed != speed
                counted = version.between if found and anew else 0
                found.append(Step(speed, *bars, counted))
    return tuple(found)


def _stretches(build_up: str, first: int, last: int) -> Iterator[tuple[int, int]]:
    """The bars of each step: all of them, or one more each time."""
    if not build_up:
        yield first, last
    elif build_up == "front":
        yield from ((first, until) for until in range(first, last + 1))
    else:
        yield from ((since, last) for since in range(last, first - 1, -1))


def marked(version: Version, rounds: tuple[Step, ...], label: str, number: int) -> str:
    """A section's label in round `number` (from 1): "Chorus 1, bars 9-10, round 3 of 9, 70%"."""
    if len(rounds) == 1:
        return label
    step = rounds[number - 1]
    if version.build_up:
        label = f"{label}, {bar_range(step.first, step.last)}"
    label = f"{label}, round {number} of {len(rounds)}"
    return f"{label}, {percent(step.speed)}" if len(version.speeds) > 1 else label
