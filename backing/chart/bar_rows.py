"""Bars put in rows, and what the guitars play below them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction

from backing.chart.guitar_line import Printed
from backing.chart.records import Bar
from backing.form.layout import LaidBar
from backing.form.model import Rows, WrittenBar

USUAL_ROW, LONGEST_ROW = 4, 6


def slot_places(bar: WrittenBar, laid: LaidBar) -> list[Fraction]:
    """Where each typed slot of a bar starts, those of slashes as well."""
    count, meter = len(bar.cells), laid.meter
    if len(laid.cells) == count:
        return [cell.start_whole for cell in laid.cells]
    if count == meter.count:
        return [meter.unit_whole * number for number in range(count)]
    return list(meter.beat_starts[:count])


def cut_rows(rows: Rows, bars: Sequence[Bar], per_row: int | None) -> Iterator[list[Bar]]:
    """Bars in rows: as typed, very long rows in fours; or `per_row` bars in each."""
    if per_row is not None:
        for at in range(0, len(bars), per_row):
            yield list(bars[at : at + per_row])
        return
    at = 0
    for row in rows:
        size = len(row) if len(row) <= LONGEST_ROW else USUAL_ROW
        for start in range(0, len(row), size):
            count = min(size, len(row) - start)
            yield list(bars[at + start : at + start + count])
        at += len(row)


def joined_rows(
    parts: Sequence[Sequence[Sequence[Bar]]], room: int
) -> tuple[list[list[Bar]], frozenset[int]]:
    """The rows of a section's body and its endings, one after another.

    The first ending begins in the body's last row where there is room for its first row; the
    other endings then stand below it.

    Args:
        parts: the rows of the body, then those of each ending.
        room: how many bars a row may have for an ending to begin in it.

    Returns:
        The rows, and the numbers of those in which an ending begins so.
    """
    rows = [list(row) for row in parts[0]]
    joined: set[int] = set()
    for number, part in enumerate(parts[1:]):
        ending = [list(row) for row in part]
        if number == 0 and len(rows[-1]) + len(ending[0]) <= room:
            rows[-1] += ending.pop(0)
            joined.add(len(rows) - 1)
        elif number and joined:
            joined.add(len(rows))
        rows += ending
    return rows, frozenset(joined)


def with_playing(rows: Iterable[Sequence[Bar]], printed: Printed) -> Iterator[tuple[Bar, ...]]:
    """Rows with the strokes and tab that stand below their bars."""
    number = 0
    for row in rows:
        found = []
        for bar in row:
            tabs = tuple(staff.get(number) for staff in printed.tabs)
            found.append(
                bar._replace(
                    strokes=printed.strokes.get(number, ()),
                    tabs=tabs if any(tabs) else (),
                    alike=printed.alike.get(number, ()),
                )
            )
            number += 1
        yield tuple(found)
