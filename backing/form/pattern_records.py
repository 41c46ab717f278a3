"""What a writer typed to be played step by step: strums, picks, bass lines and drum beats."""

from fractions import Fraction
from typing import Literal, NamedTuple


class Plays(NamedTuple):
    """Of every `cycle` bars, the first `bars` click."""

    bars: int
    cycle: int


Move = Literal["D", "U", "x", "p", "p2", "-"]


class Stroke(NamedTuple):
    """One step of a strum: `D`, `U`, `x` (damped), the thumb `p` or `p2`, or `-` (none).

    A `short` one is stopped halfway to the next.
    """

    move: Move
    accent: bool = False
    short: bool = False


class StrumPattern(NamedTuple):
    """Strokes a step apart; one inner tuple a bar where bar lines are written."""

    step_whole: Fraction
    bars: tuple[tuple[Stroke, ...], ...]


class PickPattern(NamedTuple):
    """Fingers a step apart: `p` (thumb, bass string), `p2`, `i`, `m`, `a`; () is a rest."""

    step_whole: Fraction
    bars: tuple[tuple[tuple[str, ...], ...], ...]


class BassPattern(NamedTuple):
    """Degrees above the chord's root a step apart (`1`, `b3`, `5`, `8`); `-` goes on."""

    step_whole: Fraction
    bars: tuple[tuple[str, ...], ...]


class DrumPattern(NamedTuple):
    """Lines by General MIDI percussion number; a step is 0 (none), 1 (struck) or 2 (accented)."""

    step_whole: Fraction
    lines: tuple[tuple[int, tuple[tuple[int, ...], ...]], ...]
