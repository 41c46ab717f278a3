"""Words to sing: how they are typed, and which bar each of them belongs to.

Words are typed in rows, as bars are. A row without bar lines is a cue for a whole row of bars, and
stands at its first bar; a row with bar lines has a cell for each bar, which may be empty. A single
row of cells may go on through all rows of bars.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from backing.form.comments import without_comment
from backing.form.kinds import BadValue, Kind, Reading
from backing.form.model import Entry, Form, Section, WrittenWords
from backing.form.passes import ending_of, pass_rows
from backing.form.tree import Node

LONGEST = 120
OFF = "off"
NO_WORDS = WrittenWords(())


class SungBar(NamedTuple):
    """A played bar's words ("" for none), and its row as typed, from 0 in its pass."""

    text: str
    row: int


class Misfit(NamedTuple):
    """Words that no bar is there for: their row, from 0, what is wrong and what to do."""

    row: int
    message: str
    fix: str


# How they are typed


def words_kind() -> Kind:
    """Rows of words: one text, a block of lines, a list with a row in each item, or `off`."""

    def read(node: Node, reading: Reading) -> WrittenWords | None:
        if node.kind == "mapping":
            raise BadValue("words must be text or a list.", 'Write them in quotes: "| one | two |"')
        if node.kind == "list" and not node.items:
            raise BadValue("there are no words in this list.", "Write a cue for each row of bars.")
        if node.kind == "text" and node.text.strip() == OFF:
            return NO_WORDS
        rows, whole = [], True
        for at, offset, line in typed_rows(node):
            try:
                rows.append(_cells(line))
            except BadValue as bad:
                reading.report(at, bad.message, bad.fix, offset)
                whole = False
        if not rows and whole:
            raise BadValue("words is missing here.", "Write it after the colon.")
        return WrittenWords(tuple(rows)) if whole else None

    line = {"type": ["string", "number", "boolean"], "pattern": r"\S"}
    several = {"type": "array", "minItems": 1, "items": line}
    return Kind(read, {"anyOf": [line, several]}, free=True)


def typed_rows(node: Node) -> list[tuple[Node, int, str]]:
    """Each row of words with its node and its offset there; blank lines are no rows.

    As in bars, a `#` after a blank starts a comment, but for a cue that stands alone.
    """
    found: list[tuple[Node, int, str]] = []
    for item in node.items if node.kind == "list" else [node]:
        if item.kind != "text" or not item.text.strip():
            found.append((item, 0, "" if item.kind == "text" else "\0"))
            continue
        at = 0
        lines = item.text.rstrip("\n").split("\n")
        for line in lines:
            row = without_comment(line) if lines[1:] or "|" in line.partition("#")[0] else line
            if row.strip():
                found.append((item, at + len(row) - len(row.lstrip()), row.strip()))
            at += len(line) + 1
    return found


def _cells(line: str) -> tuple[str, ...]:
    """A row's cells: one for a cue, or those between its bar lines (BadValue)."""
    if line == "\0":
        raise BadValue("a row of words must be one text.", "Write it in quotes.")
    if not line:
        raise BadValue("words is missing here.", 'For a row without words, write "| |".')
    cells = line.split("|")
    if len(cells) > 1:
        cells = cells[not cells[0].strip() : len(cells) - (not cells[-1].strip())]
    cells = [" ".join(cell.split()) for cell in cells]
    if any(len(cell) > LONGEST for cell in cells):
        raise BadValue(f"words is longer than {LONGEST} characters.", "Shorten it.")
    return tuple(cells)


def print_words(words: WrittenWords) -> list[str] | str:
    """Words as a writer types them: a list of rows, or `off`."""
    return [print_cells(cells) for cells in words.rows] or OFF


def print_cells(cells: Sequence[str]) -> str:
    """A row of words: a cue alone, or cells between bar lines."""
    if len(cells) == 1 and cells[0] and cells[0] != OFF:
        return cells[0]
    return f"| {' | '.join(cells)} |"


# Which bar they belong to


def misfit(words: WrittenWords, bar_rows: Sequence[int]) -> Misfit | None:
    """The first row of words for which there is no bar; `bar_rows` is how many bars a row has."""
    rows, lengths = len(words.rows), len(bar_rows)
    if rows > lengths:
        has = "1 row of bars" if lengths == 1 else f"{lengths} rows of bars"
        fix = (
            f"Type the bars in {rows} rows, or the words in one row with a cell for each bar: "
            '"| one | two |"'
        )
        return Misfit(lengths, f"there are {rows} rows of words for {has}.", fix)
    for index, cells in enumerate(words.rows):
        room = sum(bar_rows) if rows == 1 else bar_rows[index]
        if len(cells) > room:
            has = "1 bar" if room == 1 else f"{room} bars"
            fix = "Write one cell for each bar, an empty one where nothing is sung: | one | | two |"
            return Misfit(index, f"this row has {len(cells)} cells of words for {has}.", fix)
    return None


def by_bar(words: WrittenWords, bar_rows: Sequence[int]) -> list[str]:
    """The words of each bar, "" for none, where `bar_rows` is how many bars each row has."""
    found = [""] * sum(bar_rows)
    at = 0
    for cells, length in zip(words.rows, bar_rows, strict=False):
        room = len(found) if len(words.rows) == 1 else length
        found[at : at + min(room, len(cells))] = cells[:room]
        at += length
    return found


def words_of(entry: Entry, section: Section, number: int) -> tuple[WrittenWords, bool]:
    """What pass `number` of a line sings, and whether the line itself has the words.

    Words of a line and of its passes belong to the bars that it plays; those of a section and of
    its passes belong to all of the section's bars, of which the line may play some.
    """
    for on_pass in (entry.on_pass, section.on_pass):
        own = on_pass.get(number)
        if own is not None and own.settings.words is not None:
            return own.settings.words, on_pass is entry.on_pass
    if entry.settings.words is not None:
        return entry.settings.words, True
    return section.settings.words or NO_WORDS, False


def played_rows(entry: Entry, section: Section, number: int) -> list[int]:
    """How many bars of each typed row a pass plays, those of which it plays some."""
    lengths = [len(row) for row in pass_rows(entry, section, number)]
    if entry.bars is None:
        return lengths
    first, last = entry.bars
    played, at = [], 1
    for length in lengths:
        played.append(min(last, at + length - 1) - max(first, at) + 1)
        at += length
    return [count for count in played if count > 0]


class SongWords:
    """The words of every pass of a form, worked out once for passes that are alike."""

    def __init__(self, form: Form) -> None:
        self.form = form
        self._known: dict[tuple[int, int | None, int | None], tuple[SungBar, ...]] = {}

    def of(self, index: int, number: int) -> tuple[SungBar, ...]:
        """The bars that pass `number` of line `index` plays; none where it has no words."""
        entry = self.form.entries[index]
        section = self.form.sections[entry.section]
        varied = number if number in section.on_pass or number in entry.on_pass else None
        key = index, varied, ending_of(entry, section, number)
        if key not in self._known:
            self._known[key] = tuple(_sung(entry, section, number))
        return self._known[key]


def _sung(entry: Entry, section: Section, number: int) -> list[SungBar]:
    words, of_line = words_of(entry, section, number)
    if not words.rows:
        return []
    if of_line:
        lengths = played_rows(entry, section, number)
        return _bars(by_bar(words, lengths), lengths)
    lengths = [len(row) for row in pass_rows(entry, section, number)]
    bars = _bars(by_bar(words, lengths), lengths)
    if entry.bars is None:
        return bars
    first, last = entry.bars
    return _with_its_cue(words, bars, first - 1)[first - 1 : last]


def _bars(texts: Sequence[str], lengths: Sequence[int]) -> list[SungBar]:
    rows = [row for row, length in enumerate(lengths) for _ in range(length)]
    return [SungBar(text, row) for text, row in zip(texts, rows, strict=True)]


def _with_its_cue(words: WrittenWords, bars: list[SungBar], first: int) -> list[SungBar]:
    """Bars with the cue of a row that starts before bar `first` (from 0) moved to that bar."""
    row = bars[first].row
    if row < len(words.rows) and len(words.rows[row]) == 1:
        bars[first] = bars[first]._replace(text=words.rows[row][0])
    return bars
