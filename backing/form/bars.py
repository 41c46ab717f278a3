"""The bars notation: `| D | A/C# | 2/4 E7 | 4/4 F#m7 A(push) |`, rows of bars as typed.

bars   = row { newline row }
row    = [ "|" ] bar { "|" bar } [ "|" ]
bar    = [ meter ] ( "%" | slot { slot } )
slot   = ( chord | "N.C." ) { "(" mark ")" } | "/"
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from itertools import count, islice
from typing import NamedTuple, cast

from backing.form.comments import without_comment
from backing.form.model import Cell, Mark, Rows, WrittenBar
from backing.theory.chords import ChordError, parse_chord
from backing.theory.rhythm import MOST_UNITS, Meter, parse_meter

MARKS = ("push", "stop", "ring")
MAX_BARS = 20_000
MOST_PROBLEMS = 50
MOST_LETTERS = 40

_TOKEN = re.compile(r"(?:\([^()|]*\)|[^\s()|])+|[()]")
_METER = re.compile(r"\d+/\d+(?:\(.*\))?")
_GROUPS = re.compile(r"\([\d+\s]*\)")
_LAST_BRACKET = re.compile(r"\(([^()]*)\)$")


class BarsError(Exception):
    """Something in the bars can't be read; `offset` counts characters of the bars' text."""

    def __init__(self, offset: int, message: str, fix: str = "") -> None:
        super().__init__(message)
        self.offset, self.message, self.fix = offset, message, fix


class CellError(BarsError):
    """A slot that can't be read, in a bar whose other slots stand where they should."""


class ReadBars(NamedTuple):
    """Rows of bars, where each bar's first slot stands, and all that could not be read.

    Where only slots couldn't be read, N.C. stands in their place, and the bars are `counted`.
    """

    rows: Rows
    offsets: tuple[int, ...]
    problems: tuple[BarsError, ...]

    @property
    def counted(self) -> bool:
        """Whether every bar is there, with all its slots."""
        return all(isinstance(problem, CellError) for problem in self.problems)

    def without(self, bars: Collection[int]) -> ReadBars:
        """These bars with N.C. for the whole of some, which are counted from 0."""
        if not bars:
            return self
        places = count()
        rows = tuple(
            tuple(WrittenBar((Cell(),), bar.meter) if next(places) in bars else bar for bar in row)
            for row in self.rows
        )
        return self._replace(rows=rows)

    @property
    def flat(self) -> tuple[WrittenBar, ...]:
        """The bars without their rows."""
        return tuple(bar for row in self.rows for bar in row)


def read_bars(text: str, most: int = MAX_BARS) -> ReadBars:
    """Read rows of bars; never raises: problems are collected, so that all are seen at once.

    Reading stops past `most` bars, or after 50 problems.
    """
    rows: list[list[WrittenBar]] = [[]]
    offsets: list[int] = []
    problems: list[BarsError] = []
    for row, at, piece in _pieces(text):
        while len(rows) <= row:
            rows.append([])
        try:
            if len(offsets) == most:
                fix = "Write fewer, or split the song into several forms."
                raise BarsError(at, f"a form has at most {MAX_BARS:,} bars.", fix)
            slots, bar, bad = _read_bar(piece, at)
        except BarsError as problem:
            problems.append(problem)
            if len(offsets) == most:
                break
        else:
            rows[row].append(bar)
            offsets.append(slots)
            problems += bad
        if len(problems) >= MOST_PROBLEMS:
            break
    if not offsets and not problems:
        fix = 'Write them between bar lines: "| A | D |".'
        problems.append(BarsError(0, "there are no bars here.", fix))
    return ReadBars(tuple(tuple(row) for row in rows if row), tuple(offsets), tuple(problems))


def _pieces(text: str) -> Iterator[tuple[int, int, str]]:
    """What stands between bar lines: its row's number, its place in the text, itself."""
    start = 0
    for row, line in enumerate(text.split("\n")):
        pieces, at = without_comment(line).split("|"), start
        last = len(pieces) - 1
        for number, piece in enumerate(pieces):
            # Before a row's first bar line and after its last one there may be nothing.
            if piece.strip() or 0 < number < last:
                yield row, at, piece
            at += len(piece) + 1
        start += len(line) + 1


def _read_bar(text: str, start: int) -> tuple[int, WrittenBar, list[CellError]]:
    """Where a bar's first slot stands, the bar, and the slots that can't be read."""
    # A meter takes up to two tokens; after one slot too many there is no point in reading on.
    found = islice(_TOKEN.finditer(text), MOST_UNITS + 3)
    tokens = [(match.start() + start, match[0]) for match in found]
    if not tokens:
        fix = (
            "Write a chord between the bar lines, % to repeat the bar before, or N.C. for silence; "
            "start each row on a new line."
        )
        raise BarsError(start, "this bar is empty.", fix)
    meter = None
    if _METER.fullmatch(tokens[0][1]):
        at = tokens[0][0]
        meter, tokens = _read_meter(tokens)
        if not tokens:
            fix = f"Write its chords after the meter: {meter} A, or {meter} %."
            raise BarsError(at, "this meter has no bar after it.", fix)
    if len(tokens) > MOST_UNITS:
        raise BarsError(tokens[0][0], f"a bar holds at most {MOST_UNITS} slots.", "Add bar lines.")
    first = tokens[0][0]
    for at, token in tokens:
        if token[0] == "%":
            if len(tokens) == 1 and token == "%":
                return first, WrittenBar(meter=meter, again=True), []
            what = "% repeats a whole bar, so nothing else fits in it."
            problem = CellError(at, what, "Write the chords again instead.")
            return first, WrittenBar((Cell(),), meter), [problem]
    cells, bad = [], []
    for at, token in tokens:
        try:
            cells.append(_read_cell(token, at))
        except CellError as problem:
            bad.append(problem)
            cells.append(Cell())
    return first, WrittenBar(tuple(cells), meter), bad


def _read_meter(tokens: list[tuple[int, str]]) -> tuple[Meter, list[tuple[int, str]]]:
    (at, word), rest = tokens[0], tokens[1:]
    if rest and "(" not in word and _GROUPS.fullmatch(rest[0][1]):
        word, rest = f"{word} {rest[0][1]}", rest[1:]
    try:
        return parse_meter(word), rest
    except ValueError as error:
        raise BarsError(at, str(error)) from None


def _read_cell(token: str, at: int) -> Cell:
    if token == "/":
        return Cell(goes_on=True)
    if token in ("(", ")"):
        raise BarsError(
            at, "this parenthesis has no match.", "Marks are written (push), (stop) or (ring)."
        )
    if _METER.fullmatch(token):
        raise BarsError(
            at,
            f"the meter {token} must come first in its bar.",
            "Write it right after the bar line.",
        )
    if len(token) > MOST_LETTERS:
        raise BarsError(at, "this is too long for a chord.", "Put a space between two chords.")
    if token.lower() in MARKS:
        fix = f"Write it in parentheses right after its chord: A({token.lower()})."
        raise BarsError(at, f"{token} is a mark, not a chord.", fix)
    if ":" in token:
        what = f"can't read {token}: bars have no repeat signs."
        raise BarsError(at, what, "Write the bars once, and  times: 2  in their section.")
    symbol, marks = _split_marks(token, at)
    if not symbol:
        fix = "Write it right after the chord, with no space: A(push)."
        raise BarsError(at, f"{token} doesn't follow a chord.", fix)
    if symbol == "/":
        raise CellError(at, "a slash can't have a mark.", "Write the chord again with its mark.")
    if symbol == "N.C.":
        return Cell(marks=marks)
    if symbol.upper().replace(".", "") == "NC":
        raise CellError(at, f"{symbol} is not a chord.", "For no chord, write N.C.")
    try:
        return Cell(parse_chord(symbol), marks)
    except ChordError as error:
        raise CellError(at + error.offset, str(error)) from None


def _split_marks(token: str, at: int) -> tuple[str, frozenset[Mark]]:
    """Take the brackets that hold only marks off a slot's end."""
    marks: set[Mark] = set()
    while bracket := _LAST_BRACKET.search(token):
        words = bracket[1].replace(",", " ").split()
        known = [word for word in words if word in MARKS]
        if not known and not _meant_as_mark(words):
            break
        if len(known) != len(words):
            wrong = next(word for word in words if word not in MARKS)
            raise CellError(
                at + bracket.start(1) + bracket[1].index(wrong),
                f"there is no mark {wrong}.",
                _mark_advice(wrong),
            )
        marks |= {cast(Mark, word) for word in known}
        token = token[: bracket.start()]
    if {"stop", "ring"} <= marks:
        raise CellError(at, "a chord can't both stop and ring.", "Keep one of the two marks.")
    return token, frozenset(marks)


def _meant_as_mark(words: list[str]) -> bool:
    """Whether a bracket is a misspelled mark rather than a chord's own altered tones."""
    return any(
        len(word) > 2 and word.isalpha() and word not in ("add", "sus", "maj", "omit")
        for word in words
    )


def _mark_advice(word: str) -> str:
    from difflib import get_close_matches

    near = get_close_matches(word.lower(), MARKS, n=1)
    return f"Did you mean ({near[0]})?" if near else "The marks are (push), (stop) and (ring)."


def print_bar(bar: WrittenBar) -> str:
    """A bar as a writer types it, without bar lines."""
    words = [str(bar.meter).replace(" ", "")] if bar.meter else []
    return " ".join(words + (["%"] if bar.again else list(map(print_cell, bar.cells))))


def print_cell(cell: Cell) -> str:
    """A slot as a writer types it."""
    if cell.goes_on:
        return "/"
    symbol = str(cell.chord) if cell.chord else "N.C."
    return symbol + "".join(f"({mark})" for mark in MARKS if mark in cell.marks)
