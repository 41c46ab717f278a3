"""The strummed guitar: real strings, struck one after another, ringing until something ends them.

A chord is the writer's shape or the built-in fingering, sounded `capo` semitones up. A
downstroke runs from the low strings to the high, an upstroke back over at most the top
four. A string sounds until it is struck again, or the chord changes to one that stops
it at another fret; strings common to both chords ring on. A damped stroke lays the hand
on all strings.

A stroke takes 11 ms a string: common practice is 10-20 ms a string and 30-80 ms a
stroke (from memory; no measured source found). It never takes more than half the time
to the next step. Such small offsets lie on a grid of 1/7680 of a whole note.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple, TypeAlias

from backing.form.model import Form, StrumPattern
from backing.players.cues import SettingsOf, cues
from backing.score import Note, TempoChange
from backing.theory.chords import Chord
from backing.theory.fingerings import voiced
from backing.theory.rhythm import Meter
from backing.timeline import Bar, Timeline

#: General MIDI programs, counted from 0.
PROGRAMS = {"steel": 25, "nylon": 24, "clean": 27}
DEFAULT_SOUND = "steel"

STRING_S = Fraction(11, 1000)
DAMPED_S = Fraction(40, 1000)
GRID = 7680
UPSTROKE_STRINGS = 4

DOWN, UP, DAMPED = 84, 72, 44
ACCENT = 20
#: Each string of a stroke is a little softer than the one before it.
FADE = 2

#: Plain strums, each bar's chords struck on the beats; other meters follow `_plain`.
PLAIN = {
    "4/4": (Fraction(1, 8), "D> - D U D - D U"),
    "3/4": (Fraction(1, 8), "D> - D U D U"),
    "2/4": (Fraction(1, 8), "D> - D U"),
    "3/8": (Fraction(1, 8), "D> - U"),
}

#: The sounding pitch of each string, the low one first; None where it is muted.
Shape: TypeAlias = "tuple[int | None, ...]"


class _Stroke(NamedTuple):
    move: str
    accent: bool
    step_whole: Fraction


#: What a mark asks for: one plain downstroke.
_MARKED = _Stroke("D", False, Fraction(1, 4))

#: Strokes with their places from the bar line, in order.
_Placed: TypeAlias = "tuple[tuple[Fraction, _Stroke], ...]"


def play(timeline: Timeline, settings: SettingsOf) -> list[Note]:
    """The strums in order; each note on its string (1 the highest), one at a time on each."""
    found = cues(timeline, settings, _strokes(timeline.form, settings))
    shape_of = _shapes(timeline)
    speeds = deque(_per_grid(timeline.tempos))
    strings = _Strings(len(timeline.form.tuning), found[-1].start_whole)
    shape: Shape = ()
    for cue, following in pairwise(found):  # the last is the end, where strings end by themselves
        at = cue.start_whole
        while len(speeds) > 1 and speeds[1][0] <= at:
            speeds.popleft()
        if cue.chord is not None:
            shape = shape_of(cue.chord)
        if cue.action == "rest":
            strings.rest(at)
        elif cue.action == "change":
            strings.change(at, shape)
        else:
            stroke = cue.stroke or _MARKED
            room = min(following.start_whole - at, stroke.step_whole)
            strings.strike(at, shape, stroke, speeds[0][1], room)
    return strings.notes()


class _Strings:
    """One guitar's strings, the low one first: what is struck on each and how long it rings."""

    def __init__(self, count: int, end_whole: Fraction) -> None:
        self._end_whole = end_whole
        self._struck: list[tuple[Fraction, int, int, int]] = []  # start, pitch, velocity, string
        self._ends: list[Fraction] = []
        self._sounding: list[int | None] = [None] * count  # index into those two

    def notes(self) -> list[Note]:
        return [
            Note(start, end, pitch, velocity, string)
            for (start, pitch, velocity, string), end in zip(self._struck, self._ends, strict=True)
        ]

    def rest(self, at: Fraction) -> None:
        for index in range(len(self._sounding)):
            self._release(index, at)

    def change(self, at: Fraction, shape: Shape) -> None:
        """The hand moves: what it holds down elsewhere now, or lets go, stops."""
        for index, struck in enumerate(self._sounding):
            if struck is not None and self._struck[struck][1] != shape[index]:
                self._release(index, at)

    def strike(
        self, at: Fraction, shape: Shape, stroke: _Stroke, units: tuple[int, int], room: Fraction
    ) -> None:
        """A stroke over the shape's strings, done within half of `room`.

        `units`: the time from string to string and the length of a damped note, in grid units.
        """
        played = [(index, pitch) for index, pitch in enumerate(shape) if pitch is not None]
        velocity = {"D": DOWN, "U": UP, "x": DAMPED}[stroke.move] + (ACCENT if stroke.accent else 0)
        if stroke.move == "U":
            played = played[: -UPSTROKE_STRINGS - 1 : -1]
        elif stroke.move == "x":
            self.rest(at)
        between, damped = units
        half = room.numerator * GRID // (2 * room.denominator)
        offsets = _offsets(min(between, half // max(1, len(played) - 1)), len(played))
        for (index, pitch), offset in zip(played, offsets, strict=True):
            start = at + offset
            self._release(index, start)
            self._sounding[index] = len(self._struck)
            self._struck.append((start, pitch, velocity, len(shape) - index))
            self._ends.append(self._end_whole)
            velocity -= FADE
            if stroke.move == "x":
                self._release(index, start + Fraction(max(1, min(damped, half)), GRID))

    def _release(self, index: int, at: Fraction) -> None:
        struck = self._sounding[index]
        if struck is not None:
            self._ends[struck] = at
            self._sounding[index] = None


def _per_grid(tempos: Sequence[TempoChange]) -> Iterator[tuple[Fraction, tuple[int, int]]]:
    """From each tempo change on: grid units from string to string, and in a damped note."""
    for start, quarter_bpm in tempos:
        units_a_second = GRID * quarter_bpm / 240
        yield start, (max(1, round(STRING_S * units_a_second)), round(DAMPED_S * units_a_second))


@lru_cache(maxsize=256)
def _offsets(units: int, count: int) -> tuple[Fraction, ...]:
    return tuple(Fraction(index * units, GRID) for index in range(count))


# Which fret.


def _shapes(timeline: Timeline) -> Callable[[Chord], Shape]:
    """Each chord's sounding strings: the writer's shape first, then one that suits the song."""
    form = timeline.form
    chords = [span.chord for span in timeline.spans if span.chord is not None]
    fingerings = voiced(chords, form.tuning, form.shapes)
    return {
        chord: fingering.pitches(form.tuning, form.capo)
        for chord, fingering in dict(zip(chords, fingerings, strict=True)).items()
    }.__getitem__


# Which strokes.


def _strokes(form: Form, settings: SettingsOf) -> Callable[[Bar], _Placed]:
    def of_bar(bar: Bar) -> _Placed:
        strum = settings(bar.playing).strum
        if strum is None:
            return _plain(bar.meter)
        pattern = form.strums[strum] if isinstance(strum, str) else strum
        own_meter = bar.playing.settings.meter or form.meter
        lines = _by_bar(pattern, own_meter.bar_whole)
        return _filled(lines[bar.pattern_bar % len(lines)], bar.meter.bar_whole)

    return of_bar


@lru_cache(maxsize=256)
def _plain(meter: Meter) -> _Placed:
    """A meter's strum where none is written: down on each beat, up on its last half or third."""
    if str(meter) in PLAIN:
        step, play = PLAIN[str(meter)]
        tokens = play.split()
    else:
        # Beats of one unit are halved; beats that gather units go by the unit.
        halved = len(meter.beats) == meter.count
        step = meter.unit_whole / 2 if halved else meter.unit_whole
        tokens = []
        for beat in meter.beats:
            steps = int(beat / step)
            tokens += ["D", *["-"] * (steps - 2), "U"][:steps]
        tokens[0] += ">"
    return _placed(step, [(token[0], token.endswith(">")) for token in tokens])


@lru_cache(maxsize=256)
def _by_bar(pattern: StrumPattern, bar_whole: Fraction) -> tuple[tuple[Fraction, _Placed], ...]:
    """A pattern's bars, each with its length; one line that lasts several bars is cut at them."""
    step = pattern.step_whole
    lines = [
        (step * len(bar), _placed(step, [(stroke.move, stroke.accent) for stroke in bar]))
        for bar in pattern.bars
    ]
    length, placed = lines[0]
    if len(lines) > 1 or length == bar_whole or length % bar_whole:
        return tuple(lines)
    cuts = [index * bar_whole for index in range(int(length / bar_whole) + 1)]
    return tuple(
        (bar_whole, tuple((at - start, stroke) for at, stroke in placed if start <= at < end))
        for start, end in pairwise(cuts)
    )


@lru_cache(maxsize=256)
def _filled(line: tuple[Fraction, _Placed], bar_whole: Fraction) -> _Placed:
    """One bar of a pattern in a bar of any length: its beginning, or itself again and again."""
    length, placed = line
    return tuple(
        (again * length + at, stroke)
        for again in range(-(-bar_whole // length))
        for at, stroke in placed
        if again * length + at < bar_whole
    )


def _placed(step: Fraction, strokes: Sequence[tuple[str, bool]]) -> _Placed:
    return tuple(
        (index * step, _Stroke(move, accent, step))
        for index, (move, accent) in enumerate(strokes)
        if move != "-"
    )
