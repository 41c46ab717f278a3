"""Which words are sung in which bar of a pass, worked out from what was typed.

A row of words stands under a row of bars. A single cell belongs to the row's first bar, and where
a line of the form starts in the middle of that row, to the first bar that it plays. A row of cells
that stands alone fills the bars from the first one on, over all rows.
"""

from __future__ import annotations

from backing.form.model import Entry, Section, WrittenWords


def words_of_bars(entry: Entry, section: Section, number: int) -> list[str]:
    """The words of each bar that pass `number` plays, "" for none; empty where it has no words."""
    of_section, of_line = section.on_pass.get(number), entry.on_pass.get(number)
    own = [special.rows for special in (of_section, of_line) if special and special.rows]
    rows = list([section.rows, *own][-1])
    if section.endings:
        highest = max(section.endings)
        turn = 1 if entry.bars else (number - 1) % highest + 1
        rows += section.endings[entry.ending or turn]
    row_of_bar = [row for row, bars in enumerate(rows) for _ in bars]
    first, last = entry.bars or (1, len(row_of_bar))
    played = row_of_bar[first - 1 : last]
    if of_line is not None and of_line.settings.words is not None:
        return _filled(of_line.settings.words, [row - played[0] for row in played])
    if of_section is not None and of_section.settings.words is not None:
        return _cut(of_section.settings.words, row_of_bar, first, last)
    if entry.settings.words is not None:
        return _filled(entry.settings.words, [row - played[0] for row in played])
    if section.settings.words is not None:
        return _cut(section.settings.words, row_of_bar, first, last)
    return []


def _filled(words: WrittenWords, row_of_bar: list[int]) -> list[str]:
    """The words of bars whose rows, from 0, are these."""
    if not words.rows:
        return []
    alone = len(words.rows) == 1
    texts: list[str] = []
    cell, before = 0, None
    for row in row_of_bar:
        typed = 0 if alone else row
        cell = cell + 1 if before == typed else 0
        before = typed
        cells = words.rows[typed] if typed < len(words.rows) else ()
        texts.append(cells[cell] if cell < len(cells) else "")
    return texts


def _cut(words: WrittenWords, row_of_bar: list[int], first: int, last: int) -> list[str]:
    """The words of bars `first` to `last` (from 1) of a whole pass."""
    texts = _filled(words, row_of_bar)
    if not texts:
        return []
    row = row_of_bar[first - 1]
    if row < len(words.rows) and len(words.rows[row]) == 1:
        texts[first - 1] = words.rows[row][0]
    return texts[first - 1 : last]
