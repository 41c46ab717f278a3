"""Picking with the fingers: the thumb on the bass strings, index, middle and ring above it.

The thumb (`p`) plays the lowest string of the chord's shape, and for `p2` the next one
above it. Index, middle and ring finger have the strings 3, 2 and 1; where the shape mutes
one of those, the finger takes the nearest string that sounds, of two equally near the
higher. Fingers that meet on one string play it once. The thumb is louder than the
fingers, and notes on a beat are a little louder than those between. Notes ring into each
other: a string sounds until it is played again or the chord leaves it.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple, TypeAlias

from backing.form.model import Form
from backing.form.pattern_records import PickPattern
from backing.form.patterns import read_pick
from backing.players.part_settings import SettingsOf
from backing.players.strings import Shape, Strings, sounding_strings
from backing.players.tiling import Placed, bar_steps, own_meter
from backing.theory.picks import FINGER_STRINGS, PICKS, TOGETHER, Picking
from backing.theory.rhythm import Meter
from backing.theory.steps import Steps
from backing.timeline import Bar

THUMB, FINGER, ON_BEAT = 88, 70, 4


class Pluck(NamedTuple):
    """Fingers that play together."""

    fingers: tuple[str, ...]
    on_beat: bool

    def strike(
        self, strings: Strings, at: Fraction, shape: Shape, units_a_second: int, room: Fraction
    ) -> None:
        """Sound all fingers' strings at once; of two fingers on one string, the louder plays it."""
        lift = ON_BEAT * self.on_beat
        for index, thumb in _played(shape, self.fingers):
            pitch = shape[index]
            assert pitch is not None
            strings.strike(index, at, pitch, (THUMB if thumb else FINGER) + lift)


#: How a chord with a mark is played: the thumb and three fingers together.
MARKED = Pluck(TOGETHER, True)

#: A bar's plucks with their places from the bar line, in order.
Plucks: TypeAlias = "tuple[tuple[Fraction, Pluck], ...]"


def plucks(form: Form, settings: SettingsOf) -> Callable[[Bar], Plucks]:
    """What a bar is picked with; only for passes that pick."""

    def of_bar(bar: Bar) -> Plucks:
        pick = settings(bar.playing).pick
        assert pick is not None
        if isinstance(pick, str):
            pick = form.picks.get(pick) or built_in(pick, own_meter(form, bar), len(form.tuning))
        steps = bar_steps(pick.bars, pick.step_whole, bar, own_meter(form, bar))
        return _plucked(steps, bar.meter)

    return of_bar


@lru_cache(maxsize=64)
def built_in(name: str, meter: Meter, strings: int) -> PickPattern:
    """A built-in pattern, in any meter, on an instrument with `strings` strings."""
    picking = PICKS[name]
    step_whole, play = picking.by_meter.get(str(meter)) or _made_for(picking, meter)
    others = picking.replaced.get(strings, {})
    play = " ".join(others.get(token, token) for token in play.split())
    return PickPattern(step_whole, read_pick(play))


def _made_for(picking: Picking, meter: Meter) -> Steps:
    """A pattern for a meter that has none in the table, by half beats or by the meter's unit."""
    thumbs, fingers = picking.thumbs, picking.fingers
    halved = len(meter.beats) == meter.count
    step_whole = meter.unit_whole / 2 if halved else meter.unit_whole
    tokens: list[str] = []
    for number, beat in enumerate(meter.beats):
        turns = [number if halved else index for index in range(int(beat / step_whole) - 1)]
        tokens += [thumbs[number % len(thumbs)], *(fingers[turn % len(fingers)] for turn in turns)]
    if not picking.thumb_each_beat:
        tokens[1:] = [fingers[index % len(fingers)] for index in range(len(tokens) - 1)]
    return Steps(step_whole, " ".join(tokens))


@lru_cache(maxsize=256)
def _plucked(steps: Placed[tuple[str, ...]], meter: Meter) -> Plucks:
    return tuple((at, Pluck(fingers, at in meter.beat_starts)) for at, fingers in steps if fingers)


@lru_cache(maxsize=1024)
def _played(shape: Shape, fingers: tuple[str, ...]) -> tuple[tuple[int, bool], ...]:
    """The strings that fingers play in a shape, low to high, each with whether it is the thumb."""
    sounding = [index for index, _ in sounding_strings(shape)]
    played: dict[int, bool] = {}
    for finger in fingers:
        if finger in FINGER_STRINGS:
            own = len(shape) - FINGER_STRINGS[finger]
            index = min(sounding, key=lambda string: (abs(string - own), -string))
        else:
            index = sounding[min(len(sounding) - 1, finger == "p2")]
        played[index] = played.get(index, False) or finger not in FINGER_STRINGS
    return tuple(sorted(played.items()))
