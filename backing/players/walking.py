"""A walking bass between two chords: the notes from one root to the next, a beat apart.

Common practice: chord tones where the bar is strong; on other beats chord tones, or other
tones of the scale that go on by step; and on such a beat the last note before a new root a
half or whole step from it, a whole step only where one of the two chords' scales has it. Of
all such lines the one with the lowest cost is played: steps and thirds before leaps, few
turns, no note repeated.
Everything here is in pitches; the caller knows the beats.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple, TypeAlias

#: What a move costs, by its semitones: steps are free, thirds and fourths cheap.
MOVES = (60, 0, 0, 6, 6, 12, 40, 18, 60, 60, 70, 80, 50, 90, 90)
TOO_FAR = 200
TURN, CONTRARY = 9, 8
PASSING = 3
#: Approaches: by a whole step, and from outside both scales.
WHOLE_STEP, CHROMATIC = 1, 2
#: How far a line may go beyond the two notes that it joins, and from a note with no target.
REACH, FREE_REACH = 7, 12

#: The cheapest line so far that ends on a pitch, moving up or down.
_Lines: TypeAlias = "dict[tuple[int, bool], tuple[int, tuple[int, ...]]]"


class Harmony(NamedTuple):
    """Pitch classes (0-11) of a chord's tones, and of the scale that passes between them."""

    tones: frozenset[int]
    scale: frozenset[int]


@lru_cache(maxsize=4096)
def between(
    start: int,
    target: int | None,
    strong: tuple[bool, ...],
    harmony: Harmony,
    next_scale: frozenset[int],
    upward: bool,
    lowest: int,
    highest: int,
) -> tuple[int, ...]:
    """The notes after `start` and before `target`, one for each of `strong`.

    Args:
        start, target: pitches; without a target (no chord follows) the line ends on a chord tone.
        strong: for each note, whether its beat is a strong one.
        next_scale: the following chord's.
        upward: whether the line starts upward, all else being equal.
        lowest, highest: the range that they must stay in.
    """
    end, room = (start, FREE_REACH) if target is None else (target, REACH)
    reach = range(max(lowest, min(start, end) - room), min(highest, max(start, end) + room) + 1)
    lines: _Lines = {(start, upward): (0, ())}
    for index, is_strong in enumerate(strong):
        last = index == len(strong) - 1
        if last and target is not None and not is_strong:
            choices = _approaches(target, harmony, next_scale, reach)
        else:
            choices = {
                pitch: 0 if pitch % 12 in harmony.tones else PASSING
                for pitch in reach
                if pitch % 12 in (harmony.tones if is_strong or last else harmony.scale)
            }
        lines = _longer(lines, choices, harmony.tones, first=index == 0)
    if target is not None:
        lines = _longer(lines, {target: 0}, harmony.tones, first=False)
    _, pitches = min(lines.values())
    return pitches[: len(strong)]


def _approaches(
    target: int, harmony: Harmony, next_scale: frozenset[int], reach: range
) -> dict[int, int]:
    """The pitches a half or whole step from a target, and what each costs."""
    costs = {}
    for step in (-2, -1, 1, 2):
        pitch, whole = target + step, abs(step) == 2
        outside = pitch % 12 not in harmony.scale | next_scale
        if pitch in reach and not (whole and outside):
            costs[pitch] = whole * WHOLE_STEP + outside * CHROMATIC
    return costs


def _longer(lines: _Lines, choices: dict[int, int], tones: frozenset[int], first: bool) -> _Lines:
    """Every line with one more note, the cheapest for each pitch and direction.

    After a note that isn't one of the chord's `tones` a line goes on by step; the `first` one
    follows the bass.
    """
    longer: _Lines = {}
    for (before, rising), (so_far, line) in lines.items():
        passes = not first and before % 12 not in tones
        for pitch, own in choices.items():
            move = pitch - before
            if passes and abs(move) not in (1, 2):
                continue
            up = move > 0 if move else rising
            leap = abs(move)
            cost = so_far + own + (MOVES[leap] if leap < len(MOVES) else TOO_FAR)
            if up != rising:
                cost += CONTRARY if first else TURN
            known = longer.get((pitch, up))
            if known is None or cost < known[0]:
                longer[pitch, up] = cost, (*line, pitch)
    return longer
