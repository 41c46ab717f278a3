"""Where YAML itself stumbles over a form: the place, and advice in a writer's words.

The parser says what it expected; a writer needs to know what was typed wrong. Each
function here answers for one family of slips and returns None where it is another's.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, NamedTuple

from backing.errors import FormError
from backing.form.source import Source

_COLON = re.compile(r":(?=\s|$)")
_MARKS = {"%", "@", "`", "|", ">", "*", "&", "!", "?", "-", ","}


class _Stumble(NamedTuple):
    """The parser's complaint, where it is made, and where what it was reading began."""

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


def stumbled(source: Source, error: Any) -> FormError:
    """Say in a writer's words what the parser could not read."""
    mark = error.problem_mark or error.context_mark
    opened = error.context_mark.index if error.context_mark else None
    problem = str(error.problem or error.context or "can't be read")
    context = str(error.context or "")
    stumble = _Stumble(source, problem, context, mark.index if mark else 0, opened)
    for advise in _ADVISERS:
        if advice := advise(stumble):
            return source.error(*advice)
    what = f"YAML can't be read here ({problem})."
    mend = "Check the quotes, brackets and indentation near this place."
    return source.error(stumble.at, what, mend)


def _bare_bars(it: _Stumble) -> _Advice | None:
    """`bars: | A | D |` without quotes, or a row further left than its block."""
    if "chomping" not in it.problem and "comment or a line break" not in it.problem:
        return None
    row = re.match(r"\s*[|>]", it.line)
    if row:
        what = "this row of bars stands too far left."
        mend = "Indent all rows alike, two spaces further in than the word bars."
        return it.line_start + row.end() - 1, what, mend
    key, value = re.match(r"([^:]*):?\s*(.*)", re.sub(r"\s#.*", "", it.line)).groups()  # type: ignore[union-attr]
    if value[:1] not in ("|", ">"):
        return None
    what = f"a bare {value[0]} opens a block of lines, and nothing else can stand on its own line."
    mend = f"Put the value in quotes:  {_quoted(key, value)}"
    return it.line_start + it.line.index(value), what, mend


def _open_quote(it: _Stumble) -> _Advice | None:
    """A quote that is never closed, or closed by the next one that some later line opens."""
    mend = "Close it at the end of its value, on the same line."
    what = "a quote is opened here and not closed on its line."
    if it.opened is not None and "quoted scalar" in it.context:
        if "escape" in it.problem:
            mend = "Write two backslashes for one, or use single quotes."
            return it.at - 1, "a backslash in double quotes starts a code of its own.", mend
        return it.opened, what, mend
    quote = it.before.rstrip(" |>")[-1:]
    if quote not in ("'", '"'):
        return None
    starts = it.line_start
    for line in reversed(it.source.lines[: it.number]):
        starts -= len(line) + 1
        found = re.search(rf"(?:^|[\s\[{{,:-]){quote}", line)
        if found and line.count(quote) == 1:
            return starts + found.end() - 1, what, mend
    if quote == "'":
        mend = "Put a value that has an apostrophe in double quotes."
        return it.at, "a value ended at the quote before this place, and more follows.", mend
    mend = "Keep one quote before the value and one after it."
    return it.at, "a value ended at the quote before this place, and more follows.", mend


def _tab(it: _Stumble) -> _Advice | None:
    if it.char != "\t" and "\\t" not in it.problem:
        return None
    if not it.before.strip():
        return it.at, "a tab can't indent a form.", "Indent with spaces."
    return it.at, "a tab can't stand here.", "Type a space in its place."


def _special_first(it: _Stumble) -> _Advice | None:
    """A value, or a line, that starts with a character YAML keeps for itself."""
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
        return at, what, "Indent a row of bars further in than the word bars."
    return (
        at,
        f"a value can't start with {char} unless it is quoted.",
        'Put it in double quotes: "...".',
    )


def _no_value(it: _Stumble) -> _Advice | None:
    """A comma, a bracket, a dash or the end where a value should be."""
    if "sequence entries" in it.problem:
        what = "a list can't start on this line."
        return it.at, what, "Start it on the next line, one item a line, each after a dash."
    if "node content" not in it.problem:
        return None
    if it.char.strip():
        return (
            it.at,
            f"a value is missing before this {it.char}.",
            "Write it, or take the sign out.",
        )
    return it.at, "a value is missing here.", "Write it, and close the brackets further up."


def _bracket(it: _Stumble) -> _Advice | None:
    if it.char in ("}", "]") and ("block" in it.problem or "start" in it.problem):
        what = f"this {it.char} closes nothing."
        return it.at, what, "Take it out, or open it before its values."
    if "expected ','" not in it.problem or it.opened is None:
        return None
    opener = it.source.text[it.opened : it.opened + 1]
    if "\n" in it.source.text[it.opened : it.at]:
        closer = {"{": "}", "[": "]"}.get(opener, "")
        what = f"{opener} is opened here and never closed."
        return it.opened, what, f"Close it with {closer} after its last value."
    what = "a comma is missing before this place."
    return it.at, what, "Put a comma between one value and the next: {bpm: 60, beat: 3/8}."


def _no_colon(it: _Stumble) -> _Advice | None:
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
    what = "this line stands further in than the line above lets it."
    mend = "Start it in the same column as the key above."
    return it.line_start + len(it.line) - len(it.line.lstrip()), what, mend


def _colon_at(source: Source, at: int) -> _Advice:
    line = source.text[at:].split("\n", 1)[0]
    key, colon, value = line.partition(":")
    if colon and not value.startswith(" "):
        mend = f"Write  {key[:60]}: {value.strip()[:80]}."
        return at + len(key), "a colon needs a space after it.", mend
    return at, "this line has no colon after its key.", "Write it as  key: value."


def _quoted(key: str, value: str) -> str:
    value = value.strip()
    value = value if len(value) <= 80 else f"{value[:80]}..."
    return f'{key.strip().removeprefix("- ")[:60]}: "{value}"'


def _line_above(it: _Stumble) -> tuple[int, str] | None:
    """The nearest line above with something on it, and where it starts."""
    starts = it.line_start
    for line in reversed(it.source.lines[: it.number]):
        starts -= len(line) + 1
        if line.strip():
            return starts, line
    return None


def _indentation(it: _Stumble) -> _Advice | None:
    if "block" not in it.problem:
        return None
    what = "this line's indentation fits nothing above it."
    return it.at, what, "Start it in the same column as the lines it belongs with."


_ADVISERS: tuple[Callable[[_Stumble], _Advice | None], ...] = (
    _bare_bars,
    _open_quote,
    _tab,
    _special_first,
    _bracket,
    _no_value,
    _no_colon,
    _indentation,
)
