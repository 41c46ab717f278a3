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
from typing import NamedTuple

from backing.chart.metrics import symbol
from backing.chart.records import Bar, Block, Tab
from backing.chart.spacing import OPENS, PAD, Item, Placed, lead, least, spread, tail
from backing.chart.staves import rests, staff

#: Signs that stand amid their bar.
_AMID = ("simile", "bar-rest")
SIMILE, NARROWEST = 30.0, 24.0


class Row(NamedTuple):
    """A row: its items, what of them reads as text, and its lanes."""

    items: tuple[Item, ...]
    cues: tuple[tuple[float, float, str], ...]
    bracket: bool
    strokes: bool
    staves: int
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
    """
    indent = 0.0
    before: Bar | None = None
    shown: set[int] = set()
    for number, row in enumerate(block.rows):
        joined = number in block.joined
        first_ending = next((i for i, bar in enumerate(row) if bar.ending), 0)
        start = indent if joined and not first_ending else 0.0
        if start and sum(map(_needs, row)) > width - start:
            start = 0.0
        fitted = list(_fit(row, width - start, points, start))
        if joined and first_ending and len(fitted) == 1:
            indent = fitted[0][first_ending].x
        for index, line in enumerate(fitted):
            following = (
                fitted[index + 1][0].bar if index + 1 < len(fitted) else _after(block, number)
            )
            yield _row(line, before, following, block.staves, shown)
            before = line[-1].bar


def _after(block: Block, number: int) -> Bar | None:
    return block.rows[number + 1][0] if number + 1 < len(block.rows) else None


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


def _halves(bar: Bar) -> tuple[Bar, Bar] | None:
    """A bar cut in two near its middle, at one of its units; None where it has only one."""
    units = bar.whole / bar.meter.unit_whole
    if units < 2:
        return None
    middle = bar.start + bar.meter.unit_whole * (units // 2)
    one = bar._replace(
        until=middle, end="none", closes=False, cue=bar.cue,
        slots=tuple(s for s in bar.slots if s.at < middle),
        signs=tuple(s for s in bar.signs if s.at < middle or s.kind in _AMID),
        strokes=tuple(s for s in bar.strokes if s.at < middle),
        tabs=tuple(t and _cut_tab(t, bar.start, middle) for t in bar.tabs),
    )  # fmt: skip
    other = bar._replace(
        start=middle, until=bar.start + bar.whole, shows_meter=False, opens=False, cue="",
        slots=tuple(s for s in bar.slots if s.at >= middle),
        signs=tuple(s for s in bar.signs if s.at >= middle and s.kind not in _AMID),
        strokes=tuple(s for s in bar.strokes if s.at >= middle), says=(),
        tabs=tuple(t and _cut_tab(t, middle, bar.start + bar.whole) for t in bar.tabs),
    )  # fmt: skip
    return one, other


def _cut_tab(tab: Tab, start: Fraction, end: Fraction) -> Tab:
    return Tab(
        tuple(fret for fret in tab.frets if start <= fret.at < end),
        tuple(one for one in tab.rhythm if start <= one[0] < end),
    )


# Items


def _row(
    line: Sequence[Placed],
    before: Bar | None,
    following: Bar | None,
    staves: Sequence[str],
    shown: set[int],
) -> Row:
    items: list[Item] = []
    for index, placed in enumerate(line):  # first, in order, what reads as the bars' text
        items += _text(placed, index == 0)
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
    pushed = next((s for s in following.signs if s.kind == "push"), None) if following else None
    if pushed is not None and pushed.at == 0 and last.bar.end != "none":
        x = last.at(last.bar.start + last.bar.whole - pushed.whole)
        items.append(("push", x, end + 2, end + 2))
    items += _brackets(line)
    strummed = any(placed.bar.strokes for placed in line)
    strings = [
        i for i in range(len(staves)) if any(len(p.bar.tabs) > i and p.bar.tabs[i] for p in line)
    ]
    for lane, number in enumerate(strings):
        items += staff(line, number, lane, "" if number in shown else staves[number])
        shown.add(number)
    for placed in line:  # what goes on alike, beside what it is like
        if ("strum" in placed.bar.says and strummed) or ("tab" in placed.bar.says and strings):
            items += [("says", placed.first, lane) for lane in placed.bar.says]
    return Row(
        tuple(items),
        tuple(_cues(line, end)),
        any(placed.bar.ending for placed in line),
        strummed,
        len(strings),
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
                yield ("push", placed.at(sign.at - sign.whole), x, x)
            elif left is not None:
                end = left.bar.start + left.bar.whole
                yield ("push", left.at(end - sign.whole), x, x)
            else:
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


def _cues(line: Sequence[Placed], end: float) -> Iterator[tuple[float, float, str]]:
    cued = [placed for placed in line if placed.bar.cue]
    for index, placed in enumerate(cued):
        after = cued[index + 1] if index + 1 < len(cued) else None
        right = after.x if after is not None else max(end, placed.x + 140)
        yield placed.x + 3, right - placed.x - 6, placed.bar.cue
