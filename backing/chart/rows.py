"""Rows of bars on paper: how wide each bar is and where it stands.

Points, from the row's left edge. A bar is as wide as it lasts, at one scale for the whole chart,
as long as its chords, strokes and tab have room; one that needs more takes it from the others
of its row, a row that needs more than the page is cut, and so is a bar wider than the page.
Nothing is ever made narrower than it needs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate

from backing.chart.cutting import halves, pushed_by
from backing.chart.metrics import symbol
from backing.chart.records import Bar, Block
from backing.chart.row_items import Row, row_of
from backing.chart.spacing import Placed, lead, least, spread, tail
from backing.errors import BackingError

SIMILE, NARROWEST = 30.0, 24.0
#: A letter of words to sing, somewhat wider than most, and what stays free between two words.
LETTER, BETWEEN = 5.2, 6.0
#: Longer words, which may be a line of letters, are broken instead.
MOST_LETTERS = 20


def scale(blocks: Sequence[Block], width: float) -> float:
    """Points for a whole note: the longest row that fits takes the width."""
    lengths = [sum((bar.whole for bar in row), Fraction(0)) for b in blocks for row in b.rows]
    usual = sorted(lengths)[len(lengths) // 2]
    longest = max(length for length in lengths if length <= 2 * usual)
    return width / float(longest)


def rows(block: Block, width: float, points: float) -> Iterator[Row]:
    """A section's rows.

    Args:
        width: of the page beside the margin.
        points: for a whole note.

    Raises:
        BackingError: a chord or a number of tab is wider than the page.
    """
    indent = 0.0
    shown: set[int] = set()
    block = block._replace(rows=tuple(_led_into(block)))
    for number, row in enumerate(block.rows):
        joined = number in block.joined
        first_ending = next((i for i, bar in enumerate(row) if bar.ending), 0)
        start = indent if joined and not first_ending else 0.0
        if start and sum(_needs(row)) > width - start:
            start = 0.0
        fitted = list(_fit(row, width - start, points, start))
        if joined and first_ending and len(fitted) == 1:
            indent = fitted[0][first_ending].x
        for line in fitted:
            yield row_of(line, block, shown, width)


def _led_into(block: Block) -> Iterator[tuple[Bar, ...]]:
    """The rows, each bar with how early the first chord of the next one is struck."""
    bars = [bar for row in block.rows for bar in row]
    early = [pushed_by(bar) for bar in bars[1:]] + [Fraction(0)]
    led = map(lambda bar, whole: bar._replace(early=whole), bars, early)
    return (tuple(next(led) for _ in row) for row in block.rows)


# Widths


def _fit(
    row: Sequence[Bar], width: float, points: float, start: float
) -> Iterator[tuple[Placed, ...]]:
    """A row in one line, or in as many as it needs."""
    needs = _needs(row)
    if sum(needs) <= width:
        yield tuple(_placed(row, needs, width, points, start))
        return
    pieces = _cut(row, needs, width)
    for piece in pieces:
        yield from _fit(piece, width, points, start)


def _cut(row: Sequence[Bar], needs: Sequence[float], width: float) -> Sequence[Sequence[Bar]]:
    """A row that is too wide, cut in two: between bars, near its middle if that fits, or within
    its only bar.
    """
    if len(row) > 1:
        count = sum(total <= width for total in accumulate(needs)) or 1
        count = min(count, -(-len(row) // 2)) if count * 2 >= len(row) else count
        return row[:count], row[count:]
    pieces = halves(row[0])
    if pieces is None:
        raise BackingError(f"{_widest(row[0])} is wider than the chart's paper. Write it shorter.")
    return [[piece] for piece in pieces]


def _placed(
    row: Sequence[Bar], needs: Sequence[float], width: float, points: float, start: float
) -> Iterator[Placed]:
    """Bars side by side, from `start` on."""
    by_time = [max(lead(bar) + tail(bar), float(bar.whole) * points) for bar in row]
    x = start
    for bar, wide in zip(row, _shared(by_time, needs, width), strict=True):
        yield Placed(bar, x, wide, spread(bar, wide - lead(bar) - tail(bar)))
        x += wide


def _shared(wishes: Sequence[float], needs: Sequence[float], width: float) -> list[float]:
    """The wished widths where there is room; a bar that needs more takes it from the rest."""
    total = min(width, max(sum(wishes), sum(needs)))
    fixed: set[int] = set()
    while True:
        left = total - sum(needs[i] for i in fixed)
        free = [i for i in range(len(wishes)) if i not in fixed]
        whole = sum(wishes[i] for i in free)
        share = {i: wishes[i] * min(1.0, left / whole) if whole else 0.0 for i in free}
        short = {i for i in free if share[i] < needs[i] - 1e-9}
        if not short:
            return [share.get(i, needs[i]) for i in range(len(wishes))]
        fixed |= short


def _needs(row: Sequence[Bar]) -> list[float]:
    """The least width of each bar in which nothing touches, its words next to others included."""
    after = [*row[1:], None]
    return [
        max(_needs_alone(bar), _longest_word(bar, other))
        for bar, other in zip(row, after, strict=True)
    ]


def _longest_word(bar: Bar, after: Bar | None) -> float:
    """How wide the words of a bar are at least, if words of the next bar stand beside them."""
    others = after.words if after is not None else ()
    beside = [text for text, other in zip(bar.words, others, strict=False) if other]
    letters = max((len(word) for text in beside for word in text.split()), default=0)
    return LETTER * letters + BETWEEN if 0 < letters <= MOST_LETTERS else 0.0


def _needs_alone(bar: Bar) -> float:
    """The least width in which nothing in a bar touches."""
    inner = max(SIMILE if bar.again else 0.0, least(bar))
    return max(NARROWEST, inner) + lead(bar) + tail(bar)


def _widest(bar: Bar) -> str:
    """What takes the most room of a bar that can't be cut, for a sentence."""
    chords = [symbol(slot.cell.chord).text for slot in bar.slots if not slot.cell.goes_on]
    return f"the chord {max(chords, key=len)}" if chords else "a number of tab"
