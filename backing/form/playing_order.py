"""The lines of the form in playing order, and groups of them in short: `(Verse, Riff x2) x3`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import NamedTuple

from backing.form.model import Entry, Form
from backing.form.passes import passes_at_once


class Turn(NamedTuple):
    """A line's turn to play: its index in the form list, and how many turns it has had before."""

    entry: int
    round: int


def turns(entries: Sequence[Entry]) -> Iterator[Turn]:
    """The turns of all lines in playing order, groups played out."""
    counts = [0] * len(entries)
    for index in _ordered(list(enumerate(entries)), 0):
        yield Turn(index, counts[index])
        counts[index] += 1


def _ordered(lines: Sequence[tuple[int, Entry]], depth: int) -> Iterator[int]:
    """The indexes of lines in playing order; all stand in the same `depth` groups."""
    for group, of_group in groupby(lines, key=lambda line: line[1].groups[depth : depth + 1]):
        inside = list(of_group)
        if not group:
            yield from (index for index, _ in inside)
            continue
        for _ in range(group[0].times):
            yield from _ordered(inside, depth + 1)


def with_counts(form: Form, names: Sequence[str], sign: str = "x") -> Iterator[str]:
    """What each line of the form is called, with how many passes it plays at once: `Riff x2`."""
    for entry, name in zip(form.entries, names, strict=True):
        count = passes_at_once(entry, form.sections[entry.section])
        if entry.bars is not None and entry.label is None:
            name = name.replace(", bar", " bar")
        yield f"{name} {sign}{count}" if count > 1 else name


def in_groups(
    entries: Sequence[Entry], written: Sequence[str], sign: str = "x"
) -> Iterator[tuple[tuple[int, ...], str]]:
    """Each line of the form, or each outermost group as one, in short.

    Args:
        entries: the lines.
        written: what each is called, in the same order.
        sign: what stands before a count.

    Yields:
        The indexes of its lines, and its text: `(Verse, Riff x2) x3`.
    """
    lines = list(enumerate(entries))
    for group, of_group in groupby(lines, key=lambda line: line[1].groups[:1] or line[0]):
        inside = list(of_group)
        indexes = tuple(index for index, _ in inside)
        yield (
            indexes,
            (
                _written(inside, written, sign, 0)
                if isinstance(group, tuple)
                else written[indexes[0]]
            ),
        )


def _written(
    lines: Sequence[tuple[int, Entry]], written: Sequence[str], sign: str, depth: int
) -> str:
    pieces = []
    for group, of_group in groupby(lines, key=lambda line: line[1].groups[depth : depth + 1]):
        inside = list(of_group)
        if not group:
            pieces += [written[index] for index, _ in inside]
            continue
        text = f"({_written(inside, written, sign, depth + 1)})"
        times = group[0].times
        pieces.append(f"{text} {sign}{times}" if times > 1 else text)
    return ", ".join(pieces)
