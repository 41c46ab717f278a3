"""Advice for a form that isn't valid YAML: where the mistake is, and how to fix it.

The parser reports what it expected; the writer needs to know what was typed wrong. Each
function here knows one kind of mistake and returns None for all others.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, NamedTuple

from backing.errors import FormError
from backing.form.source import Source

_COLON = re.compile(r":(?=\s|$)")
_MARKS = {"%", "@", "`", "|", ">", "*", "&", "!", "?", "-", ","}


class _Complaint(NamedTuple):
    """The parser's complaint, where it was made, and where the thing being read began."""

    source: Source
    problem: str
    context: str
    at: int
    opened: int | None

    @property
    def char(self) -> str:
        return self.source.text[self.at : self.at + 1]

    @property
    def number(self) -> int:
        """The line's index, from 0."""
        return self.source.place(self.at)[0] - 1

    @property
    def line(self) -> str:
        return self.source.lines[self.number]

    @property
    def line_start(self) -> int:
        return self.at - self.source.place(self.at)[1] + 1

    @property
    def before(self) -> str:
        """What stands before the place on its line."""
        return self.source.text[self.line_start : self.at]


_Advice = tuple[int, str, str]  # the place, what is wrong, what to write instead


def advice_for(source: Source, error: Any) -> FormError:
    """The parser's complaint as an error that says what to fix."""
    mark = error.problem_mark or error.context_mark
    opened = error.context_mark.index if error.context_mark else None
    problem = str(error.problem or error.context or "unknown")
    context = str(error.context or "")
    complaint = _Complaint(source, problem, context, mark.index if mark else 0, opened)
    for advise in _ADVISERS:
        if advice := advise(complaint):
            at, what, fix = advice
            return source.error(at, what, fix)
    what = f"can't read this as YAML ({problem})."
    fix = "Check the quotes, brackets and indentation around here."
    return source.error(complaint.at, what, fix)


def _bare_bars(it: _Complaint) -> _Advice | None:
    """`bars: | A | D |` without quotes, or a row further left than its block."""
    if "chomping" not in it.problem and "comment or a line break" not in it.problem:
        return None
    row = re.match(r"\s*[|>]", it.line)
    if row:
        what = "this row of bars is too far to the left."
        fix = "Indent every row the same, two spaces more than the word bars."
        return it.line_start + row.end() - 1, what, fix
    key, value = re.match(r"([^:]*):?\s*(.*)", re.sub(r"\s#.*", "", it.line)).groups()  # type: ignore[union-attr]
    if value[:1] not in ("|", ">"):
        return None
    what = f"a bare {value[0]} starts a block of lines, so nothing else can be on its line."
    fix = f"Put the value in quotes:  {_quoted(key, value)}"
    return it.line_start + it.line.index(value), what, fix


def _open_quote(it: _Complaint) -> _Advice | None:
    """A quote that is never closed, or closed by accident by the next quote in a later line."""
    fix = "Close it at the end of its value, on the same line."
    what = "this quote isn't closed on its line."
    if it.opened is not None and "quoted scalar" in it.context:
        if "escape" in it.problem:
            fix = "Write two backslashes to get one, or use single quotes."
            return it.at - 1, "a backslash in double quotes starts an escape code.", fix
        return it.opened, what, fix
    quote = it.before.rstrip(" |>")[-1:]
    if quote not in ("'", '"'):
        return None
    starts = it.line_start
    for line in reversed(it.source.lines[: it.number]):
        starts -= len(line) + 1
        found = re.search(rf"(?:^|[\s\[{{,:-]){quote}", line)
        if found and line.count(quote) == 1:
            return starts + found.end() - 1, what, fix
    if quote == "'":
        fix = "Put a value that has an apostrophe in double quotes."
        return it.at, "the value ends at the quote before this, but more text follows.", fix
    fix = "Keep one quote before the value and one after it."
    return it.at, "the value ends at the quote before this, but more text follows.", fix


def _tab(it: _Complaint) -> _Advice | None:
    if it.char != "\t" and "\\t" not in it.problem:
        return None
    if not it.before.strip():
        return it.at, "this line is indented with a tab.", "Indent with spaces."
    return it.at, "a tab isn't allowed here.", "Type a space instead."


def _special_first(it: _Complaint) -> _Advice | None:
    """A value, or a line, that starts with a character that means something to YAML."""
    at = it.at
    if "alphabetic or numeric" in it.problem and it.opened is not None:
        at = it.opened
    char = it.source.text[at : at + 1]
    if "URI" in it.problem:
        at = it.line_start + it.before.rfind("!")
        char = "!"
    complaints = ("start any token", "alphabetic or numeric", "tag", "URI")
    if char not in _MARKS or not any(words in it.problem for words in complaints):
        return None
    if char == "%" and not it.before.strip(" %"):
        what = "a line can't start with % here."
        return at, what, "Indent a row of bars more than the word bars."
    return (
        at,
        f"a value can't start with {char} unless it is quoted.",
        'Put it in double quotes: "...".',
    )


def _no_value(it: _Complaint) -> _Advice | None:
    """A comma, a bracket, a dash or the end where a value should be."""
    if "sequence entries" in it.problem:
        what = "a list can't start on this line."
        return it.at, what, "Start it on the next line: one item per line, each after a dash."
    if "node content" not in it.problem:
        return None
    if it.char.strip():
        return (
            it.at,
            f"a value is missing before this {it.char}.",
            f"Add it, or remove the {it.char}.",
        )
    return it.at, "a value is missing here.", "Add it, and close any open brackets above."


def _bracket(it: _Complaint) -> _Advice | None:
    if it.char in ("}", "]") and ("block" in it.problem or "start" in it.problem):
        what = f"this {it.char} doesn't close anything."
        return it.at, what, "Remove it, or open the bracket before its values."
    if "expected ','" not in it.problem or it.opened is None:
        return None
    opener = it.source.text[it.opened : it.opened + 1]
    if "\n" in it.source.text[it.opened : it.at]:
        closer = {"{": "}", "[": "]"}.get(opener, "")
        what = f"this {opener} is never closed."
        return it.opened, what, f"Close it with {closer} after its last value."
    what = "a comma is missing before this."
    return it.at, what, "Put a comma between values: {bpm: 60, beat: 3/8}."


def _no_colon(it: _Complaint) -> _Advice | None:
    """A key without its colon, or a colon without its space."""
    if "could not find expected ':'" in it.problem and it.opened is not None:
        return _colon_at(it.source, it.opened)
    if "mapping values" not in it.problem:
        return None
    colons = [found.start() for found in _COLON.finditer(it.line)]
    if colons and it.line_start + colons[0] < it.at:
        better = _quoted(it.line[: colons[0]], it.line[colons[0] + 1 :])
        what = "this is the line's second colon with a space after it."
        return it.at, what, f"Put the value in double quotes:  {better}."
    above = _line_above(it)
    if above is None:
        return None
    starts, line = above
    if not _COLON.search(line) and not line.lstrip().startswith("#"):
        return _colon_at(it.source, starts + len(line) - len(line.lstrip()))
    what = "this line is indented more than the line above allows."
    fix = "Start it in the same column as the key above."
    return it.line_start + len(it.line) - len(it.line.lstrip()), what, fix


def _colon_at(source: Source, at: int) -> _Advice:
    line = source.text[at:].split("\n", 1)[0]
    key, colon, value = line.partition(":")
    if colon and not value.startswith(" "):
        fix = f"Write  {key[:60]}: {value.strip()[:80]}."
        return at + len(key), "a colon needs a space after it.", fix
    return at, "this line has no colon after its key.", "Write it as  key: value."


def _quoted(key: str, value: str) -> str:
    value = value.strip()
    value = value if len(value) <= 80 else f"{value[:80]}..."
    return f'{key.strip().removeprefix("- ")[:60]}: "{value}"'


def _line_above(it: _Complaint) -> tuple[int, str] | None:
    """The nearest line above with something on it, and where it starts."""
    starts = it.line_start
    for line in reversed(it.source.lines[: it.number]):
        starts -= len(line) + 1
        if line.strip():
            return starts, line
    return None


def _indentation(it: _Complaint) -> _Advice | None:
    if "block" not in it.problem:
        return None
    what = "this line's indentation doesn't match anything above it."
    return it.at, what, "Start it in the same column as the lines it belongs with."


_ADVISERS: tuple[Callable[[_Complaint], _Advice | None], ...] = (
    _bare_bars,
    _open_quote,
    _tab,
    _special_first,
    _bracket,
    _no_value,
    _no_colon,
    _indentation,
)
