"""Strumming: an arm that swings, and a pick that meets real strings one after another.

A chord's first downstroke in each bar runs from the low strings to the high ones and leans on the
low: each string is a little softer than the one before. Other downstrokes have at most the top
four, alike, and not the chord's bass string; an upstroke runs back over those. The thumb (p, p2)
plucks the bass string or the next one alone. A stroke with a dot is stopped halfway to the next,
in `chord_cues`. A damped stroke lays the hand on all strings, sounds the first four that it meets,
muted, and goes as the arm goes: down on a beat and on every second step after it, up between.
Strokes on a beat, where the arm falls, are a little louder than the others.

A stroke takes 11 to 16 ms a string, the louder the faster: common practice is 10-20 ms a
string and 30-80 ms a stroke (from memory; no measured figure found). That softer strokes
take longer was measured by Câmara et al., "Sound-producing actions in guitar performance
of groove-based microrhythm", Empirical Musicology Review (2024). A stroke never takes
more than a third of the time to its neighbors. How it lies around its place, and how strokes
vary, is in `arm`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple, TypeAlias

from backing.form.model import Form
from backing.form.pattern_records import Stroke as Written
from backing.form.pattern_records import StrumPattern
from backing.form.patterns import read_strum
from backing.players.part_settings import SettingsOf
from backing.players.pick import Pluck
from backing.players.strings import GRID, Shape, Strings, sounding_strings
from backing.players.tiling import Placed, bar_steps, own_meter, repeated
from backing.score import Sweep
from backing.theory.rhythm import Meter
from backing.theory.steps import Steps
from backing.theory.strums import ENDS_BEAT, INSIDE_BEAT, OPENS_BAR, OPENS_BEAT, STRUMS
from backing.timeline import Bar

#: Milliseconds from string to string, for the loudest stroke and for the softest.
FASTEST_MS, SLOWEST_MS = 11, 16
DAMPED_MS = 90
UPPER_STRINGS = DAMPED_STRINGS = 4
#: The longest that a player may take over a stroke (common practice, from memory).
MOST_MS = 80

#: The muted guitar's sound is softer than that of strings that ring.
DOWN, UP, DAMPED = 80, 70, 62
SOFTEST = 42
ACCENT, ON_BEAT = 20, 4
#: By how much each string of a stroke is softer than the one before it.
FADE = {"D": 5, "weak": 0, "U": 2, "x": 1}


class Stroke(NamedTuple):
    """One stroke of the arm; a damped one (`x`) may run `upward`.

    A `full` downstroke has all strings. A `free` stroke may leave outer strings out. Before a
    `fresh` one all strings are silent.
    """

    move: str
    velocity: int
    step_whole: Fraction
    upward: bool = False
    short: bool = False
    full: bool = True
    free: bool = False
    fresh: bool = False

    def strike(
        self, strings: Strings, at: Fraction, shape: Shape, units_a_second: int, room: Fraction
    ) -> None:
        """The shape's strings at one place, each with its sweep, within a third of `room` and of
        its own step."""
        velocity, step = self.velocity, self.step_whole
        is_damped = self.move == "x"
        if is_damped:
            strings.rest(at)
        played = self._strings(shape)
        most = min(_share(room, 3), _share(step, 3))
        between = min(
            max(1, _string_us(velocity) * units_a_second // 1_000_000),
            most // max(1, len(played) - 1),
        )
        takes = between * (len(played) - 1)
        longest = Fraction(max(takes, min(most, MOST_MS * units_a_second // 1000)), GRID)
        half = min(_share(room, 2), _share(step, 2))
        damped = Fraction(max(1, min(DAMPED_MS * units_a_second // 1000, half)), GRID)
        fade = FADE["weak" if self.move == "D" and not self.full else self.move]
        for (index, pitch), offset in zip(played, _offsets(between, len(played)), strict=True):
            sweep = Sweep(offset, longest, self.free, self.fresh)
            strings.strike(index, at, pitch, velocity, is_damped, sweep)
            velocity -= fade
            if is_damped:
                strings.end(index, at + damped)

    def _strings(self, shape: Shape) -> Sequence[tuple[int, int]]:
        """The strings that it meets, in order, each with its pitch."""
        sounding = sounding_strings(shape)
        if self.move == "U" or (self.move == "D" and not self.full):
            sounding = sounding[-min(UPPER_STRINGS, max(2, len(sounding) - 1)) :]
        if self.upward:
            sounding = sounding[::-1]
        return sounding[:DAMPED_STRINGS] if self.move == "x" else sounding


class Thumb(NamedTuple):
    """The thumb on one string: `p` the chord's bass string, `p2` the next one."""

    move: str
    on_beat: bool
    short: bool = False

    def strike(
        self, strings: Strings, at: Fraction, shape: Shape, units_a_second: int, room: Fraction
    ) -> None:
        """As in a picked pattern."""
        Pluck((self.move,), self.on_beat).strike(strings, at, shape, units_a_second, room)


#: How a chord with a mark is struck: one plain downstroke.
MARKED = Stroke("D", DOWN + ON_BEAT, Fraction(1, 4))

#: A bar's strokes with their places from the bar line, in order.
Strokes: TypeAlias = "tuple[tuple[Fraction, Stroke | Thumb], ...]"


def strokes(form: Form, settings: SettingsOf) -> Callable[[Bar], Strokes]:
    """How a bar is strummed: its own pattern or, where the form gives none, a plain one."""

    def of_bar(bar: Bar) -> Strokes:
        strum = settings(bar.playing).strum
        if strum is None:
            return _plain(bar.meter)
        pattern = form.strums[strum] if isinstance(strum, str) else strum
        return _pattern(pattern, bar, form)

    return of_bar


def _pattern(pattern: StrumPattern, bar: Bar, form: Form) -> Strokes:
    steps = bar_steps(pattern.bars, pattern.step_whole, bar, own_meter(form, bar))
    return _struck(steps, pattern.step_whole, bar.meter)


@lru_cache(maxsize=256)
def _plain(meter: Meter) -> Strokes:
    """A meter's strum where the form gives none."""
    step_whole, play = STRUMS.get(str(meter)) or _made_for(meter)
    (line,) = read_strum(play)
    return _struck(repeated(line, step_whole, meter.bar_whole), step_whole, meter)


def _made_for(meter: Meter) -> Steps:
    """Down on each beat, up on its last half or third.

    Beats of one unit are halved; beats that gather units go by the unit.
    """
    halved = len(meter.beats) == meter.count
    step_whole = meter.unit_whole / 2 if halved else meter.unit_whole
    tokens: list[str] = []
    for beat in meter.beats:
        steps = int(beat / step_whole)
        opening = OPENS_BEAT if tokens else OPENS_BAR
        tokens += [opening, *[INSIDE_BEAT] * (steps - 2), ENDS_BEAT][:steps]
    return Steps(step_whole, " ".join(tokens))


@lru_cache(maxsize=256)
def _struck(steps: Placed[Written], step_whole: Fraction, meter: Meter) -> Strokes:
    """A bar's steps as strokes: how loud each is, and which way a damped one goes."""
    found: list[tuple[Fraction, Stroke | Thumb]] = []
    for at, (move, accent, short) in steps:
        if move == "-":
            continue
        if move in ("p", "p2"):
            found.append((at, Thumb(move, at in meter.beat_starts, short)))
            continue
        since_beat = at - meter.beat_starts[bisect_right(meter.beat_starts, at) - 1]
        velocity = {"D": DOWN, "U": UP, "x": DAMPED}[move]
        velocity += ACCENT * accent + ON_BEAT * (since_beat == 0)
        upward = move == "U" or (move == "x" and since_beat // step_whole % 2 == 1)
        found.append((at, Stroke(move, velocity, step_whole, upward, short)))
    return tuple(found)


def _share(length: Fraction, parts: int) -> int:
    """One of so many equal parts of a length, in units of the grid."""
    return length.numerator * GRID // (parts * length.denominator)


@lru_cache(maxsize=128)
def _string_us(velocity: int) -> int:
    """Microseconds from string to string: evenly from the softest stroke to the loudest."""
    loudest = DOWN + ACCENT + ON_BEAT
    share = Fraction(velocity - SOFTEST, loudest - SOFTEST)
    return round(1000 * (SLOWEST_MS - share * (SLOWEST_MS - FASTEST_MS)))


@lru_cache(maxsize=256)
def _offsets(units: int, count: int) -> Sequence[Fraction]:
    return tuple(Fraction(index * units, GRID) for index in range(count))
