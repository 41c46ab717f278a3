"""Passes: how many a line of the form plays, which ending each takes, what each is called."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from backing.form.model import Entry, Form, Rows, Section


def passes_played(entry: Entry, section: Section) -> int:
    """How many passes one line of the form plays."""
    return entry.times * (1 if entry.bars else section.times)


def ending_of(entry: Entry, section: Section, number: int) -> int | None:
    """Which ending pass `number` (from 1) of an entry takes; None where the section has none."""
    if not section.endings:
        return None
    if entry.ending is not None:
        return entry.ending
    return 1 if entry.bars else (number - 1) % max(section.endings) + 1


def pass_bars(entry: Entry, section: Section, number: int) -> int:
    """How many bars pass `number` of an entry plays."""
    if entry.bars is not None:
        return entry.bars[1] - entry.bars[0] + 1
    ending = ending_of(entry, section, number)
    return _count(section.rows) + (_count(section.endings[ending]) if ending is not None else 0)


def bars_played(entry: Entry, section: Section) -> int:
    """How many bars one line of the form plays in all."""
    total = passes_played(entry, section)
    if not section.endings or entry.bars is not None or entry.ending is not None:
        return total * pass_bars(entry, section, 1)
    cycle = max(section.endings)
    return total // cycle * sum(pass_bars(entry, section, number + 1) for number in range(cycle))


def labels(form: Form) -> Iterator[str]:
    """What each line of the form is called: its label, or its section with a count where it returns."""
    plays = Counter(entry.section for entry in form.entries if entry.label is None)
    seen: Counter[str] = Counter()
    for entry in form.entries:
        if entry.label is not None:
            yield entry.label
            continue
        seen[entry.section] += 1
        name = entry.section[0].upper() + entry.section[1:]
        name = f"{name} {seen[entry.section]}" if plays[entry.section] > 1 else name
        if entry.bars is not None:
            first, last = entry.bars
            name += f", bar {first}" if first == last else f", bars {first}-{last}"
        yield name


def pass_label(label: str, number: int, of: int) -> str:
    """A pass's own name: its line's, counted where the line plays several."""
    return f"{label} ({number} of {of})" if of > 1 else label


def _count(rows: Rows) -> int:
    return sum(len(row) for row in rows)
