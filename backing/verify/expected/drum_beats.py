"""What the drums strike in one bar: a built-in beat from its table, or the writer's own lines.

Offsets are quarters from the bar line, as they sound: swung where the pass swings.

A built-in beat plays where its row lists the bar's meter. In another meter the plain beat of
that meter takes its place: the first plain one that lists it, or else a hi-hat on every unit
(twice on each where the unit is the beat, as in 3/2) over kick and snare by `GROUPS`. A light
beat on the standard kit has the side stick for the snare and the hi-hat's foot for an open
hi-hat, and leaves out soft snare strokes and kicks without an accent. A full one opens the bar's
last closed hi-hat, unless that is the one on the bar line.

A pass's bars go in phrases of four, and those of a pass of fewer bars as the song numbers them.
The second and the fourth bar of a phrase have lines of their own for some drums; where no
built-in beat fits, the foot or, with a soft stroke below, an open hi-hat in place of the last one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple, TypeAlias

from backing.form.pattern_records import DrumPattern
from backing.theory.built_in_beats import (
    BEATS,
    BRUSH_STOP,
    DRUMS,
    EVEN_THREE,
    FOOT,
    FOURTH,
    GROUPS,
    HAT,
    LAST_OF_FOURTH,
    LAST_OF_SECOND,
    LIGHT_STOP,
    OPEN_HAT,
    PHRASE,
    PLAIN_BEATS,
    RIM,
    RING,
    SECOND,
    SOFT_RING,
    STOP,
    UNEVEN_THREE,
    Beat,
)
from backing.theory.general_midi import BRUSH_KIT, STANDARD_KIT
from backing.theory.rhythm import Meter
from backing.verify.expected.plans import PartPlan, Swing
from backing.verify.expected.records import PlayedBar
from backing.verify.expected.tiling import Steps, steps_in, swung_steps

#: The hi-hat in all its sounds.
HATS = frozenset((HAT, OPEN_HAT, FOOT))

LIGHT, FULL = "light", "full"

#: Where a drum is struck, in whole notes from the bar line as written, and which one.
Stroke: TypeAlias = "tuple[Fraction, int]"
#: The same for a line of a built-in beat and its mark: `X`, `x` or `o`.
Mark: TypeAlias = "tuple[Fraction, str, str]"


_EIGHTH, _QUARTER = Fraction(1, 8), Fraction(1, 4)


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
    phrased = bar.pattern_bar if len(bar.plan.bars) >= PHRASE else bar.number - 1
    return _built_in(beat, bar.meter, level_of(part), bar.plan.swing, phrased % PHRASE)


def kit_in(meter: Meter, part: PartPlan) -> int:
    """The kit on which a part's beat is played in a meter."""
    beat = part.values.get("beat")
    chosen = None if isinstance(beat, DrumPattern) else _chosen(beat, meter)
    return STANDARD_KIT if chosen is None else chosen.kit


def struck_with_mark(marks: Iterable[str], part: PartPlan, kit: int) -> frozenset[int]:
    """What is struck once, on a kit, with a chord that stops or rings."""
    beat, light = part.values.get("beat"), level_of(part) == LIGHT
    if isinstance(beat, DrumPattern):
        return frozenset(pitch for pitch, bars in beat.lines if bars[0][0])
    brushed = kit == BRUSH_KIT
    if "stop" in marks:
        return frozenset(BRUSH_STOP if brushed else LIGHT_STOP if light else STOP)
    return frozenset(SOFT_RING if light or brushed else RING)


def may_add(part: PartPlan) -> bool:
    """Whether a drummer may add a cymbal: to written lines only if `fill` is on."""
    beat = part.values.get("beat")
    return not isinstance(beat, DrumPattern) or bool(part.values.get("fill"))


def may_crash(part: PartPlan, meter: Meter) -> bool:
    """Whether a drummer crashes into a section and leads into bar 1: not lightly, nor brushed."""
    return level_of(part) != LIGHT and may_add(part) and kit_in(meter, part) == STANDARD_KIT


def fills(part: PartPlan, meter: Meter) -> bool:
    """Whether a pass that another one follows ends with a fill."""
    return bool(part.values.get("fill")) and len(meter.beats) > 1


def steps_in_triplets(bar: PlayedBar, part: PartPlan) -> int:
    """How many steps a beat of one unit has in a fill by the beat alone; 0 if tempo decides.

    Three where the beat plays triplets; two where it swings its eighths as the form says.
    """
    beat = part.values.get("beat")
    if isinstance(beat, DrumPattern):
        return 0 if beat.step_whole.denominator % 3 else 3
    chosen = _chosen(beat, bar.meter)
    if chosen is None:
        return 0
    if chosen.swings:
        return 3 if _is_straight(bar.plan.swing) else 2
    return 0 if chosen.step_whole.denominator % 3 else 3


def _is_straight(swing: Swing | None) -> bool:
    """Whether eighths don't swing."""
    return swing is None or swing.level_whole != _EIGHTH


def level_of(part: PartPlan) -> str | None:
    """How full a part's beat is, None where nothing is written."""
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
def _built_in(
    name: str | None, meter: Meter, level: str | None, swing: Swing | None, place: int
) -> BarOfDrums:
    """A built-in beat, or the one that takes its place, at a level and a place in its phrase."""
    chosen = _chosen(name, meter)
    every = sorted(_marks_in(name, meter, place))
    if chosen is not None and chosen.swings and _is_straight(swing):
        every = list(_in_triplets(every))
    if level == LIGHT and (chosen is None or chosen.kit == STANDARD_KIT):
        left_out = {("kick", "x"), ("snare", "o")}
        instead = {"snare": RIM, "open": FOOT}
        struck = [
            (at, instead.get(voice, DRUMS[voice]))
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


def _in_triplets(marks: Iterable[Mark]) -> Iterator[Mark]:
    """Without swing, the second eighth of a beat is the third of its triplet."""
    for at, voice, mark in marks:
        yield at + _EIGHTH / 3 if at % _QUARTER else at, voice, mark


def _as_it_sounds(struck: Iterable[Stroke], meter: Meter, swing: Swing | None) -> BarOfDrums:
    """Strokes as written to strokes in order as they sound, each drum once at a place."""
    once = sorted(set(struck))
    offsets = swung_steps(tuple(at for at, _ in once), meter, swing)
    return BarOfDrums(offsets, tuple(map(float, offsets)), tuple(drum for _, drum in once))


def _chosen(name: str | None, meter: Meter) -> Beat | None:
    """The row of the table that plays in a meter, if there is one."""
    fitting = {beat.name: beat for beat in BEATS if str(meter) in beat.meters}
    return next((fitting[each] for each in (name, *PLAIN_BEATS) if each in fitting), None)


def _marks_in(name: str | None, meter: Meter, place: int) -> Iterator[Mark]:
    """The strokes of the beat that plays in a meter, at a place in its phrase."""
    chosen = _chosen(name, meter)
    if chosen is None:
        yield from _made_for(meter, place)
        return
    changed = chosen.second if place == SECOND else chosen.fourth if place == FOURTH else ()
    other = {voice for voice, _ in changed}
    for voice, line in (*changed, *(line for line in chosen.lines if line[0] not in other)):
        for index in range(-(-meter.bar_whole // chosen.step_whole)):
            mark = line[index % len(line)]
            if mark != "-":
                yield index * chosen.step_whole, voice, mark


def _made_for(meter: Meter, place: int) -> Iterator[Mark]:
    """The beat of a meter that no built-in one fits: a hi-hat throughout, kick and snare below."""
    unit_is_beat = len(meter.beats) == meter.count and meter.unit < 8
    step = Fraction(1, meter.unit * (2 if unit_is_beat else 1))
    last = meter.bar_whole - step
    on_last = {SECOND: LAST_OF_SECOND, FOURTH: LAST_OF_FOURTH}.get(place, "hat")
    yield last, on_last, "x"
    for index in range(int(last / step)):
        yield index * step, "hat", "x"
    below = {(at, voice): mark for at, voice, mark in _kick_and_snare(meter)}
    if place == FOURTH:
        # A soft snare; where there is a louder one, a soft kick.
        below.setdefault((last, "kick" if (last, "snare") in below else "snare"), "o")
    yield from ((at, voice, mark) for (at, voice), mark in below.items())


def _kick_and_snare(meter: Meter) -> Iterator[Mark]:
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
