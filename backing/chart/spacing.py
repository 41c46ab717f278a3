"""Where things stand within a bar: by their time, and never closer than they need.

A bar is a row of places with a minimum distance between some of them. Places are spaced in
proportion to time if that gives all of them enough room; if not, those that are short get what
they need and the rest stay in proportion among themselves (roughly as engravers space music).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby, pairwise
from typing import Any, NamedTuple, TypeAlias

from backing.chart.metrics import symbol
from backing.chart.records import Bar, Tab

#: The largest size of chords.
CHORD_SIZE = 14.5
GAP = 5.0  # after a chord
SLASH, EARLY, RINGING, STROKE, DIGIT, LETTER, ROLL = 10.0, 12.0, 27.0, 9.0, 5.2, 6.5, 4.0
REST = 14.0  # below a staff, with the half of the letters that follow it
PAD = 7.0  # from a bar line to the first beat
METER, WIDE_METER, OPENS, CLOSES, DOUBLE = 13.0, 17.0, 12.0, 9.0, 4.0
_CLOSE = 1e-6


#: An item of a row: its kind, its place, and what that kind asks for.
Item: TypeAlias = "tuple[Any, ...]"


class Room(NamedTuple):
    """The least distance from one place to another, in points."""

    start: Fraction
    end: Fraction
    points: float


class Placed(NamedTuple):
    """A bar in its row, and each of its places with its distance from the first."""

    bar: Bar
    x: float
    width: float
    places: tuple[tuple[Fraction, float], ...]

    @property
    def first(self) -> float:
        """Where its first beat stands."""
        return self.x + lead(self.bar)

    @property
    def content(self) -> float:
        """The width from its first beat to its end."""
        return self.width - lead(self.bar) - tail(self.bar)

    def at(self, place: Fraction) -> float:
        """Where a place of the bar stands."""
        left = (self.bar.start, 0.0)
        for right in self.places:
            if right[0] >= place:
                break
            left = right
        if right[0] == left[0]:
            return self.first + left[1]
        share = float((place - left[0]) / (right[0] - left[0]))
        return self.first + left[1] + share * (right[1] - left[1])


def lead(bar: Bar) -> float:
    """What stands before a bar's first beat, in points."""
    wide = METER if max(bar.meter.count, bar.meter.unit) < 10 else WIDE_METER
    return PAD + wide * bar.shows_meter + OPENS * bar.opens


def tail(bar: Bar) -> float:
    """What stands after its end."""
    return CLOSES if bar.closes else DOUBLE if bar.end in ("double", "final") else 0.0


def least(bar: Bar) -> float:
    """The least width from a bar's first place to its end."""
    return _Grid(bar).at(0.0)[-1]


def spread(bar: Bar, width: float) -> tuple[tuple[Fraction, float], ...]:
    """Each place of a bar with its distance from the first, the bar's end last.

    Args:
        width: of the whole, at least `least`.
    """
    grid = _Grid(bar)
    most = width / float(bar.whole)
    found = grid.at(most)
    if found[-1] > width + _CLOSE:
        low, high = 0.0, most
        for _ in range(24):
            middle = (low + high) / 2
            low, high = (middle, high) if grid.at(middle)[-1] <= width else (low, middle)
        found = grid.at(low)
    return tuple(zip(grid.places, found, strict=True))


class _Grid:
    """A bar's places in order, the bar's end last, and what room they need."""

    def __init__(self, bar: Bar) -> None:
        rooms = _rooms(bar)
        ends = {bar.start, bar.start + bar.whole}
        self.places = sorted(ends.union(*((room.start, room.end) for room in rooms)))
        indexes = {place: index for index, place in enumerate(self.places)}
        self._steps = [float(place - before) for before, place in pairwise(self.places)]
        #: By place but the first, where the rooms that end there start, and their points.
        self._rooms: list[list[tuple[int, float]]] = [[] for _ in self._steps]
        for room in rooms:
            self._rooms[indexes[room.end] - 1].append((indexes[room.start], room.points))

    def at(self, points: float) -> list[float]:
        """Where each place stands at a scale (points for a whole note), or farther for its room."""
        found = [0.0]
        for step, rooms in zip(self._steps, self._rooms, strict=True):
            place = found[-1] + points * step
            found.append(max([place, *(found[start] + needed for start, needed in rooms)]))
        return found


def _rooms(bar: Bar) -> list[Room]:
    end = bar.start + bar.whole
    rooms = _in_turn(
        [
            (slot.at, symbol(slot.cell.chord).width(CHORD_SIZE) + GAP)
            for slot in bar.slots
            if not slot.cell.goes_on
        ],
        end,
    )
    beats = [
        (sign.at, RINGING if sign.kind == "ringing" else SLASH)
        for sign in bar.signs
        if sign.kind in ("slash", "stopped", "ringing", "rest")
    ]
    beats += [
        (sign.at - sign.whole, EARLY)
        for sign in bar.signs
        if sign.kind == "push" and sign.at > bar.start
    ]
    if bar.early:
        beats.append((end - bar.early, EARLY))
    rooms += _in_turn(beats, end)
    rooms += _in_turn([(one.at, STROKE + 5 * (one.move == "p2")) for one in bar.strokes], end)
    for tab in bar.tabs:
        rooms += _in_turn(_columns(tab), end) if tab is not None else []
    return rooms


def _columns(tab: Tab) -> list[tuple[Fraction, float]]:
    """What each column of tab takes: its numbers or the letters below it, or a rest."""
    found = []
    linked = {fret.at for fret in tab.frets if fret.link}
    rolled = any(fret.rolled for fret in tab.frets)
    for at, group in groupby(sorted(tab.frets, key=lambda fret: fret.at), lambda fret: fret.at):
        column = list(group)
        numbers = max(DIGIT * len(fret.text) + 6 * len(fret.after.strip(".")) for fret in column)
        letters = LETTER * sum(len(fret.finger) for fret in column)
        found.append((at, max(numbers, letters) + 4 + 3 * (at in linked) + ROLL * rolled))
    return found + [(at, REST) for at, _, struck in tab.rhythm if not struck]


def _in_turn(columns: Sequence[tuple[Fraction, float]], end: Fraction) -> list[Room]:
    """Each needs its width until the next of its kind, the last until the bar's end."""
    columns = sorted(columns)
    ends = [at for at, _ in columns[1:]] + [end]
    return [
        Room(at, until, wide)
        for (at, wide), until in zip(columns, ends, strict=False)
        if until > at
    ]
