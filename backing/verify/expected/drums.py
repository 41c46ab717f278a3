"""What the drums must strike, and what a drummer may choose.

Every stroke of a written line or a built-in beat must be there, in every bar of a pass in which
the drums play; the bar of a pickup has no beat. Drums are never pushed, and go on at N.C. A
chord that stops or rings is struck where it sounds, early if it is pushed: with the first
strokes of the writer's pattern, or as the table of built-in beats says. Then the drums wait for
the next chord.

- A pass with `fill: on`, not the song's or a round's last, ends with a fill. The bar's own beat
  is there up to the fill's first stroke. A cymbal takes the place of the hi-hat or the ride on the
  next bar line.
- A crash does so in the first bar of a round, and of a section that differs from the one before:
  not at level light, nor with brushes.
- Written lines have fills and cymbals only with `fill: on`.

What a drummer may choose: where such a crash opens a round, strokes on the snare may lead into
it, in the last beat before it but for that beat's end. And how loud strokes are.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import islice, pairwise, takewhile
from typing import NamedTuple, TypeAlias

from backing.theory.built_in_beats import LEAD_IN, RIDE
from backing.theory.general_midi import STANDARD_KIT
from backing.verify.expected.beats import tempo_at
from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.drum_beats import (
    HATS,
    drums_in,
    fills,
    kit_in,
    level_of,
    may_add,
    may_crash,
    steps_in_triplets,
    struck_with_mark,
)
from backing.verify.expected.fills import fill_in, fills_on, steps_of
from backing.verify.expected.moments import Moment, mask
from backing.verify.expected.plans import PartPlan
from backing.verify.expected.records import (
    Expected,
    ExpectedTempo,
    PlayedBar,
    PlayedChord,
    PlayedRound,
)
from backing.verify.expected.tiling import swung_steps

#: The share of a beat, at its end, in which what leads into bar 1 doesn't strike.
QUIET_END = Fraction(1, 16)


class Stroke(NamedTuple):
    """A stroke of a drum, by its General MIDI number, on a kit, which is a program."""

    at_s: float
    drum: int
    kit: int = STANDARD_KIT


class FreeSpan(NamedTuple):
    """A stretch of time, in seconds, in which the drummer chooses what to strike.

    `drums` are bits, 1 << number, of a kit.
    """

    start_s: float
    end_s: float
    drums: int
    kit: int = STANDARD_KIT


class ExpectedDrums(NamedTuple):
    """What the drums must and may strike, in order.

    In `waits`, from and to a time in seconds, the drums strike once, with the chord, and wait for
    the next one.
    """

    part: str
    moments: tuple[Moment, ...] = ()
    strokes: tuple[Stroke, ...] = ()
    free: tuple[FreeSpan, ...] = ()
    waits: tuple[tuple[float, float], ...] = ()


#: A stroke at a place in quarters from the file's start, or from its bar line: the place, the
#: drum and the kit.
_Placed: TypeAlias = "tuple[float, int, int]"
#: The same with its exact distance from the bar line, in quarters, and without the kit.
_Offset: TypeAlias = "tuple[Fraction, int]"
#: From and to a place in quarters.
_Span: TypeAlias = "tuple[Fraction, Fraction]"


def expect_drums(expected: Expected, part: str, clock: Clockwork) -> ExpectedDrums:
    """Work out what the drums must and may strike in a file."""
    placed: list[_Placed] = []
    free: list[FreeSpan] = []
    waits: list[_Span] = []
    for each in expected.played:
        of_round = _Round(each, part, expected.tempos)
        placed += of_round.strokes()
        free += [
            FreeSpan(clock.seconds(start), clock.seconds(end), mask({LEAD_IN}), kit)
            for start, end, kit in of_round.free
        ]
        waits += of_round.waits
    times = clock.all_seconds(place for place, *_ in placed)
    strokes = tuple(
        Stroke(at_s, drum, kit) for at_s, (_, drum, kit) in zip(times, placed, strict=True)
    )
    return ExpectedDrums(
        part,
        tuple(_moments(strokes)),
        strokes,
        tuple(sorted(free)),
        tuple((clock.seconds(start), clock.seconds(end)) for start, end in waits),
    )


def _moments(strokes: Sequence[Stroke]) -> Iterator[Moment]:
    """The times of strokes, each with all that is struck there."""
    now, bits = 0.0, 0
    for at_s, drum, _ in strokes:
        if bits and at_s != now:
            yield Moment(now, bits)
            bits = 0
        now, bits = at_s, bits | 1 << drum
    if bits:
        yield Moment(now, bits)


class _Round:
    """A round's strokes bar by bar; `free` is filled as they are worked out, in quarters.

    `turns` are how many fills there were, large and small, and `filled` is whether the bar before
    ended with one.
    """

    def __init__(self, played: PlayedRound, part: str, tempos: Sequence[ExpectedTempo]) -> None:
        self.part = part
        self.played = played
        self.tempos = tempos
        self.bars = [bar for bar in played.bars if bar.start >= played.start]
        self.marked = [chord for chord in played.chords if chord.marks & {"stop", "ring"}]
        self.waits: list[_Span] = [(chord.struck, chord.end) for chord in self.marked]
        self.wait_ends = [end for _, end in self.waits]
        self.free: list[tuple[Fraction, Fraction, int]] = []
        self.turns = {True: 0, False: 0}
        self.filled = False

    def strokes(self) -> list[_Placed]:
        """Every stroke of the round in order."""
        placed: list[_Placed] = []
        self._lead_in()
        section = None
        for bar, after in pairwise((*self.bars, None)):
            assert bar is not None
            part = bar.plan.parts[self.part]
            if part.on:
                opens = bar.plan.section != section
                placed += self._bar(bar, part, opens, after)
            else:
                self.filled = False
            section = bar.plan.section
        for chord in self.marked:
            placed += self._with_mark(chord)
        if self.marked:
            placed.sort()
        return placed

    def _bar(
        self, bar: PlayedBar, part: PartPlan, opens: bool, after: PlayedBar | None
    ) -> list[_Placed]:
        """A bar's strokes, a cymbal and a fill among them, outside of all waits."""
        kit, level = kit_in(bar.meter, part), level_of(part)
        cymbal = self._opens_with_cymbal(bar, part, opens)
        fill = self._fill(bar, part, after)
        beat = drums_in(bar, part)
        waits = self._waits_in(bar.start, bar.end)
        start = float(bar.start)
        if not (waits or cymbal or fill):
            return [
                (start + offset, drum, kit)
                for offset, drum in zip(beat.as_floats, beat.drums, strict=True)
            ]
        strokes = list(zip(beat.offsets, beat.drums, strict=True))
        if fill:
            strokes = [stroke for stroke in strokes if stroke[0] < fill[0][0]] + fill
        if cymbal:
            strokes = _with_cymbal(strokes, fills_on(kit, level).cymbal)
        return [
            (start + float(offset), drum, kit)
            for offset, drum in sorted(strokes)
            if not any(first <= bar.start + offset < last for first, last in waits)
        ]

    def _fill(self, bar: PlayedBar, part: PartPlan, after: PlayedBar | None) -> list[_Offset]:
        """The fill that ends a bar, in quarters from its line as it sounds; none in most bars."""
        self.filled = False
        if after is None or after.plan is bar.plan or not fills(part, bar.meter):
            return []
        large = after.plan.section != bar.plan.section
        quarter_bpm = tempo_at(self.tempos, bar.start).quarter_bpm
        of_beat = steps_in_triplets(bar, part)
        steps = of_beat or steps_of(bar.meter, quarter_bpm)
        kit, level = kit_in(bar.meter, part), level_of(part)
        struck = fill_in(bar.meter, steps, kit, level, large, self.turns[large])
        self.turns[large] += 1
        self.filled = True
        swing = None if of_beat == 3 else bar.plan.swing  # a bar with triplets doesn't swing
        sounding = swung_steps(tuple(at for at, _ in struck), bar.meter, swing)
        return [(at, drum) for at, (_, drum) in zip(sounding, struck, strict=True)]

    def _opens_with_cymbal(self, bar: PlayedBar, part: PartPlan, opens: bool) -> bool:
        """Whether a cymbal opens a bar: after a fill, or with another section."""
        return (opens and may_crash(part, bar.meter)) or (self.filled and may_add(part))

    def _waits_in(self, start: Fraction, end: Fraction) -> list[_Span]:
        """The waits that are in a stretch, whole or in part."""
        if not self.waits:
            return []
        later = islice(self.waits, bisect_right(self.wait_ends, start), None)
        return list(takewhile(lambda wait: wait[0] < end, later))

    def _with_mark(self, chord: PlayedChord) -> Iterator[_Placed]:
        part = chord.plan.parts[self.part]
        if part.on:
            kit = kit_in(chord.plan.meter, part)
            for drum in sorted(struck_with_mark(chord.marks, part, kit)):
                yield float(chord.struck), drum, kit

    def _lead_in(self) -> None:
        """Leave the last beat before the round's first bar to the drummer, but for waits."""
        first = self.bars[0]
        part = first.plan.parts[self.part]
        if self.played.counted is None or not part.on or not may_crash(part, first.meter):
            return
        bar_start, meter = self.played.counted
        start = bar_start + meter.beat_starts[-1] * 4
        pieces = [(start, start + meter.beats[-1] * 4 * (1 - QUIET_END))]
        for begins, ends in self._waits_in(*pieces[0]):
            pieces = [
                piece
                for one, other in pieces
                for piece in ((one, min(other, begins)), (max(one, ends), other))
                if piece[0] < piece[1]
            ]
        self.free += [(*piece, kit_in(meter, part)) for piece in pieces]


def _with_cymbal(strokes: Sequence[_Offset], cymbal: int) -> list[_Offset]:
    """A bar's strokes with a cymbal on its line in place of the hi-hat or the ride."""
    on_line = {drum for at, drum in strokes if not at} - HATS - {RIDE}
    later = [stroke for stroke in strokes if stroke[0]]
    return [*((Fraction(0), drum) for drum in {*on_line, cymbal}), *later]
