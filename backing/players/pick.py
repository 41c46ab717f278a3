"""Picking with the fingers: the thumb on the bass strings, index, middle and ring above it.

The thumb (`p`) plays the lowest string of the chord's shape, and for `p2` the next one
above it. Index, middle and ring have the strings 3, 2 and 1; where the shape mutes one of
those, the nearest that sounds, of two as near the higher. Fingers that meet on one string
play it once. The thumb is louder than the fingers, and a beat a little louder than what
lies between. Notes ring into each other: a string sounds until it is played again or the
chord leaves it.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple, TypeAlias

from backing.form.model import Form, PickPattern
from backing.form.patterns import read_pick
from backing.players.cues import SettingsOf
from backing.players.patterns import Steps, bar_steps, own_meter
from backing.players.strings import Shape, Strings, sounding_strings
from backing.theory.rhythm import Meter
from backing.timeline import Bar

THUMB, FINGER, ON_BEAT = 88, 70, 4
FINGERS = {"i": 3, "m": 2, "a": 1}  # each on its string

#: The patterns that need not be written; other meters follow `_made_up`.
BUILT_IN = {
    "alternating": {
        "4/4": (Fraction(1, 8), "p i p2 m p i p2 m"),
        "3/4": (Fraction(1, 8), "p - i m i m | p2 - i m i m"),
        "6/8": (Fraction(1, 8), "p i m p2 i m"),
    },
    "arpeggio": {
        "4/4": (Fraction(1, 8), "p i m i a i m i"),
        "3/4": (Fraction(1, 8), "p i m a m i"),
        "6/8": (Fraction(1, 8), "p i m a m i"),
    },
}


class Pluck(NamedTuple):
    """Fingers that play together."""

    fingers: tuple[str, ...]
    on_beat: bool

    def strike(
        self, strings: Strings, at: Fraction, shape: Shape, units_a_second: int, room: Fraction
    ) -> None:
        """Each finger's string at once; the louder finger has a string that two come to."""
        lift = ON_BEAT * self.on_beat
        for index, thumb in _played(shape, self.fingers):
            pitch = shape[index]
            assert pitch is not None
            strings.strike(index, at, pitch, (THUMB if thumb else FINGER) + lift)


#: What a mark asks for: the thumb and three fingers together.
MARKED = Pluck(("p", "i", "m", "a"), True)

#: A bar's plucks with their places from the bar line, in order.
Plucks: TypeAlias = "tuple[tuple[Fraction, Pluck], ...]"


def plucks(form: Form, settings: SettingsOf) -> Callable[[Bar], Plucks]:
    """What a bar is picked with; only for passes that pick."""

    def of_bar(bar: Bar) -> Plucks:
        pick = settings(bar.playing).pick
        assert pick is not None
        if isinstance(pick, str):
            pick = form.picks.get(pick) or built_in(pick, own_meter(form, bar))
        steps = bar_steps(pick.bars, pick.step_whole, bar, own_meter(form, bar))
        return _plucked(steps, bar.meter)

    return of_bar


@lru_cache(maxsize=64)
def built_in(name: str, meter: Meter) -> PickPattern:
    """A pattern that need not be written, in any meter."""
    step, play = BUILT_IN[name].get(str(meter)) or _made_up(name, meter)
    return PickPattern(step, read_pick(play))


def _made_up(name: str, meter: Meter) -> tuple[Fraction, str]:
    """A pattern for a meter that has none of its own, by half beats or by its unit.

    `alternating`: the thumb on each beat, by turns on its two strings, index and middle
    between; `arpeggio`: the thumb on the bar line, then up and down over the fingers.
    """
    halved = len(meter.beats) == meter.count
    step = meter.unit_whole / 2 if halved else meter.unit_whole
    tokens: list[str] = []
    for number, beat in enumerate(meter.beats):
        steps = int(beat / step)
        thumb = "p2" if number % 2 else "p"
        between = ["im"[(number if halved else index) % 2] for index in range(steps - 1)]
        tokens += [thumb, *between]
    if name == "arpeggio":
        tokens = ["p", *("imam"[index % 4] for index in range(len(tokens) - 1))]
    return step, " ".join(tokens)


@lru_cache(maxsize=256)
def _plucked(steps: Steps[tuple[str, ...]], meter: Meter) -> Plucks:
    return tuple((at, Pluck(fingers, at in meter.beat_starts)) for at, fingers in steps if fingers)


@lru_cache(maxsize=1024)
def _played(shape: Shape, fingers: tuple[str, ...]) -> tuple[tuple[int, bool], ...]:
    """The strings that fingers play in a shape, low to high, each with whether it is the thumb."""
    sounding = [index for index, _ in sounding_strings(shape)]
    played: dict[int, bool] = {}
    for finger in fingers:
        if finger in FINGERS:
            own = len(shape) - FINGERS[finger]
            index = min(sounding, key=lambda string: (abs(string - own), -string))
        else:
            index = sounding[min(len(sounding) - 1, finger == "p2")]
        played[index] = played.get(index, False) or finger not in FINGERS
    return tuple(sorted(played.items()))
