"""Words against the bars that they are for: none may be left over.

Words fit if some pass has a bar for each of them: where endings differ in length, the longest one
may have words that a shorter one leaves out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from backing.form.kinds import Reading, Record
from backing.form.model import Entry, Rows, Section, WrittenWords
from backing.form.passes import passes_played, varied_passes
from backing.form.tree import Node
from backing.form.words import Misfit, misfit, played_rows, typed_rows, words_of

OWN = "Give this pass words that fit it, or none:  words: off"


def check_section_words(reading: Reading, written: Record, section: Section) -> None:
    """Report words of a section and of its passes that have no bar."""
    words = section.settings.words
    if words is not None:
        _check(reading, written.nodes["words"], words, list(_with_endings(section, section.rows)))
    seen: set[int] = set()
    for number, (_, record) in written.get("on-pass", {}).items():
        if id(record) in seen:
            continue
        seen.add(id(record))
        own = section.on_pass[number]
        lengths = list(_with_endings(section, own.rows or section.rows))
        if own.settings.words is not None:
            _check(reading, record.nodes["words"], own.settings.words, lengths)
        elif words is not None and own.rows is not None and (found := _worst(words, lengths)):
            reading.report(record.nodes["bars"], found.message, OWN)


def check_line_words(reading: Reading, written: Record, entry: Entry, section: Section) -> None:
    """Report words that have no bar in the passes of a line of the form that sing them."""
    total = passes_played(entry, section)
    cycle = min(max(section.endings, default=1), total)
    usual: list[list[int]] = []
    for number in sorted({*range(1, cycle + 1), *varied_passes(entry, section)}):
        own, rows = entry.on_pass.get(number), played_rows(entry, section, number)
        words, of_line = words_of(entry, section, number)
        if own is not None and (own.settings.words is not None or own.rows is not None):
            _, record = written["on-pass"][number]
            if own.settings.words is not None:
                _check(reading, record.nodes["words"], words, [rows])
            elif (of_line or entry.bars is None) and (found := misfit(words, rows)):
                reading.report(record.nodes["bars"], found.message, OWN)
        elif words is entry.settings.words:
            changed = section.on_pass.get(number)
            if changed is not None and changed.rows is not None:
                _check(reading, written.nodes["words"], words, [rows])
            else:
                usual.append(rows)
    if usual and entry.settings.words is not None:
        _check(reading, written.nodes["words"], entry.settings.words, usual)


def _with_endings(section: Section, rows: Rows) -> Iterator[list[int]]:
    """How many bars each row has, with each of the endings."""
    body = [len(row) for row in rows]
    for ending in section.endings.values() or [()]:
        yield body + [len(row) for row in ending]


def _worst(words: WrittenWords, lengths: Sequence[list[int]]) -> Misfit | None:
    """What doesn't fit in the longest of the passes; None if it fits in some pass."""
    found = [misfit(words, rows) for rows in lengths]
    if not all(found):
        return None
    longest = max(range(len(lengths)), key=lambda at: (len(lengths[at]), sum(lengths[at])))
    return found[longest]


def _check(reading: Reading, node: Node, words: WrittenWords, lengths: Sequence[list[int]]) -> None:
    found = _worst(words, lengths)
    if found is not None:
        at, offset, _ = typed_rows(node)[found.row]
        reading.report(at, found.message, found.fix, offset)
