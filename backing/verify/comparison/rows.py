"""The table of passes, with what a reader found."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from backing.verify.expected.records import Expected
from backing.verify.readers.measured import Measured
from backing.verify.report import Row


def table_rows(expected: Expected, account: Measured) -> Iterator[Row]:
    """Every pass, from its marker to the next one or to the last bar line.

    Where markers were lost, bar lines say where passes are. What neither says isn't found.
    """
    found = _by_markers(expected, account) or _by_bar_lines(expected, account)
    for row, (start, end) in zip(expected.passes, found, strict=True):
        length = end - start if start is not None and end is not None else None
        yield Row(
            row.label,
            row.first_bar,
            row.bars,
            float(row.start_s),
            float(row.seconds),
            start,
            length,
        )


def _by_markers(
    expected: Expected, account: Measured
) -> Sequence[tuple[float | None, float | None]]:
    """The start and end of every pass; none if there aren't as many markers as there must be."""
    markers = sorted(set(account.markers or ()), key=lambda marker: marker[0])
    starts = [at_s for at_s, _ in markers[len(expected.lead_in) :]]
    if len(starts) != len(expected.passes):
        return ()
    lines = account.bar_lines
    count = len(expected.count_in_bars) + len(expected.bars)
    last = lines[count] if count < len(lines) else None
    return list(zip(starts, [*starts[1:], last], strict=True))


def _by_bar_lines(
    expected: Expected, account: Measured
) -> Sequence[tuple[float | None, float | None]]:
    """The same, from the bar line in the file that has the number of the pass's first bar."""
    bars = (*expected.count_in_bars, *expected.bars)
    numbers = {bar.start_s: number for number, bar in enumerate(bars)}
    found = dict(enumerate(account.bar_lines))
    ends = [row.start_s + row.seconds for row in expected.passes]
    return [
        (found.get(numbers[row.start_s]), found.get(numbers.get(end, len(bars))))
        for row, end in zip(expected.passes, ends, strict=True)
    ]
