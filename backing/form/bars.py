"""The bars notation: `| D | A/C# | 2/4 E7 | 4/4 F#m7 A(push) |`, rows of bars as typed.

bars   = row { newline row }
row    = [ "|" ] bar { "|" bar } [ "|" ]
bar    = [ meter ] ( "%" | slot { slot } )
slot   = ( chord | "N.C." ) { "(" mark ")" } | "/"
"""

from __future__ import annotations

import re
from typing import NamedTuple, cast

from backing.form.model import Cell, Mark, Rows, WrittenBar
from backing.theory.chords import ChordError, parse_chord
from backing.theory.rhythm import Meter, parse_meter

MARKS = ("push", "stop", "ring")

_TOKEN = re.compile(r"(?:\([^()|]*\)|[^\s()|])+|[()]")
_METER = re.compile(r"\d+/\d+(?:\(.*\))?")
_GROUPS = re.compile(r"\([\d+\s]*\)")
_LAST_BRACKET = re.compile(r"\(([^()]*)\)$")


class Misread(Exception):
    """Something in the bars can't be read; `offset` counts characters of the bars' text."""

    def __init__(self, offset: int, message: str, mend: str = "") -> None:
        super().__init__(message)
        self.offset, self.message, self.mend = offset, message, mend


class ReadBars(NamedTuple):
    """Rows of bars, where each bar's text starts, and all that could not be read."""

    rows: Rows
    offsets: tuple[int, ...]
    faults: tuple[Misread, ...]

    @property
    def flat(self) -> tuple[WrittenBar, ...]:
        """The bars without their rows."""
        return tuple(bar for row in self.rows for bar in row)


def read_bars(text: str) -> ReadBars:
    """Read rows of bars; never raises: faults are collected, so that all are seen at once."""
    rows: list[tuple[WrittenBar, ...]] = []
    offsets: list[int] = []
    faults: list[Misread] = []
    start = 0
    for line in text.split("\n"):
        row = []
        for at, piece in _pieces(line):
            try:
                bar = _read_bar(piece, start + at)
            except Misread as fault:
                faults.append(fault)
                continue
            row.append(bar)
            offsets.append(start + at + len(piece) - len(piece.lstrip()))
        if row:
            rows.append(tuple(row))
        start += len(line) + 1
    if not rows and not faults:
        faults.append(
            Misread(0, "there are no bars here.", 'Write them between bar lines: "| A | D |".')
        )
    return ReadBars(tuple(rows), tuple(offsets), tuple(faults))


def print_bars(rows: Rows) -> str:
    """Rows of bars as a writer types them, one row a line."""
    return "\n".join("| " + " | ".join(map(_print_bar, row)) + " |" for row in rows)


def _pieces(line: str) -> list[tuple[int, str]]:
    """What stands between a line's bar lines, with its place in the line."""
    pieces, at = [], 0
    for piece in line.split("|"):
        pieces.append((at, piece))
        at += len(piece) + 1
    if not pieces[0][1].strip():
        pieces.pop(0)
    if pieces and not pieces[-1][1].strip():
        pieces.pop()
    return pieces


def _read_bar(text: str, start: int) -> WrittenBar:
    tokens = [(match.start() + start, match[0]) for match in _TOKEN.finditer(text)]
    if not tokens:
        raise Misread(
            start,
            "an empty bar.",
            "Write a chord, % for the bar before again, or N.C.; one bar line is enough, and rows go on lines of their own.",
        )
    meter = None
    if _METER.fullmatch(tokens[0][1]):
        meter, tokens = _read_meter(tokens)
        if not tokens:
            mend = f"Write its chords after the meter: {meter} A, or {meter} %."
            raise Misread(start + len(text.rstrip()), "a meter with no bar after it.", mend)
    if any(token == "%" for _, token in tokens):
        if len(tokens) > 1:
            at = next(at for at, token in tokens if token == "%")
            raise Misread(
                at,
                "% is a whole bar and shares it with nothing.",
                "Write the chords again instead.",
            )
        return WrittenBar(meter=meter, again=True)
    return WrittenBar(tuple(_read_cell(token, at) for at, token in tokens), meter)


def _read_meter(tokens: list[tuple[int, str]]) -> tuple[Meter, list[tuple[int, str]]]:
    (at, word), rest = tokens[0], tokens[1:]
    if rest and "(" not in word and _GROUPS.fullmatch(rest[0][1]):
        word, rest = f"{word} {rest[0][1]}", rest[1:]
    try:
        return parse_meter(word), rest
    except ValueError as error:
        raise Misread(at, str(error)) from None


def _read_cell(token: str, at: int) -> Cell:
    if token == "/":
        return Cell(goes_on=True)
    if token in ("(", ")"):
        raise Misread(
            at, "a bracket without its other half.", "Marks are written (push), (stop) or (ring)."
        )
    if _METER.fullmatch(token):
        raise Misread(
            at, f"the meter {token} must open its bar.", "Write it right after the bar line."
        )
    symbol, marks = _split_marks(token, at)
    if not symbol:
        mend = "Write it right after the chord, with no space: A(push)."
        raise Misread(at, f"{token} belongs to no chord.", mend)
    if symbol == "N.C.":
        return Cell(marks=marks)
    if symbol.upper().replace(".", "") == "NC":
        raise Misread(at, f"{symbol} is not a chord.", "For no chord write N.C.")
    try:
        return Cell(parse_chord(symbol), marks)
    except ChordError as error:
        raise Misread(at + error.offset, str(error)) from None


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
            raise Misread(
                at + bracket.start(1), f"there is no mark {wrong!r}.", _mark_advice(wrong)
            )
        marks |= {cast(Mark, word) for word in known}
        token = token[: bracket.start()]
    if {"stop", "ring"} <= marks:
        raise Misread(at, "a chord can't both stop and ring.", "Keep one of the two marks.")
    return token, frozenset(marks)


def _meant_as_mark(words: list[str]) -> bool:
    """Whether a bracket is a misspelled mark rather than a chord's own altered tones."""
    return any(
        len(word) > 2 and word.isalpha() and word not in ("add", "sus", "maj", "omit")
        for word in words
    )


def _mark_advice(word: str) -> str:
    from difflib import get_close_matches

    near = get_close_matches(word, MARKS, n=1)
    return f"Did you mean ({near[0]})?" if near else "The marks are (push), (stop) and (ring)."


def _print_bar(bar: WrittenBar) -> str:
    words = [str(bar.meter).replace(" ", "")] if bar.meter else []
    return " ".join(words + (["%"] if bar.again else [_print_cell(cell) for cell in bar.cells]))


def _print_cell(cell: Cell) -> str:
    if cell.goes_on:
        return "/"
    symbol = str(cell.chord) if cell.chord else "N.C."
    return symbol + "".join(f"({mark})" for mark in MARKS if mark in cell.marks)
