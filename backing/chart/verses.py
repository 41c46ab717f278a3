"""Words to sing in verses below a section's bars.

The section's own words are one verse; passes and lines of the form that have words of their own
are others. Where there are several, they are numbered, and the margin says who sings each.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple, TypeAlias

from backing.chart.records import Bar, Line
from backing.chart.words import which_time
from backing.form.model import Entry, Form, Section, WrittenWords
from backing.form.passes import ending_of, labels, pass_label, pass_rows, passes_played
from backing.form.words import by_bar, played_rows, words_of
from backing.text.lists import same_values

#: Names that stand before a verse; where more lines of the form sing it, two of them.
MOST_NAMES = 3


class Verse(NamedTuple):
    """Words by the bars that they begin in, from 0, and which passes sing them; "" for all."""

    sung_by: str
    texts: Mapping[int, str]


#: A pass that has bars of its own: the line of the form that gives it them, None for its section.
Changed: TypeAlias = "tuple[int | None, int]"


class _Sung(NamedTuple):
    """A pass: its line of the form, its number there, and how many the line plays."""

    line: int
    number: int
    of: int


class Verses:
    """The verses of a section moved by `transpose`, for its block and those of changed passes."""

    def __init__(self, form: Form, section: Section, transpose: int) -> None:
        self.form, self.section, self.transpose = form, section, transpose
        self.endings = _ending_starts(section)

    def below(self, changed: Sequence[Changed] | None = None) -> list[Verse]:
        """The verses below a block.

        Args:
            changed: the passes whose own bars the block shows; None is the section's own.
        """
        texts: dict[tuple[WrittenWords, object], dict[int, str]] = {}
        sung: dict[tuple[WrittenWords, object], list[_Sung]] = {}
        every: list[_Sung] = []
        for one, entry in self._passes():
            body = self._body(one, entry)
            shows_body = body is None if changed is None else body in changed
            if shows_body:
                every.append(one)
            words, of_line = words_of(entry, self.section, one.number)
            found = dict(self._places(entry, one.number, shows_body, changed is None))
            if words.rows and found:
                key = words, entry.bars if of_line else None
                texts.setdefault(key, {}).update(found)
                sung.setdefault(key, []).append(one)
        return [Verse(self._sung_by(sung[key], every), texts[key]) for key in texts]

    def _body(self, one: _Sung, entry: Entry) -> Changed | None:
        """Whose bars a pass plays before its ending; None for the section's."""
        for line, on_pass in ((one.line, entry.on_pass), (None, self.section.on_pass)):
            own = on_pass.get(one.number)
            if own is not None and own.rows is not None:
                return line, one.number
        return None

    def _passes(self) -> Iterator[tuple[_Sung, Entry]]:
        for line, entry in enumerate(self.form.entries):
            if entry.section == self.section.name and entry.transpose == self.transpose:
                of = passes_played(entry, self.section)
                for number in range(1, of + 1):
                    yield _Sung(line, number, of), entry

    def _places(
        self, entry: Entry, number: int, body: bool, endings: bool
    ) -> Iterator[tuple[int, str]]:
        """A pass's words by their bars in a block that shows its body, its ending or both."""
        words, of_line = words_of(entry, self.section, number)
        rows = [len(row) for row in pass_rows(entry, self.section, number)]
        first, ending = 0, ending_of(entry, self.section, number)
        until = sum(rows) - (0 if ending is None else self.section.ending_bars[ending])
        if of_line and entry.bars is not None:
            rows, first = played_rows(entry, self.section, number), entry.bars[0] - 1
        for at, text in enumerate(by_bar(words, rows), first):
            if text and at < until and body:
                yield at, text
            elif text and at >= until and ending is not None and endings:
                yield self.endings[ending] + at - until, text

    def _sung_by(self, sung: Sequence[_Sung], every: Sequence[_Sung]) -> str:
        """Who sings a verse: "" where all passes do, "second time" where they are of one line."""
        if set(every) <= set(sung):
            return ""
        if len({one.line for one in every}) == 1:
            return which_time([one.number for one in sung])
        names = list(labels(self.form))
        found = []
        for line in dict.fromkeys(one.line for one in sung):
            of_line = [one for one in sung if one.line == line]
            whole = len(of_line) == of_line[0].of
            found += (
                [names[line]]
                if whole
                else [pass_label(names[line], one.number, one.of) for one in of_line]
            )
        if len(found) > MOST_NAMES:
            found = [*found[:2], f"and {len(found) - 2} more"]
        return ", ".join(found)


def numbers_of(verses: Sequence[Verse]) -> tuple[str, ...]:
    """What stands before the words of each verse."""
    return tuple(f"{number}." if verses[1:] else "" for number in range(1, len(verses) + 1))


def verse_lines(verses: Sequence[Verse]) -> Iterator[Line]:
    """The margin's lines that say who sings each verse."""
    for number, verse in zip(numbers_of(verses), verses, strict=True):
        if verse.sung_by or number:
            yield Line("words", f"{number or 'words:'} {verse.sung_by or 'every time'}")


def _ending_starts(section: Section) -> dict[int, int]:
    """By an ending's number, its first bar among those of the section's block."""
    starts: dict[int, int] = {}
    at = section.body_bars
    for numbers, rows in same_values(section.endings):
        starts |= dict.fromkeys(numbers, at)
        at += sum(map(len, rows))
    return starts


def with_words(rows: Sequence[Sequence[Bar]], verses: Sequence[Verse]) -> list[list[Bar]]:
    """Rows with the words of each verse at their bars."""
    found, number = [], 0
    for row in rows:
        found.append(
            [
                bar._replace(words=tuple(verse.texts.get(number + i, "") for verse in verses))
                for i, bar in enumerate(row)
            ]
        )
        number += len(row)
    return found
