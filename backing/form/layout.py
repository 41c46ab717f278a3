"""Written bars laid over their meters: where in its bar each slot starts and how long it lasts.

A bar with no slash is shared evenly by its chords, in whole beats; with a slash it has
one slot a beat or one a unit. Positions are fractions of a whole note from the bar line.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from itertools import accumulate
from typing import NamedTuple

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


class Misfit(Exception):
    """A bar that its meter can't hold; `bar` counts from 0."""

    def __init__(self, bar: int, message: str, mend: str = "") -> None:
        super().__init__(message)
        self.bar, self.message, self.mend = bar, message, mend


def lay_out(bars: Iterable[WrittenBar], meter: Meter) -> tuple[LaidBar, ...]:
    """Lay a pass's bars (body, then ending) over its own meter and those written in bars.

    Raises:
        Misfit: a bar that doesn't fit its meter, `%` with nothing it can repeat, or a
            first bar that goes on from nothing.
    """
    laid: list[LaidBar] = []
    for index, bar in enumerate(bars):
        meter = bar.meter or meter
        if bar.again:
            laid.append(_again(index, meter, laid))
        else:
            laid.append(LaidBar(meter, _share(index, bar.cells, meter)))
    if laid and laid[0].cells[0].cell.goes_on:
        raise Misfit(
            0, "nothing comes before this section's first slash.", "Name the chord instead of /."
        )
    return tuple(laid)


def _again(index: int, meter: Meter, laid: Sequence[LaidBar]) -> LaidBar:
    if not laid:
        raise Misfit(index, "% has no bar before it in this section.", "Write the bar's chords.")
    before = laid[-1]
    if before.meter.bar_whole != meter.bar_whole:
        raise Misfit(
            index,
            f"% can't repeat a bar of {before.meter} as a bar of {meter}.",
            "Write the bar's chords.",
        )
    return LaidBar(meter, before.cells)


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
    if not any(cell.goes_on for cell in cells) and len(beats) % count == 0:
        share = len(beats) // count
        return _sums(beats)[::share]
    raise Misfit(index, *_misfit(cells, meter))


def _sums(lengths: Sequence[Fraction]) -> list[Fraction]:
    return list(accumulate(lengths[:-1], initial=Fraction(0)))


def _misfit(cells: Sequence[Cell], meter: Meter) -> tuple[str, str]:
    beats, units = len(meter.beats), meter.count
    slots = f"{beats} slots" if beats == units else f"{beats} or {units} slots"
    if any(cell.goes_on for cell in cells):
        message = (
            f"this bar of {meter} has {len(cells)} slots; a bar written with slashes has {slots}."
        )
        return message, "Add or take away slashes."
    message = f"{len(cells)} chords don't share the {beats} beats of {meter} evenly."
    wide = beats if len(cells) <= beats else units
    if len(cells) > wide:
        return message, f"A bar of {meter} holds at most {units} chords."
    names = [str(cell.chord) if cell.chord else "N.C." for cell in cells]
    shown = " ".join(names + ["/"] * (wide - len(cells)))
    return message, f"Say which last longer with slashes, one slot a beat, such as: {shown}"
