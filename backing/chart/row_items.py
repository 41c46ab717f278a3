"""What is drawn in a row: an item for each chord, sign, stroke, bar line, bracket and staff.

An item is a tuple: its kind, its place in points from the row's left edge, and what that kind
asks for (`bars.typ` draws each).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple, TypeAlias

from backing.chart.metrics import symbol
from backing.chart.records import STRUM, Block
from backing.chart.spacing import OPENS, PAD, Item, Placed
from backing.chart.staves import above, below, rests, staff

#: A letter of the text that is only read: how wide it may be.
LETTER = 5.0
#: The last words of a row have at least this much room; an ending's label keeps clear of its end.
WORDS, CLEAR = 140.0, 6.0

#: A verse's number, "" for none, and its words with their places and room.
Verse: TypeAlias = "tuple[str, tuple[tuple[float, float, str], ...]]"


class Row(NamedTuple):
    """A row: its items, the words of each verse, the labels of its endings, and its lanes.

    `staves` are the numbers of strings of its staves of tab, from the top.
    """

    items: tuple[Item, ...]
    verses: tuple[Verse, ...]
    brackets: tuple[tuple[float, str], ...]
    strokes: bool
    staves: tuple[int, ...]
    above: tuple[float, ...]
    below: float
    width: float


def row_of(line: Sequence[Placed], block: Block, shown: set[int], width: float) -> Row:
    """A line of bars as a row.

    Args:
        line: bars in their places.
        block: the section's, with the names of its staves and verses.
        shown: the staves whose names stand already; those of this row are added.
        width: of the page beside the margin.
    """
    end = line[-1].x + line[-1].width
    staves = block.staves
    items: list[Item] = []
    for index, placed in enumerate(line):  # first, in order, what reads as the bars' text
        items += [_within(item, width) for item in _text(placed, index == 0)]
    items.append(("line", line[0].x, end))
    for index, placed in enumerate(line):
        items += _bar_lines(placed, index == 0)
        items += _signs(placed, line[index - 1] if index else None)
        items += _strokes(placed)
    items += _push_into_next_row(line[-1], width)
    brackets = list(_brackets(line))
    items += brackets
    numbers = [number for number in range(len(staves)) if any(_tabs(line, number))]
    for lane, number in enumerate(numbers):
        items += staff(line, number, lane, "" if number in shown else staves[number].name)
        shown.add(number)
    strummed = any(placed.bar.strokes for placed in line)
    items += _simile_words(line, strummed, numbers)
    return Row(
        tuple(items),
        tuple(_verses(line, block.verses, end, width)),
        tuple((right - left - CLEAR, label) for _, left, right, label, _ in brackets),
        strummed,
        tuple(staves[number].strings for number in numbers),
        above(items),
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


def _within(item: Item, width: float) -> Item:
    """Text that is only read, moved to within the page."""
    kind, x, text = item[:3]
    return (kind, min(x, max(0.0, width - LETTER * len(text))), text) if kind == "type" else item


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
        elif sign.kind == "push" and sign.at > placed.bar.start:
            yield ("push", placed.at(sign.at - sign.whole), x)
        elif sign.kind == "push":
            yield from _push_over_bar_line(placed, left, sign.whole)
        elif sign.kind in ("simile", "bar-rest"):
            yield (sign.kind, placed.first - PAD + (placed.content + PAD) / 2)
        else:
            yield (sign.kind, x)


def _push_over_bar_line(placed: Placed, left: Placed | None, early: Fraction) -> Iterator[Item]:
    """A bar's first chord, struck in the bar before it: in the row, or with that bar above it."""
    x = placed.at(placed.bar.start)
    parted = left is None or placed.bar.shows_meter or placed.bar.opens
    if left is not None:
        struck = left.at(left.bar.start + left.bar.whole - early)
        yield ("push", struck, placed.x - 3 if parted else x)
    if parted:  # the tie goes on after what stands at the bar line
        yield ("tied", x)


def _strokes(placed: Placed) -> Iterator[Item]:
    for stroke in placed.bar.strokes:
        signs = (stroke.move, stroke.accent, stroke.upward, stroke.short)
        yield ("stroke", placed.at(stroke.at), *signs)


def _push_into_next_row(last: Placed, width: float) -> Iterator[Item]:
    """A chord that is struck at the end of a row, before the bar line that it belongs to."""
    if last.bar.early:
        x = last.at(last.bar.start + last.bar.whole - last.bar.early)
        yield ("push", x, min(last.x + last.width + 2, width - 2))


def _tabs(line: Sequence[Placed], number: int) -> Iterator[bool]:
    """Whether each bar has tab in a staff."""
    return (len(p.bar.tabs) > number and p.bar.tabs[number] is not None for p in line)


def _simile_words(line: Sequence[Placed], strummed: bool, staves: Sequence[int]) -> Iterator[Item]:
    """Where the playing goes on alike, beside what it is like."""
    for placed in line:
        for number in placed.bar.alike:
            if number == STRUM and strummed:
                yield ("alike", placed.first, STRUM)
            elif number in staves:
                yield ("alike", placed.first, staves.index(number))


def _brackets(line: Sequence[Placed]) -> Iterator[Item]:
    for label, of_ending in groupby(line, key=lambda placed: placed.bar.ending):
        if not label:
            continue
        under = list(of_ending)
        last = under[-1].bar
        right = under[-1].x + under[-1].width - 1.5
        closed = last.closes or last.end in ("double", "final")
        yield ("bracket", under[0].x + 1, right, label, closed)


def _verses(
    line: Sequence[Placed], numbers: Sequence[str], end: float, width: float
) -> Iterator[Verse]:
    """The verses that are sung in a row."""
    for index, number in enumerate(numbers):
        sung = [placed for placed in line if placed.bar.words and placed.bar.words[index]]
        words = []
        for place, placed in enumerate(sung):
            after = sung[place + 1] if place + 1 < len(sung) else None
            right = after.x if after is not None else min(width, max(end, placed.x + WORDS))
            words.append((placed.x + 3, right - placed.x - 6, placed.bar.words[index]))
        if words:
            yield number, tuple(words)
