"""Patterns as typed: strokes of a strum, one token a step, bar lines between a pattern's bars."""

from __future__ import annotations

import re
from typing import Literal, cast

from backing.form.model import Stroke

MAX_STEPS = 512


class PatternError(ValueError):
    """A pattern's token can't be read; `offset` counts characters of the pattern."""

    def __init__(self, message: str, offset: int = 0) -> None:
        super().__init__(message)
        self.offset = offset


def read_strum(text: str) -> tuple[tuple[Stroke, ...], ...]:
    """Strokes of a strum, a tuple a bar.

    Raises:
        PatternError: a token that is no stroke, an empty bar, or more than 512 steps.
    """
    bars: list[tuple[Stroke, ...]] = []
    at = 0
    pieces = text.split("|")
    for number, piece in enumerate(pieces):
        strokes = tuple(_stroke(m[0], at + m.start()) for m in re.finditer(r"\S+", piece))
        if strokes:
            bars.append(strokes)
        elif 0 < number < len(pieces) - 1 or len(pieces) == 1:
            raise PatternError(
                "an empty bar in a pattern. Write - for each step without a stroke.", at
            )
        at += len(piece) + 1
    if not bars:
        raise PatternError("a pattern without strokes. Write some, such as: D D U D")
    if sum(map(len, bars)) > MAX_STEPS:
        raise PatternError(
            f"a pattern of more than {MAX_STEPS} steps. Patterns repeat; write one or a few bars."
        )
    return tuple(bars)


def print_strum(bars: tuple[tuple[Stroke, ...], ...]) -> str:
    """Strokes as a writer types them."""
    return " | ".join(" ".join(s.move + (">" if s.accent else "") for s in bar) for bar in bars)


def _stroke(token: str, at: int) -> Stroke:
    move, accent = token.removesuffix(">"), token.endswith(">")
    if move not in ("D", "U", "x", "-") or (move == "-" and accent):
        quoted = token if token.isprintable() and len(token) < 20 else "this"
        raise PatternError(
            f"{quoted} is no stroke. Write D (down), U (up), x (damped) or -, with > after a stroke to accent it, "
            "and a space between them.",
            at,
        )
    return Stroke(cast(Literal["D", "U", "x", "-"], move), accent)
