"""Patterns as typed: one token for each step, spaces between them, and bar lines between bars."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TypeVar, cast

from backing.form.pattern_records import Move, Stroke

MAX_STEPS = 512

_T = TypeVar("_T")
_FINGERS = ("p", "p2", "i", "m", "a")
_STROKE = re.compile(r"[DU]>?\.?|x>?|p2?\.?|-")
_DEGREE = re.compile(r"[b#]?(?:[1-9]|1[0-3])")


class PatternError(ValueError):
    """A token of a pattern can't be read; `offset` counts characters from the pattern's start."""

    def __init__(self, message: str, offset: int = 0) -> None:
        super().__init__(message)
        self.offset = offset


def read_strum(text: str) -> tuple[tuple[Stroke, ...], ...]:
    """A strum's strokes, a tuple for each bar; raises PatternError."""
    return _read(text, _stroke, "D D U D")


def read_pick(text: str) -> tuple[tuple[tuple[str, ...], ...], ...]:
    """A picking pattern's fingers, a tuple for each bar; raises PatternError."""
    return _read(text, _fingers, "p i m a")


def read_degrees(text: str) -> tuple[tuple[str, ...], ...]:
    """A bass line's degrees, a tuple for each bar; raises PatternError."""
    return _read(text, _degree, "1 - 5 -")


def read_hits(text: str) -> tuple[tuple[int, ...], ...]:
    """A drum's line, a tuple for each bar: 0 none, 1 struck, 2 accented; raises PatternError."""
    return _read(text, _hit, "x - x -")


def _read(text: str, token: Callable[[str, int], _T], example: str) -> tuple[tuple[_T, ...], ...]:
    """Tokens, a tuple for each bar; an empty bar, no token, or more than 512 is an error."""
    if len(text.replace("|", " ").split()) > MAX_STEPS:
        raise PatternError(
            f"a pattern has at most {MAX_STEPS} steps; write a bar or a few, and they repeat"
        )
    bars: list[tuple[_T, ...]] = []
    at = 0
    pieces = text.split("|")
    for number, piece in enumerate(pieces):
        read = tuple(token(m[0], at + m.start()) for m in re.finditer(r"\S+", piece))
        if read:
            bars.append(read)
        elif 0 < number < len(pieces) - 1 or len(pieces) == 1:
            raise PatternError(
                "this bar of the pattern is empty; write - for each of its steps", at
            )
        at += len(piece) + 1
    if not bars:
        raise PatternError(f"this pattern is empty; write one, such as: {example}")
    return tuple(bars)


def _shown(token: str) -> str:
    return token if token.isprintable() and len(token) < 20 else "this"


def _stroke(token: str, at: int) -> Stroke:
    if not _STROKE.fullmatch(token):
        raise PatternError(
            f"{_shown(token)} isn't a stroke; write D (down), U (up), x (damped), p (thumb, or p2 "
            "for its second string) or - (none), with a > after D, U or x to accent it, a dot "
            "after D, U or p to stop it short, and spaces between strokes",
            at,
        )
    move = cast(Move, token.rstrip(">."))
    return Stroke(move, ">" in token, "." in token)


def _fingers(token: str, at: int) -> tuple[str, ...]:
    if token == "-":
        return ()
    together = token[1:-1] if token[0] == "(" and token[-1] == ")" else token
    fingers = tuple(re.findall(r"p2|[pima]", together))
    alone = len(fingers) == 1 or together is not token
    if "".join(fingers) != together or not fingers or not alone or len(set(fingers)) < len(fingers):
        raise PatternError(
            f"{_shown(token)} isn't a finger; write p (thumb, or p2 for its second string), "
            "i, m, a, (pa) for two together or - (none), with spaces between steps",
            at,
        )
    return tuple(sorted(fingers, key=_FINGERS.index))


def _degree(token: str, at: int) -> str:
    if token != "-" and not _DEGREE.fullmatch(token):
        raise PatternError(
            f"{_shown(token)} isn't a degree; write 1 for the root, 3, 5, b7, 8 and so on up to "
            "13, or - to hold, with spaces between steps",
            at,
        )
    return token


def _hit(token: str, at: int) -> int:
    if token not in ("-", "x", "x>"):
        raise PatternError(
            f"{_shown(token)} isn't a drum stroke; write x, x> for an accent or - (none), "
            "with spaces between steps",
            at,
        )
    return ("-", "x", "x>").index(token)
