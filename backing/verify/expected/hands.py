"""What a guitarist's right hand does in a bar: strokes of a strum, fingers of a pick.

Patterns are the writer's or, where the form gives none, the built-in ones of `theory`.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from backing.form.pattern_records import PickPattern, StrumPattern
from backing.theory.picks import PICKS, TOGETHER, Picking
from backing.theory.rhythm import Meter
from backing.theory.steps import Steps as BuiltIn
from backing.theory.strums import ENDS_BEAT, INSIDE_BEAT, OPENS_BAR, OPENS_BEAT, STRUMS
from backing.verify.expected.records import PlayedBar
from backing.verify.expected.tiling import Steps, steps_in


class Move(NamedTuple):
    """One move of the hand: `D`, `U` or `x` over the strings, or, if there are any, fingers.

    A `short` one is stopped halfway to the next, or to the next chord.
    """

    stroke: str = ""
    fingers: tuple[str, ...] = ()
    short: bool = False


#: How a chord with a mark is struck, in a pass that strums and in one that picks.
STRUMMED, PICKED = Move("D"), Move(fingers=TOGETHER)


def moves_in(values: Mapping[str, Any], bar: PlayedBar, strings: int) -> Steps[Move]:
    """What a part with these settings, which don't hold a riff, plays in a bar on `strings`."""
    pick = values.get("pick")
    if pick is not None:
        return _plucks(_pick(pick, bar.plan.meter, strings), bar)
    strum = values.get("strum")
    if strum is None:
        return _plain_strum(bar.meter)
    assert isinstance(strum, StrumPattern)
    lines = tuple(tuple((stroke.move, stroke.short) for stroke in line) for line in strum.bars)
    steps = steps_in(lines, strum.step_whole, bar)
    return tuple((at, _move(*written)) for at, written in steps if written[0] != "-")


@lru_cache(maxsize=32)
def _move(written: str, short: bool) -> Move:
    if written.startswith("p"):
        return Move(fingers=(written,), short=short)
    return Move(written, short=short)


@lru_cache(maxsize=64)
def _plain_strum(meter: Meter) -> Steps[Move]:
    """A bar of the meter's built-in strum."""
    step, play = STRUMS.get(str(meter)) or _strum_for(meter)
    moves = [token.rstrip(">") for token in play.split()]
    return tuple((step * place, _MOVES[move]) for place, move in enumerate(moves) if move != "-")


_MOVES = {move: Move(move) for move in "DUx"}


def _plucks(pick: PickPattern, bar: PlayedBar) -> Steps[Move]:
    steps = steps_in(pick.bars, pick.step_whole, bar)
    return tuple((at, Move(fingers=fingers)) for at, fingers in steps if fingers)


def _pick(pick: str | PickPattern, meter: Meter, strings: int) -> PickPattern:
    return _built_in(pick, meter, strings) if isinstance(pick, str) else pick


@lru_cache(maxsize=64)
def _built_in(name: str, meter: Meter, strings: int) -> PickPattern:
    """A built-in pattern in a meter, with the fingers that play together as a tuple."""
    picking = PICKS[name]
    step_whole, play = picking.by_meter.get(str(meter)) or _pick_for(picking, meter)
    others = picking.replaced.get(strings, {})
    bars = tuple(
        tuple(() if token == "-" else (others.get(token, token),) for token in line.split())
        for line in play.split("|")
    )
    return PickPattern(step_whole, bars)


@lru_cache(maxsize=64)
def _strum_for(meter: Meter) -> BuiltIn:
    """Down on each beat, up on its last part; the parts are half beats or the meter's units."""
    step = meter.unit_whole / 2 if len(meter.beats) == meter.count else meter.unit_whole
    tokens: list[str] = []
    for beat in meter.beats:
        parts = int(beat / step)
        tokens.append(OPENS_BEAT if tokens else OPENS_BAR)
        tokens += [INSIDE_BEAT] * (parts - 2)
        tokens += [ENDS_BEAT] * (parts > 1)
    return BuiltIn(step, " ".join(tokens))


def _pick_for(picking: Picking, meter: Meter) -> BuiltIn:
    """The thumb opens each beat, or the bar alone; the fingers take turns on the parts between."""
    by_halves = len(meter.beats) == meter.count
    step = meter.unit_whole / 2 if by_halves else meter.unit_whole
    tokens: list[str] = []
    fingers = picking.fingers
    for number, beat in enumerate(meter.beats):
        between = int(beat / step) - 1
        tokens.append(picking.thumbs[number % len(picking.thumbs)])
        if by_halves:
            tokens += [fingers[number % len(fingers)]] * between
        else:
            tokens += [fingers[index % len(fingers)] for index in range(between)]
    if not picking.thumb_each_beat:
        tokens = [tokens[0], *(fingers[i % len(fingers)] for i in range(len(tokens) - 1))]
    return BuiltIn(step, " ".join(tokens))
