"""Groups of lines in the form list: `(verse, riff x2) x3`, with other groups inside.

A group is read into its lines, each with its place in the text and the groups around it. Nothing
is played here: a group that repeats a great deal takes no more room than its text.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from backing.form.kinds import BadValue, Reading, Record, quoted
from backing.form.language import MAX_TIMES
from backing.form.model import Group
from backing.form.tree import Node

#: How deep groups may be nested.
MAX_DEPTH = 8
_TIMES = re.compile(r"\s*x\s*([0-9]{1,9})(?=[\s,)]|$)")
_EXAMPLE = "(verse, riff x2) x3"


class GroupedLine(NamedTuple):
    """A line inside a group: its text, where that starts, and the groups around it, outermost
    first.
    """

    text: str
    offset: int
    groups: tuple[Group, ...]


def read_group(text: str, names: Iterable[str], since: int) -> list[GroupedLine]:
    """The lines of a group.

    Args:
        text: it starts with a parenthesis.
        names: the song's sections.
        since: the number of the first group in it.

    Raises:
        BadValue: the parentheses, commas or counts are wrong; with the place in the text.
    """
    return _Parser(text, names, since).lines()


def split_groups(reading: Reading, song: Record) -> Iterator[tuple[Node, str | Record]]:
    """The lines of the form list, without those that YAML made of one group.

    Between brackets YAML ends a value at each comma, in parentheses too. The first piece of such a
    group is reported, with the way to write it.
    """
    lines = iter(song.get("form", ()))
    written_at = song.nodes["form"].start if "form" in song.nodes else 0
    brackets = reading.source.text.startswith("[", written_at)
    for node, written in lines:
        if not (brackets and isinstance(written, str) and _open(written) > 0):
            yield node, written
            continue
        pieces = [written]
        for _, more in lines:
            pieces.append(more if isinstance(more, str) else "...")
            if _open(", ".join(pieces)) <= 0:
                break
        what = "between brackets YAML ends a value at each comma, so this group is cut into pieces."
        whole = ", ".join(pieces)
        fix = "Write each line of the form below form: after a dash, or put the group in quotes"
        reading.report(node, what, f'{fix}:  "{whole[:100]}"')


def _open(text: str) -> int:
    """How many parentheses are open at the end of a text."""
    return text.count("(") - text.count(")")


class _Parser:
    """Walks a group's text from left to right."""

    def __init__(self, text: str, names: Iterable[str], since: int) -> None:
        self.text = text
        self.unusable = [name for name in names if re.search(r"[(),]", name)]
        self.since = since
        self.at = 0
        self.open: list[tuple[int, int]] = []  # each open group's place and number
        self.times: dict[int, int] = {}
        self.found: list[tuple[str, int, tuple[int, ...]]] = []

    def lines(self) -> list[GroupedLine]:
        self._item()
        while self.open:
            self._skip_blanks()
            sign = self.text[self.at : self.at + 1]
            if sign == ",":
                self.at += 1
                self._item()
            elif sign == ")":
                self._close()
            elif sign:
                self._refuse_rest()
            else:
                what = "this parenthesis is never closed."
                raise BadValue(what, f"Close it after the group:  {_EXAMPLE}", self.open[-1][0])
        self._skip_blanks()
        if self.at < len(self.text):
            self._refuse_rest()
        return [
            GroupedLine(text, at, tuple(Group(one, self.times[one]) for one in groups))
            for text, at, groups in self.found
        ]

    def _item(self) -> None:
        """A line, or the start of a group and what comes first in it."""
        self._skip_blanks()
        while self.text.startswith("(", self.at) and not self._unusable():
            if len(self.open) == MAX_DEPTH:
                what = f"groups can be nested at most {MAX_DEPTH} deep."
                raise BadValue(what, "Write fewer parentheses.", self.at)
            self.open.append((self.at, self.since + len(self.times)))
            self.times[self.open[-1][1]] = 1
            self.at += 1
            self._skip_blanks()
        if name := self._unusable():
            what = f"the section {quoted(name)} can't be in a group, because of its name."
            raise BadValue(what, "Give it a name without commas and parentheses.", self.at)
        end = re.compile(r"[(),]|$").search(self.text, self.at)
        assert end is not None
        line = self.text[self.at : end.start()]
        if not line.strip():
            what = "a line is missing here." if self.found else "this group is empty."
            raise BadValue(what, f"Name sections, with commas between them:  {_EXAMPLE}", self.at)
        self.found.append((line.strip(), self.at, tuple(number for _, number in self.open)))
        self.at = end.start()

    def _unusable(self) -> str:
        """The section named at this place whose name a group can't hold, or nothing."""
        here = [name for name in self.unusable if self.text.startswith(name, self.at)]
        return max(here, key=len, default="")

    def _close(self) -> None:
        self.at += 1
        _, number = self.open.pop()
        if match := _TIMES.match(self.text, self.at):
            if not 1 <= int(match[1]) <= MAX_TIMES:
                what = f"a group can play from 1 to {MAX_TIMES} times."
                raise BadValue(what, "Write another number, such as x4.", match.start(1) - 1)
            self.times[number] = int(match[1])
            self.at = match.end()

    def _refuse_rest(self) -> None:
        """Refuse what stands after a group, or before a parenthesis that opens inside a line."""
        sign = self.text[self.at]
        if sign == ")":
            raise BadValue("this parenthesis doesn't close anything.", "Remove it.", self.at)
        if sign == "(":
            what = "a comma is missing before this parenthesis."
            raise BadValue(what, f"Put commas between lines:  {_EXAMPLE}", self.at)
        if sign == "," and not self.open:
            what = "the group ends before this comma."
            fix = f"Put all of it in parentheses, or start a new line:  - {_EXAMPLE}"
            raise BadValue(what, fix, self.at)
        what = f"only a count can follow a group, not {quoted(self.text[self.at :])}."
        raise BadValue(what, f"Write it as  {_EXAMPLE}", self.at)

    def _skip_blanks(self) -> None:
        while self.text[self.at : self.at + 1].isspace():
            self.at += 1
