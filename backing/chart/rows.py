"""Rows of bars on paper: how wide each bar is and where everything in it stands.

Points, from the row's left edge. A bar is as wide as it lasts, at one scale for the whole chart,
as long as its chords, strokes and tab have room; one that needs more takes it from the others
of its row, a row that needs more than the page is cut, and so is a bar wider than the page.
Nothing is ever made narrower than it needs.

An item is a tuple: its kind, its place, and what that kind asks for (`chart.typ` draws each).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import accumulate, groupby
from math import ceil
from typing import NamedTuple

from backing.chart.metrics import symbol
from backing.chart.records import STRUM, Bar, Block, Tab
from backing.chart.spacing import OPENS, PAD, Item, Placed, lead, least, spread, tail
from backing.chart.staves import RAISED, below, rests, staff
from backing.errors import BackingError

#: Signs that stand amid their bar.
_AMID = ("simile", "bar-rest")
SIMILE, NARROWEST = 30.0, 24.0
#: A letter of the text that is only read: how wide it may be.
LETTER = 5.0
#: The last cue of a row has at least so much room, and a label of an ending keeps this clear.
CUE, CLEAR = 140.0, 6.0


class Row(NamedTuple):
    """A row: its items, what of them reads as text, and its lanes."""

    items: tuple[Item, ...]
    cues: tuple[tuple[float, float, str], ...]
    brackets: tuple[tuple[float, str], ...]
    strokes: bool
    staves: int
    above: float
    below: float
    width: float


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
        if start and sum(map(_needs, row)) > width - start:
            start = 0.0
        fitted = list(_fit(row, width - start, points, start))
        if joined and first_ending and len(fitted) == 1:
            indent = fitted[0][first_ending].x
        for line in fitted:
            yield _row(line, block.staves, shown, width)


def _led_into(block: Block) -> Iterator[tuple[Bar, ...]]:
    """The rows, each bar with the time at which a push into the next one is struck."""
    bars = [bar for row in block.rows for bar in row]
    early = [_pushed(bar) for bar in bars[1:]] + [Fraction(0)]
    led = map(lambda bar, whole: bar._replace(early=whole), bars, early)
    return (tuple(next(led) for _ in row) for row in block.rows)


def _pushed(bar: Bar) -> Fraction:
    """How far ahead of a bar its first chord is struck."""
    pushes = (s.whole for s in bar.signs if s.kind == "push" and s.at == bar.start)
    return next(pushes, Fraction(0))


# Widths


def _fit(
    row: Sequence[Bar], width: float, points: float, start: float
) -> Iterator[tuple[Placed, ...]]:
    """A row in one line, or in as many as it needs."""
    needs = [_needs(bar) for bar in row]
    if sum(needs) > width:
        if len(row) > 1:
            count = sum(total <= width for total in accumulate(needs)) or 1
            count = min(count, -(-len(row) // 2)) if count * 2 >= len(row) else count
            yield from _fit(row[:count], width, points, start)
            yield from _fit(row[count:], width, points, start)
            return
        pieces = _halves(row[0])
        if pieces:
            for piece in pieces:
                yield from _fit([piece], width, points, start)
            return
        raise BackingError(f"{_widest(row[0])} is wider than the chart's paper. Write it shorter.")
    widths = _shared([max(lead(b) + tail(b), float(b.whole) * points) for b in row], needs, width)
    x, placed = start, []
    for bar, wide in zip(row, widths, strict=True):
        placed.append(Placed(bar, x, wide, spread(bar, wide - lead(bar) - tail(bar))))
        x += wide
    yield tuple(placed)


def _shared(wanted: Sequence[float], needs: Sequence[float], width: float) -> list[float]:
    """Widths as wanted where there is room; who needs more takes it from the rest."""
    total = min(width, max(sum(wanted), sum(needs)))
    fixed: set[int] = set()
    while True:
        left = total - sum(needs[i] for i in fixed)
        free = [i for i in range(len(wanted)) if i not in fixed]
        whole = sum(wanted[i] for i in free)
        share = {i: wanted[i] * min(1.0, left / whole) if whole else 0.0 for i in free}
        short = {i for i in free if share[i] < needs[i] - 1e-9}
        if not short:
            return [share.get(i, needs[i]) for i in range(len(wanted))]
        fixed |= short


def _needs(bar: Bar) -> float:
    """The least width in which nothing of a bar meets."""
    inner = max(SIMILE if bar.again else 0.0, least(bar))
    return max(NARROWEST, inner) + lead(bar) + tail(bar)


def _middle(bar: Bar) -> Fraction | None:
    """Where a bar may be cut: at a unit or else a place near its middle; None in a single place."""
    end, unit = bar.start + bar.whole, bar.meter.unit_whole
    units = [bar.start + unit * number for number in range(1, ceil(bar.whole / unit))]
    frets = [fret.at for tab in bar.tabs if tab for fret in tab.frets]
    strokes = [stroke.at for stroke in bar.strokes]
    places = {*(slot.at for slot in bar.slots), *(s.at for s in bar.signs), *strokes, *frets}
    inside = units or sorted(at for at in places if bar.start < at < end)
    return min(inside, key=lambda at: abs(at - bar.start - bar.whole / 2), default=None)


def _halves(bar: Bar) -> tuple[Bar, Bar] | None:
    """A bar cut in two near its middle; None where all of it stands at one place."""
    middle = _middle(bar)
    if middle is None:
        return None
    one = bar._replace(
        until=middle, end="none", closes=False,
        slots=tuple(s for s in bar.slots if s.at < middle),
        signs=tuple(s for s in bar.signs if s.at < middle or s.kind in _AMID),
        strokes=tuple(s for s in bar.strokes if s.at < middle),
        tabs=tuple(t and _cut_tab(t, bar.start, middle) for t in bar.tabs),
    )  # fmt: skip
    other = bar._replace(
        start=middle, until=bar.start + bar.whole, shows_meter=False, opens=False, cue="",
        slots=tuple(s for s in bar.slots if s.at >= middle),
        signs=tuple(s for s in bar.signs if s.at >= middle and s.kind not in _AMID),
        strokes=tuple(s for s in bar.strokes if s.at >= middle), alike=(),
        tabs=tuple(t and _cut_tab(t, middle, bar.start + bar.whole) for t in bar.tabs),
    )  # fmt: skip
    return one._replace(early=_pushed(other)), other


def _cut_tab(tab: Tab, start: Fraction, end: Fraction) -> Tab:
    return Tab(
        tuple(fret for fret in tab.frets if start <= fret.at < end),
        tuple(one for one in tab.rhythm if start <= one[0] < end),
    )


# Items


def _row(
    line: Sequence[Placed],
    staves: Sequence[str],
    shown: set[int],
    width: float,
) -> Row:
    items: list[Item] = []
    for index, placed in enumerate(line):  # first, in order, what reads as the bars' text
        items += [_within(item, width) for item in _text(placed, index == 0)]
    end = line[-1].x + line[-1].width
    items.append(("line", line[0].x, end))
    for index, placed in enumerate(line):
        items += _bar_lines(placed, index == 0)
        items += _signs(placed, line[index - 1] if index else None)
        items += [
            ("stroke", placed.at(one.at), one.move, one.accent, one.upward)
            for one in placed.bar.strokes
        ]
    last = line[-1]
    if last.bar.early:
        x = last.at(last.bar.start + last.bar.whole - last.bar.early)
        items.append(("push", x, min(end + 2, width - 2)))
    brackets = list(_brackets(line))
    items += brackets
    strummed = any(placed.bar.strokes for placed in line)
    strings = [
        i for i in range(len(staves)) if any(len(p.bar.tabs) > i and p.bar.tabs[i] for p in line)
    ]
    for lane, number in enumerate(strings):
        items += staff(line, number, lane, "" if number in shown else staves[number])
        shown.add(number)
    for placed in line:  # what goes on alike, beside what it is like
        for number in placed.bar.alike:
            if strummed if number == STRUM else number in strings:
                lane = number if number == STRUM else strings.index(number)
                items.append(("alike", placed.first, lane))
    return Row(
        tuple(items),
        tuple(_cues(line, end, width)),
        tuple((right - left - CLEAR, label) for _, left, right, label, _ in brackets),
        strummed,
        len(strings),
        RAISED * any(item[0] == "staff" and item[3] == 0 and item[5] for item in items),
        below(items),
        end,
    )


def _text(placed: Placed, first: bool) -> Iterator[Item]:
    """A bar as its writer would type it: chords for the eye, the rest for those who copy it."""
    bar = placed.bar
    if first and not bar.start:
        yield ("type", placed.x, "| ")
    if bar.shows_meter:
        yield ("type", placed.x, f"{bar.meter.count}/{bar.meter.unit} ")
    if bar.again and not bar.start:
        yield ("type", placed.first, "% ")
    for at, cell in bar.slots:
        x = placed.at(at)
        if cell.goes_on:
            yield ("type", x, "/ ")
            continue
        root, raised, bass = symbol(cell.chord)
        yield ("chord", x, root, raised, bass)
        marks = "".join(f"({mark})" for mark in ("push", "stop", "ring") if mark in cell.marks)
        yield ("type", x, f"{marks} ")
    if bar.end != "none":
        yield ("type", placed.x + placed.width - 4, "| ")


def _bar_lines(placed: Placed, first: bool) -> Iterator[Item]:
    bar = placed.bar
    if bar.shows_meter:
        x = placed.x + 4 + OPENS * bar.opens
        yield ("meter", x, str(bar.meter.count), str(bar.meter.unit))
    if bar.opens:
        yield ("bar", placed.x, "opens")
    elif first and not bar.start:
        yield ("bar", placed.x, "plain")
    if bar.end != "none":
        yield ("bar", placed.x + placed.width, bar.end)


def _signs(placed: Placed, left: Placed | None) -> Iterator[Item]:
    for sign in placed.bar.signs:
        x = placed.at(sign.at)
        if sign.kind == "rest":
            yield from rests(placed, sign.at, sign.whole)
        elif sign.kind == "push":
            if sign.at > placed.bar.start:
                yield ("push", placed.at(sign.at - sign.whole), x)
                continue
            parted = left is None or placed.bar.shows_meter or placed.bar.opens
            if left is not None:
                early = left.at(left.bar.start + left.bar.whole - sign.whole)
                yield ("push", early, placed.x - 3 if parted else x)
            if parted:  # the tie goes on after what stands at the bar line
                yield ("tied", x)
        elif sign.kind in ("simile", "bar-rest"):
            yield (sign.kind, placed.first - PAD + (placed.content + PAD) / 2)
        else:
            yield (sign.kind, x)


def _brackets(line: Sequence[Placed]) -> Iterator[Item]:
    for label, of_ending in groupby(line, key=lambda placed: placed.bar.ending):
        if not label:
            continue
        under = list(of_ending)
        last = under[-1].bar
        right = under[-1].x + under[-1].width - 1.5
        closed = last.closes or last.end == "double" or last.end == "final"
        yield ("bracket", under[0].x + 1, right, label, closed)


def _cues(line: Sequence[Placed], end: float, width: float) -> Iterator[tuple[float, float, str]]:
    """Each cue with its place and room: to the next one, the last one beyond a short row."""
    cued = [placed for placed in line if placed.bar.cue]
    for index, placed in enumerate(cued):
        after = cued[index + 1] if index + 1 < len(cued) else None
        right = after.x if after is not None else min(width, max(end, placed.x + CUE))
        yield placed.x + 3, right - placed.x - 6, placed.bar.cue


def _within(item: Item, width: float) -> Item:
    """Text that is only read, within the page."""
    kind, x, text = item[:3]
    return (kind, min(x, max(0.0, width - LETTER * len(text))), text) if kind == "type" else item


def _widest(bar: Bar) -> str:
    """What takes the most room of a bar that can't be cut, for a sentence."""
    chords = [symbol(slot.cell.chord).text for slot in bar.slots if not slot.cell.goes_on]
    return f"the chord {max(chords, key=len)}" if chords else "a number of tab"
