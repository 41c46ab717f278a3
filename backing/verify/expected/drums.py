"""What the drums must strike, and what a drummer may choose.

Every stroke of a written line or a built-in beat must be there, in every bar of a pass in which
the drums play; the bar of a pickup has no beat. Drums are never pushed, and go on at N.C. A
chord that stops or rings is struck where it sounds, early if it is pushed: with the first
strokes of the writer's pattern, or as the table of built-in beats says. Then the drums wait for
the next chord.

What a drummer may choose:

- A pass with `fill: on`, not the song's or a round's last, ends with a fill: over the last two
  beats of a bar of four beats or more, over the last beat of a shorter one, and of any bar at
  level light. A fill has any drums of the kit but the side stick, at least one stroke in each
  of its beats, and none in a beat's last sixteenth part. Before it, the bar's own beat must be
  there. A bar of one beat has no fill.
- In the first bar of a section, a line of the form or a round, a crash may take the place of
  the hi-hat on the bar line, or be added to it: not at level light, not with brushes, and in
  written lines only with `fill: on`.
- Where such a crash may be, strokes on the snare may lead into bar 1, or into a round, in the
  last beat before it.
- How loud strokes are.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import islice, pairwise, takewhile
from typing import NamedTuple, TypeAlias

from backing.theory.built_in_beats import CRASH, LEAD_IN
from backing.theory.rhythm import Meter
from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.drum_beats import (
    HATS,
    KIT,
    beats_to_fill,
    drums_in,
    may_add,
    struck_with_mark,
)
from backing.verify.expected.moments import Moment, mask
from backing.verify.expected.plans import PartPlan
from backing.verify.expected.records import Expected, PlayedBar, PlayedChord, PlayedRound

#: The share of a beat, at its end, in which a fill and what leads into bar 1 don't strike.
QUIET_END = Fraction(1, 16)


class Stroke(NamedTuple):
    """A stroke of a drum, by its General MIDI number. Where it isn't `needed`, it is allowed.

    A stroke on any of `instead` (bits, 1 << number) may take the place of one that is needed.
    """

    at_s: float
    drum: int
    needed: bool = True
    instead: int = 0


class FreeSpan(NamedTuple):
    """A stretch of time, in seconds, in which the drummer chooses what to strike.

    `drums` are bits, 1 << number. If it is `needed`, at least one stroke must be there.
    """

    start_s: float
    end_s: float
    drums: int
    needed: bool


class ExpectedDrums(NamedTuple):
    """What the drums must and may strike, in order.

    `moments` are those of the needed strokes. In `waits`, from and to a time in seconds, the
    drums strike once, with the chord, and wait for the next one.
    """

    part: str
    moments: tuple[Moment, ...] = ()
    strokes: tuple[Stroke, ...] = ()
    free: tuple[FreeSpan, ...] = ()
    waits: tuple[tuple[float, float], ...] = ()


#: A stroke at a place in quarters from the file's start: the place, the drum, whether it is
#: needed, and what may be struck instead.
_Placed: TypeAlias = "tuple[float, int, bool, int]"
#: The same with its distance from the bar line.
_Offset: TypeAlias = "tuple[Fraction, int, bool, int]"
#: From and to a place in quarters.
_Span: TypeAlias = "tuple[Fraction, Fraction]"


def expect_drums(expected: Expected, part: str, clock: Clockwork) -> ExpectedDrums:
    """Work out what the drums must and may strike in a file."""
    placed: list[_Placed] = []
    free: list[FreeSpan] = []
    waits: list[_Span] = []
    for each in expected.played:
        of_round = _Round(each, part)
        placed += of_round.strokes()
        free += [
            FreeSpan(clock.seconds(start), clock.seconds(end), drums, needed)
            for start, end, drums, needed in of_round.free
        ]
        waits += of_round.waits
    times = clock.all_seconds(place for place, *_ in placed)
    strokes = tuple(
        Stroke(at_s, drum, needed, instead)
        for at_s, (_, drum, needed, instead) in zip(times, placed, strict=True)
    )
    return ExpectedDrums(
        part,
        tuple(_moments(strokes)),
        strokes,
        tuple(sorted(free)),
        tuple((clock.seconds(start), clock.seconds(end)) for start, end in waits),
    )


def _moments(strokes: Sequence[Stroke]) -> Iterator[Moment]:
    """The times at which strokes are needed, each with all that may be struck there."""
    now, bits = 0.0, 0
    for at_s, drum, needed, instead in strokes:
        if not needed:
            continue
        if bits and at_s != now:
            yield Moment(now, bits)
            bits = 0
        now, bits = at_s, bits | 1 << drum | instead
    if bits:
        yield Moment(now, bits)


class _Round:
    """A round's strokes bar by bar; `free` is filled as they are worked out, in quarters."""

    def __init__(self, played: PlayedRound, part: str) -> None:
        self.part = part
        self.played = played
        self.bars = [bar for bar in played.bars if bar.start >= played.start]
        self.marked = [chord for chord in played.chords if chord.marks & {"stop", "ring"}]
        self.waits: list[_Span] = [(chord.struck, chord.end) for chord in self.marked]
        self.wait_ends = [end for _, end in self.waits]
        self.free: list[tuple[Fraction, Fraction, int, bool]] = []

    def strokes(self) -> list[_Placed]:
        """Every stroke of the round in order."""
        placed: list[_Placed] = []
        self._lead_in()
        before: PlayedBar | None = None
        for bar, after in pairwise((*self.bars, None)):
            assert bar is not None
            if bar.plan.parts[self.part].on:
                ends_pass = after is not None and after.plan is not bar.plan
                placed += self._bar(bar, before, ends_pass)
            before = bar
        for chord in self.marked:
            placed += self._with_mark(chord)
        if self.marked:
            placed.sort()
        return placed

    def _bar(self, bar: PlayedBar, before: PlayedBar | None, ends_pass: bool) -> list[_Placed]:
        """A bar's strokes up to its fill, if it has one, outside of all waits."""
        part = bar.plan.parts[self.part]
        beat = drums_in(bar, part)
        start, waits = float(bar.start), self._waits_in(bar.start, bar.end)
        until = self._fill(bar, part) if ends_pass else None
        crash = _opens(bar, before) and may_add(part, bar.meter)
        if not (waits or crash or until):
            return [
                (start + offset, drum, True, 0)
                for offset, drum in zip(beat.as_floats, beat.drums, strict=True)
            ]
        strokes = [(at, drum, True, 0) for at, drum in zip(beat.offsets, beat.drums, strict=True)]
        if crash:
            strokes = _with_crash(strokes)
        return [
            (start + float(offset), drum, needed, instead)
            for offset, drum, needed, instead in strokes
            if (until is None or offset < until)
            and not any(first <= bar.start + offset < last for first, last in waits)
        ]

    def _fill(self, bar: PlayedBar, part: PartPlan) -> Fraction | None:
        """Leave a bar's last beats to a fill; how far into the bar, in quarters, it may start."""
        count, beats = beats_to_fill(part, bar.meter), len(bar.meter.beats)
        for beat in range(beats - count, beats):
            self._choose(bar.start, bar.meter, beat, KIT, needed=True)
        return bar.meter.beat_starts[-count] * 4 if count else None

    def _waits_in(self, start: Fraction, end: Fraction) -> list[_Span]:
        """The waits that are in a stretch, whole or in part."""
        if not self.waits:
            return []
        later = islice(self.waits, bisect_right(self.wait_ends, start), None)
        return list(takewhile(lambda wait: wait[0] < end, later))

    def _with_mark(self, chord: PlayedChord) -> Iterator[_Placed]:
        part = chord.plan.parts[self.part]
        if part.on:
            for drum in sorted(struck_with_mark(chord.marks, part)):
                yield float(chord.struck), drum, True, 0

    def _lead_in(self) -> None:
        """Leave the last beat before the round's first bar to the drummer."""
        first = self.bars[0]
        part = first.plan.parts[self.part]
        if self.played.counted is not None and part.on and may_add(part, first.meter):
            start, meter = self.played.counted
            self._choose(start, meter, len(meter.beats) - 1, {LEAD_IN}, needed=False)

    def _choose(
        self, bar_start: Fraction, meter: Meter, beat: int, drums: set[int] | frozenset[int],
        needed: bool,
    ) -> None:  # fmt: skip
        """Leave a beat to the drummer, where no chord has stopped or rings."""
        start = bar_start + meter.beat_starts[beat] * 4
        end = start + meter.beats[beat] * 4 * (1 - QUIET_END)
        pieces = [(start, end)]
        for first, last in self._waits_in(start, end):
            pieces = [
                piece
                for one, other in pieces
                for piece in ((one, min(other, first)), (max(one, last), other))
                if piece[0] < piece[1]
            ]
        whole = pieces == [(start, end)]
        self.free += [(*piece, mask(drums), needed and whole) for piece in pieces]


def _with_crash(strokes: Sequence[_Offset]) -> list[_Offset]:
    """A bar's strokes where a crash may come on its line, or take the hi-hat's place there."""
    on_line = {drum for at, drum, *_ in strokes if not at}
    changed = [
        (at, drum, needed, 0 if at or drum not in HATS else 1 << CRASH)
        for at, drum, needed, _ in strokes
    ]
    crash = (Fraction(0), CRASH, False, 0)
    return changed if CRASH in on_line else [crash, *changed]


def _opens(bar: PlayedBar, before: PlayedBar | None) -> bool:
    """Whether a bar is the first of a round, a section or a line of the form."""
    if before is None or before.plan is bar.plan:
        return before is None
    return (before.plan.section, before.plan.entry) != (bar.plan.section, bar.plan.entry)
