"""Written bars laid over their meters: where in its bar each slot starts and how long it lasts.

A bar with no slash is shared evenly by its chords, in whole beats; with a slash it has
one slot a beat or one a unit; a slash all alone lasts its whole bar. Positions are
fractions of a whole note from the bar line.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import accumulate
from typing import NamedTuple

from backing.form.bars import print_cell
from backing.form.model import Cell, WrittenBar
from backing.theory.rhythm import Meter


class LaidCell(NamedTuple):
    """A cell with its place in the bar."""

    start_whole: Fraction
    cell: Cell


class LaidBar(NamedTuple):
    """A bar in its meter; a cell that goes on from the bar before stands first."""

    meter: Meter
    cells: tuple[LaidCell, ...]


class LayoutError(Exception):
    """A bar that its meter can't hold; `bar` counts from 0."""

    def __init__(self, bar: int, message: str, fix: str = "") -> None:
        super().__init__(message)
        self.bar, self.message, self.fix = bar, message, fix


def lay_out(
    bars: Iterable[WrittenBar],
    meter: Meter,
    before: Sequence[LaidBar] = (),
    problems: list[LayoutError] | None = None,
) -> tuple[LaidBar, ...]:
    """Lay a pass's bars over its own meter and those written in bars.

    Args:
        bars: the body with its ending, or either alone.
        meter: what holds until a bar changes it.
        before: the laid bars that these go on from: for an ending, its body.
        problems: where to note bars that don't fit; each then keeps its first cell alone.

    Raises:
        LayoutError: a bar that doesn't fit its meter, `%` with nothing it can repeat, or a
            first bar that goes on from nothing; only where `problems` isn't given.
    """
    laid: list[LaidBar] = []
    last = before[-1] if before else None
    meter = last.meter if last else meter
    for index, bar in enumerate(bars):
        meter = bar.meter or meter
        try:
            cells = _repeated(index, meter, last) if bar.again else _share(index, bar.cells, meter)
            if last is None and cells[0].cell.goes_on:
                what = "nothing comes before this section's first slash."
                raise LayoutError(index, what, "Name the chord instead of /.")
        except LayoutError as problem:
            if problems is None:
                raise
            problems.append(problem)
            cells = (LaidCell(Fraction(0), bar.cells[0] if bar.cells else Cell()),)
        last = LaidBar(meter, cells)
        laid.append(last)
    return tuple(laid)


def _repeated(index: int, meter: Meter, before: LaidBar | None) -> tuple[LaidCell, ...]:
    fix = "Write the bar's chords."
    if before is None:
        raise LayoutError(index, "% has no bar before it in this section.", fix)
    if before.meter.bar_whole != meter.bar_whole:
        what = f"% can't repeat a bar of {before.meter} as a bar of {meter}."
        raise LayoutError(index, what, fix)
    return before.cells


def _share(index: int, cells: Sequence[Cell], meter: Meter) -> tuple[LaidCell, ...]:
    """Give each cell its start; slashes only lengthen the chord before them."""
    starts = _starts(index, cells, meter)
    kept = [
        LaidCell(start, cell)
        for number, (start, cell) in enumerate(zip(starts, cells, strict=True))
        if number == 0 or not cell.goes_on
    ]
    return tuple(kept)


def _starts(index: int, cells: Sequence[Cell], meter: Meter) -> list[Fraction]:
    count, beats, units = len(cells), meter.beats, meter.count
    if count == units:
        return [meter.unit_whole * number for number in range(units)]
    if count == len(beats):
        return _sums(beats)
    shared = not any(cell.goes_on for cell in cells) or count == 1
    if shared and len(beats) % count == 0:
        share = len(beats) // count
        return _sums(beats)[::share]
    raise LayoutError(index, *_fit_advice(cells, meter))


def _sums(lengths: Sequence[Fraction]) -> list[Fraction]:
    return list(accumulate(lengths[:-1], initial=Fraction(0)))


def _fit_advice(cells: Sequence[Cell], meter: Meter) -> tuple[str, str]:
    """What is wrong with a bar's number of slots, and the bar that its writer may have meant."""
    count, beats, units = len(cells), len(meter.beats), meter.count
    if count > units:
        kind = "slot" if any(cell.goes_on for cell in cells) else "chord"
        what = f"{_many(count, kind)} are too many for a bar of {meter}."
        return what, f"It holds {_slots(beats, units)}: remove some, or make it two bars."
    wide, each = (beats, "beat") if count <= beats else (units, f"{meter.unit_whole}")
    example = " ".join([*map(print_cell, cells), *["/"] * (wide - count)])
    if any(cell.goes_on for cell in cells):
        what = f"this bar of {meter} has {_many(count, 'slot')}, but with slashes it needs "
        return (
            f"{what}{_slots(beats, units)}.",
            f"Write one slot for each {each}, such as: {example}",
        )
    what = f"{count} chords don't share the {_many(beats, 'beat')} of {meter} evenly."
    return (
        what,
        f"Use slashes to say which last longer, one slot for each {each}, such as: {example}",
    )


def _slots(beats: int, units: int) -> str:
    return _many(units, "slot") if beats == units else f"{beats} or {units} slots"


def _many(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
