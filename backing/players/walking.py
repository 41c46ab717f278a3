"""A walking bass between two chords: the notes from one root to the next, a beat apart.

Common practice: chord tones where the bar is strong; on other beats chord tones, or other
tones of the scale that go on by step; and on such a beat the last note before a new root a
half or whole step from it, a whole step only where one of the two chords' scales has it. Of
all such lines the one with the lowest cost is played: steps and thirds before leaps, few
turns, no note repeated.
Approaches take turns: a half step from below, a whole step from above, a whole step from
below, a half step from above. Everything here is in pitches; the caller knows the beats.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple, TypeAlias

#: What a move costs, by its semitones: steps are free, thirds and fourths cheap.
MOVES = (60, 0, 0, 6, 6, 12, 40, 18, 60, 60, 70, 80, 50, 90, 90)
TOO_FAR = 200
TURN, CONTRARY = 9, 8
PASSING = 3
#: The steps from a target to its approaches, in the order of their turns, and what each costs
#: when another one has its turn.
APPROACHES = (-1, 2, -2, 1)
OUT_OF_TURN = 14
#: What an approach costs that is the other third of the chord: a major one under a minor chord.
OTHER_THIRD = 15
#: What each semitone costs by which a note lies more than `SPREAD` away from a line's middle.
SPREAD, FAR_OUT = 9, 3
#: How far a line may go beyond the two notes that it joins, and from a note with no target.
REACH, FREE_REACH = 7, 12

#: The cheapest line so far that ends on a pitch, moving up or down.
_Lines: TypeAlias = "dict[tuple[int, bool], tuple[int, tuple[int, ...]]]"


class Harmony(NamedTuple):
    """Pitch classes (0-11) of a chord's tones, and of the scale that passes between them."""

    tones: frozenset[int]
    scale: frozenset[int]


class Room(NamedTuple):
    """The lowest and the highest pitch of a line, and the one that it keeps near."""

    lowest: int
    highest: int
    middle: int


class Turn(NamedTuple):
    """What a line does where several would be equally good.

    It starts `upward`, and comes to its target by `approach`, one of `APPROACHES`; with None, by
    any that the scale has.
    """

    upward: bool
    approach: int | None


@lru_cache(maxsize=4096)
def between(
    start: int,
    target: int | None,
    strong: tuple[bool, ...],
    harmony: Harmony,
    next_scale: frozenset[int],
    turn: Turn,
    room: Room,
) -> tuple[int, ...]:
    """The notes after `start` and before `target`, one for each of `strong`.

    Args:
        start, target: pitches; without a target (no chord follows) the line ends on a chord tone.
        strong: for each note, whether its beat is a strong one.
        next_scale: the following chord's.
        turn: what decides between lines that are nearly as good.
        room: the range that they must stay in, and its middle.
    """
    end, far = (start, FREE_REACH) if target is None else (target, REACH)
    reach = range(
        max(room.lowest, min(start, end) - far), min(room.highest, max(start, end) + far) + 1
    )
    lines: _Lines = {(start, turn.upward): (0, ())}
    for index, is_strong in enumerate(strong):
        last = index == len(strong) - 1
        if last and target is not None and not is_strong:
            choices = _approaches(target, harmony, next_scale, reach, turn.approach)
        else:
            choices = {
                pitch: 0 if pitch % 12 in harmony.tones else PASSING
                for pitch in reach
                if pitch % 12 in (harmony.tones if is_strong or last else harmony.scale)
            }
        for pitch in choices:
            choices[pitch] += FAR_OUT * max(0, abs(pitch - room.middle) - SPREAD)
        lines = _longer(lines, choices, harmony.tones, first=index == 0)
    if target is not None:
        lines = _longer(lines, {target: 0}, harmony.tones, first=False)
    _, pitches = min(lines.values())
    return pitches[: len(strong)]


def _approaches(
    target: int, harmony: Harmony, next_scale: frozenset[int], reach: range, favored: int | None
) -> dict[int, int]:
    """The pitches a half or whole step from a target, and what each costs."""
    scales = harmony.scale | next_scale
    found = {}
    for step in APPROACHES:
        pitch = target + step
        is_chromatic = pitch % 12 not in scales
        if pitch in reach and not (is_chromatic and (favored is None or abs(step) == 2)):
            found[pitch] = OUT_OF_TURN if favored not in (None, step) else 0
            found[pitch] += OTHER_THIRD if _is_other_third(pitch % 12, harmony.tones) else 0
    return found


def _is_other_third(tone: int, tones: frozenset[int]) -> bool:
    """Whether a tone is a major third where a chord has a minor one, or the other way around."""
    both = (3, 4), (4, 3)
    return tone not in tones and any(
        {(tone - other) % 12, (tone - other + third) % 12} <= tones for other, third in both
    )


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
