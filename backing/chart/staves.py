"""Staves of tab under a row of bars, with the rhythm below their strings.

A line for each string, the highest on top; stems stand below, beamed by the beat. A quarter has
a bare stem, a half a short one, a whole none (tab's common practice). Frets count from the capo.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby, pairwise

from backing.chart.records import Fret, Tab
from backing.chart.riff_tab import REST
from backing.chart.spacing import Item, Placed

#: Points: how far a staff's name reaches, how much higher it stands over signs; room under a
#: staff for fingers, and for threes as well.
NAME, RAISED, FINGERS, THREE = 45.0, 9.0, 12.0, 4.0
#: Rests by length, the longest first.
_RESTS = ((Fraction(1), "whole"), (Fraction(1, 2), "half"), (Fraction(1, 4), "quarter"),
          (Fraction(1, 8), "eighth"), (Fraction(1, 16), "sixteenth"))  # fmt: skip


def rests(placed: Placed, at: Fraction, whole: Fraction, lane: int = -1) -> Iterator[Item]:
    """Rests that fill a length, dotted where one dotted rest fits exactly."""
    kind = "rest" if lane < 0 else "tab-rest"
    while whole > 0:
        for length, name in _RESTS:
            dotted = whole == length * Fraction(3, 2)
            if dotted or whole >= length:
                yield (kind, placed.at(at), name, dotted, lane)
                taken = whole if dotted else length
                at, whole = at + taken, whole - taken
                break
        else:
            return


def staff(line: Sequence[Placed], number: int, lane: int, name: str) -> Iterator[Item]:
    """A staff under the bars that have tab, with their rhythm below it."""
    tabbed = [
        placed for placed in line if len(placed.bar.tabs) > number and placed.bar.tabs[number]
    ]
    left = tabbed[0].x
    right = tabbed[-1].x + tabbed[-1].width
    palms = list(_palms(tabbed, number, lane))
    level = int(_near_name(tabbed[0], number))
    if any(x - left < NAME for _, x, _, _ in palms):
        level = 2  # the name stands above the words of the palm
    yield ("staff", left, right, lane, name, level)
    yield from palms
    for placed in tabbed:
        yield ("staff-bar", placed.x + placed.width, lane)
        tab = placed.bar.tabs[number]
        assert tab is not None
        yield from _links(placed, tab, lane)
        for fret in tab.frets:  # after all that is drawn near them: they must stay legible
            yield ("fret", placed.at(fret.at), lane, fret.string, fret.text)
        for place, group in groupby(tab.frets, key=lambda fret: fret.at):
            column = list(group)
            letters = "".join(fret.finger for fret in column)
            if letters:
                yield ("finger", placed.at(place), lane, letters)
            rolled = [fret.string for fret in column if fret.rolled]
            if rolled:
                yield ("roll", placed.at(place), lane, min(rolled), max(rolled))
        fingered = any(fret.finger for fret in tab.frets)
        yield from _rhythm(placed, tab, lane, fingered)


def _palms(line: Sequence[Placed], number: int, lane: int) -> Iterator[Item]:
    """Where the palm lies on the strings, from the first number of each run to its last."""
    columns: list[tuple[float, bool]] = []
    for placed in line:
        tab = placed.bar.tabs[number]
        assert tab is not None
        for at, group in groupby(tab.frets, key=lambda fret: fret.at):
            struck = [fret.muted for fret in group if fret.text != REST]
            if struck:
                columns.append((placed.at(at), any(struck)))
    for is_muted, run in groupby(columns, key=lambda column: column[1]):
        if is_muted:
            places = [x for x, _ in run]
            yield ("palm", places[0], places[-1], lane)


def above(items: Sequence[Item]) -> tuple[float, ...]:
    """The extra room above each staff, for a raised name and for the palm.

    Below another staff there is room for one of the two.
    """
    palms = {item[3] for item in items if item[0] == "palm"}
    levels = [max(item[5], int(item[3] in palms)) for item in items if item[0] == "staff"]
    return tuple(RAISED * max(0, level - (lane > 0)) for lane, level in enumerate(levels))


def _near_name(placed: Placed, number: int) -> bool:
    """Whether a staff begins with signs that rise to where its name usually stands."""
    tab = placed.bar.tabs[number]
    assert tab is not None
    high = tab._replace(frets=tuple(fret for fret in tab.frets if fret.string <= 2))
    return any(left - placed.x < NAME for _, left, *_ in _links(placed, high, 0))


def below(items: Sequence[Item]) -> float:
    """The extra room under a staff for finger letters and the threes of triplets."""
    fingered = any(item[0] == "finger" for item in items)
    return (FINGERS + THREE * any(item[0] == "three" for item in items)) if fingered else 0.0


def _links(placed: Placed, tab: Tab, lane: int) -> Iterator[Item]:
    """What leads from number to number, and what follows one: slurs, slides, bends, shakes."""
    before: dict[int, Fret] = {}
    for fret in tab.frets:
        x = placed.at(fret.at)
        if fret.after:
            yield ("after", x, lane, fret.string, len(fret.text), fret.after)
        if fret.link:
            kind = "slur" if fret.link in "hp" else "slide"
            started = before.get(fret.string)
            origin = placed.at(started.at) if started else placed.first - 9
            if kind == "slide" and started:
                origin += 4.6 * (len(started.text) - 1)
            yield (kind, origin, x, lane, fret.string, fret.link == "/")
        before[fret.string] = fret


def _rhythm(placed: Placed, tab: Tab, lane: int, fingered: bool) -> Iterator[Item]:
    """Stems below the staff, beamed by the beat; a quarter has a bare stem, a half a short one."""
    meter = placed.bar.meter
    starts = list(meter.beat_starts)

    def beat(at: Fraction) -> int:
        return sum(start <= at for start in starts)

    for _, group in groupby(tab.rhythm, key=lambda one: beat(one[0])):
        notes = []
        for at, whole, struck in group:
            if not struck:
                yield from rests(placed, at, whole, lane)
                continue
            value, dotted, triplet = _value(whole)
            notes.append((placed.at(at), _beams(value), value, dotted, triplet))
        for x, _, value, dotted, _ in notes:
            if value < 1:
                yield ("stem", x, lane, value >= Fraction(1, 2), fingered)
            if dotted:
                yield ("dot", x, lane, fingered)
        yield from _beam(notes, lane, fingered)
        threes = [note[0] for note in notes if note[4]]
        if threes:
            yield ("three", (threes[0] + threes[-1]) / 2, lane, fingered)


def _beam(
    notes: Sequence[tuple[float, int, Fraction, bool, bool]], lane: int, low: bool
) -> Iterator[Item]:
    if len(notes) == 1 and notes[0][1]:
        yield from (("flag", notes[0][0], lane, level, low) for level in range(notes[0][1]))
        return
    for index, (one, other) in enumerate(pairwise(notes)):
        shared = min(one[1], other[1])
        yield from (("beam", one[0], other[0], lane, level, low) for level in range(shared))
        # A beam that isn't shared is a stub: right of the first note, left of the others.
        if index == 0:
            yield from (("beam", one[0], one[0] + 5, lane, k, low) for k in range(shared, one[1]))
        third = notes[index + 2][1] if index + 2 < len(notes) else 0
        yield from (
            ("beam", other[0] - 5, other[0], lane, k, low)
            for k in range(max(shared, third), other[1])
        )


def _value(whole: Fraction) -> tuple[Fraction, bool, bool]:
    """The note value that a length is written with, whether dotted, whether in a triplet.

    A length that no single value has is written with the longest value that fits into it.
    """
    triplet = whole.denominator % 3 == 0
    length = whole * Fraction(3, 2) if triplet else whole
    for power in range(7):
        value = Fraction(1, 2**power)
        if length >= value:
            return value, length >= value * Fraction(3, 2), triplet
    return Fraction(1, 64), False, triplet


def _beams(value: Fraction) -> int:
    return {Fraction(1, 8): 1, Fraction(1, 16): 2, Fraction(1, 32): 3, Fraction(1, 64): 4}.get(
        value, 0
    )
