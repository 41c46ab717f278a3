"""What the drums strike in one bar: a built-in beat from its table, or the writer's own lines.

Offsets are quarters from the bar line, as they sound: swung where the pass swings.

A built-in beat plays where its row lists the bar's meter. In another meter the plain beat of
that meter takes its place: the first plain one that lists it, or else a hi-hat on every unit
(twice on each where the unit is the beat, as in 3/2) over kick and snare by `GROUPS`. A light
beat has the side stick for the snare, and leaves out soft snare strokes and kicks without an
accent. A full one opens the bar's last closed hi-hat, unless that is the one on the bar line.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple, TypeAlias

from backing.form.pattern_records import DrumPattern
from backing.theory.built_in_beats import (
    BEATS,
    CRASH,
    DRUMS,
    EVEN_THREE,
    FOOT,
    GROUPS,
    HAT,
    LIGHT_STOP,
    OPEN_HAT,
    PLAIN_BEATS,
    RIDE,
    RIM,
    RING,
    SOFT_RING,
    STOP,
    TOMS,
    UNEVEN_THREE,
)
from backing.theory.rhythm import Meter
from backing.verify.expected.plans import PartPlan, Swing
from backing.verify.expected.records import PlayedBar
from backing.verify.expected.tiling import Steps, steps_in, swung_steps

#: The hi-hat in all its sounds, and the drums of a kit that a fill may have.
HATS = frozenset((HAT, OPEN_HAT, FOOT))
KIT = frozenset((*DRUMS.values(), *HATS, RIDE, CRASH, *TOMS))

BRUSHES, LIGHT, FULL = "brushes", "light", "full"

#: Where a drum is struck, in whole notes from the bar line as written, and which one.
Stroke: TypeAlias = "tuple[Fraction, int]"
#: The same for a line of a built-in beat and its mark: `X`, `x` or `o`.
Mark: TypeAlias = "tuple[Fraction, str, str]"


class BarOfDrums(NamedTuple):
    """A bar's strokes in order: offsets, the same as floats, and which drum each is."""

    offsets: tuple[Fraction, ...]
    as_floats: tuple[float, ...]
    drums: tuple[int, ...]


def drums_in(bar: PlayedBar, part: PartPlan) -> BarOfDrums:
    """What a bar's beat strikes, without fills and crashes, as if no chord had a mark."""
    beat = part.values.get("beat")
    if isinstance(beat, DrumPattern):
        lines = tuple((pitch, steps_in(bars, beat.step_whole, bar)) for pitch, bars in beat.lines)
        return _written(lines, bar.meter, bar.plan.swing)
    return _built_in(beat, bar.meter, _level(part), bar.plan.swing)


def struck_with_mark(marks: Iterable[str], part: PartPlan) -> frozenset[int]:
    """What is struck once with a chord that stops or rings."""
    beat, light = part.values.get("beat"), _level(part) == LIGHT
    if isinstance(beat, DrumPattern):
        return frozenset(pitch for pitch, bars in beat.lines if bars[0][0])
    if "stop" in marks:
        return frozenset(LIGHT_STOP if light else STOP)
    return frozenset(SOFT_RING if light or beat == BRUSHES else RING)


def may_add(part: PartPlan, meter: Meter) -> bool:
    """Whether a drummer may add a crash and lead into bar 1: not lightly, nor with brushes.

    Written lines are played as they are written unless `fill` is on.
    """
    beat = part.values.get("beat")
    if _level(part) == LIGHT:
        return False
    if isinstance(beat, DrumPattern):
        return bool(part.values.get("fill"))
    return beat != BRUSHES or not _has_brushes(meter)


def beats_to_fill(part: PartPlan, meter: Meter) -> int:
    """How many of a bar's last beats a fill may take, 0 where there is none."""
    count = len(meter.beats)
    if not part.values.get("fill") or count == 1:
        return 0
    return 2 if count >= 4 and _level(part) != LIGHT else 1


def _has_brushes(meter: Meter) -> bool:
    return any(beat.name == BRUSHES and str(meter) in beat.meters for beat in BEATS)


def _level(part: PartPlan) -> str | None:
    level: str | None = part.values.get("level")
    return level


@lru_cache(maxsize=1024)
def _written(
    lines: tuple[tuple[int, Steps[int]], ...], meter: Meter, swing: Swing | None
) -> BarOfDrums:
    """The writer's lines, each a drum and what it has at each step."""
    struck = [(at, pitch) for pitch, steps in lines for at, stroke in steps if stroke]
    return _as_it_sounds(struck, meter, swing)


@lru_cache(maxsize=1024)
def _built_in(name: str | None, meter: Meter, level: str | None, swing: Swing | None) -> BarOfDrums:
    """A built-in beat, or the one that takes its place, at a level."""
    every = sorted(_marks_in(name, meter))
    if level == LIGHT:
        left_out = {("kick", "x"), ("snare", "o")}
        struck = [
            (at, RIM if voice == "snare" else DRUMS[voice])
            for at, voice, mark in every
            if (voice, mark) not in left_out
        ]
    else:
        struck = [(at, DRUMS[voice]) for at, voice, _ in every]
    if level == FULL:
        last = max((at for at, drum in struck if drum == HAT), default=None)
        if last:
            struck[struck.index((last, HAT))] = (last, OPEN_HAT)
    return _as_it_sounds(struck, meter, swing)


def _as_it_sounds(struck: Iterable[Stroke], meter: Meter, swing: Swing | None) -> BarOfDrums:
    """Strokes as written to strokes in order as they sound, each drum once at a place."""
    once = sorted(set(struck))
    offsets = swung_steps(tuple(at for at, _ in once), meter, swing)
    return BarOfDrums(offsets, tuple(map(float, offsets)), tuple(drum for _, drum in once))


def _marks_in(name: str | None, meter: Meter) -> Iterator[Mark]:
    """The strokes of the beat that plays in a meter."""
    fitting = {beat.name: beat for beat in BEATS if str(meter) in beat.meters}
    chosen = next((fitting[each] for each in (name, *PLAIN_BEATS) if each in fitting), None)
    if chosen is None:
        yield from _made_for(meter)
        return
    for voice, line in chosen.lines:
        for index in range(-(-meter.bar_whole // chosen.step_whole)):
            mark = line[index % len(line)]
            if mark != "-":
                yield index * chosen.step_whole, voice, mark


def _made_for(meter: Meter) -> Iterator[Mark]:
    """The beat of a meter that no built-in one fits: a hi-hat throughout, kick and snare below."""
    unit_is_beat = len(meter.beats) == meter.count and meter.unit < 8
    step = Fraction(1, meter.unit * (2 if unit_is_beat else 1))
    for index in range(int(meter.bar_whole / step)):
        yield index * step, "hat", "x"
    start = Fraction(0)
    for beat, letter in zip(meter.beats, _by_group(meter), strict=True):
        if letter != "-":
            # None of these is soft: `s` is a plain stroke.
            voice = "kick" if letter == "K" else "snare"
            yield start, voice, "x" if letter == "s" else "X"
        start += beat


def _by_group(meter: Meter) -> str:
    """What is struck with each beat of a bar, in the letters of the table."""
    count = len(meter.beats)
    even = len(set(meter.beats)) == 1
    groups_of_beats = meter.groups if count == meter.count else ()
    if count == 3 and not even:
        return UNEVEN_THREE
    if count == 3 and (meter.unit > 4 or not meter.groups):
        return EVEN_THREE
    if not groups_of_beats:
        # Twos, an odd number of beats ending with a three, but five beats starting with it.
        three = (3,) if count % 2 and count > 1 else ()
        twos = (2,) * ((count - sum(three)) // 2)
        groups_of_beats = (1,) if count == 1 else (*three, *twos) if count == 5 else (*twos, *three)
    return "".join(
        GROUPS[size] if size in GROUPS else (GROUPS[2] * size)[:size] for size in groups_of_beats
    )
