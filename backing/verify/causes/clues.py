"""Evidence of how a file as a whole fits a song: onsets found against moments expected.

A moment is met if something starts there that it allows. Some moments are met by chance, in
any file: a strum of C major by most chords in C. So each has a weight: the logarithm of how
much likelier it is met in the right file than at an onset chosen at random. The sum of the
weights (`Line.all`) compares explanations of different files and places alike.

Onsets are kept in slots of `width_s`, and a moment looks into its slot and the two beside it.
Work is bounded: of a long song's moments a sample is taken.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import accumulate
from math import inf, log
from typing import NamedTuple, TypeAlias

from backing.theory.instruments import GUITAR, Instrument
from backing.verify.comparison.leeway import Leeway
from backing.verify.expected.moments import ANY, Moment
from backing.verify.expected.records import Expected
from backing.verify.readers.measured import Measured
from backing.verify.readers.voices import Notes, Voice

#: The parts that sound on the percussion channel.
UNPITCHED = frozenset({"click", "drums"})
#: How many pitched and percussion moments are used at most.
MOST_PITCHED, MOST_UNPITCHED = 2000, 1200
#: The share of moments that the right file meets.
RIGHT = 0.97
#: How rare or common a moment's notes can be, as a share of a file's onsets.
RAREST, COMMONEST = 0.04, 0.9
#: Of more onsets each counts as a stroke: no song has so many.
MOST_SORTED = 200_000
#: Onsets that tell how common a moment's notes are.
CHANCE_ONSETS = 250
#: Seconds on top of the tolerance: strings of one stroke don't start together.
SLACK_S = 0.004
LEAST_WIDTH_S = 0.014
#: The strings of one stroke start within this time.
STROKE_S = 0.09


class Warp(NamedTuple):
    """Where expected times are found: at `scale` times the time, plus `shift_s`."""

    scale: float = 1.0
    shift_s: float = 0.0


SAME = Warp()


class Onsets(NamedTuple):
    """What starts when: pitch bits and the first start in seconds, by slot.

    `near` has the bits of a slot and the two beside it.
    """

    bits: dict[int, int]
    first: dict[int, float]
    near: dict[int, int]


class Clue(NamedTuple):
    """A moment with its weights: `met` (above 0) if the file meets it, `missed` (below 0) if not.

    `chance` is the probability that an onset chosen at random meets it.
    """

    at_s: float
    pitches: int
    pitched: bool
    met: float
    missed: float
    chance: float
    part: str


#: What is needed of a clue to look it up: its time in slots, its pitches, where its onsets are
#: found, and its two weights. There are thousands, each looked up a hundred times.
Row: TypeAlias = "tuple[float, int, Callable[[int, int], int], float, float]"


class Line(NamedTuple):
    """The weights of all clues under one explanation, and their running sum from 0."""

    weights: Sequence[float]
    sums: Sequence[float]

    @property
    def all(self) -> float:
        """The evidence of the whole song."""
        return self.sums[-1]

    def met(self, first: int = 0, end: int | None = None) -> float:
        """The share of the clues from `first` up to `end` that are met; 1 if there are none."""
        part = self.weights[first:end]
        return sum(weight > 0 for weight in part) / len(part) if part else 1.0


class Bars(NamedTuple):
    """The song's bars, count-in included: starts in seconds, numbers, and the first clue of each.

    A bar that only counts has the number of the next bar that is played. Each list but
    `numbers` has one item more, for the end.
    """

    starts: Sequence[float]
    numbers: Sequence[int]
    clues: Sequence[int]
    last: int
    """The number of the last bar."""


class Case(NamedTuple):
    """All that is known of a file and its song."""

    clues: Sequence[Clue]
    rows: Sequence[Row]
    bars: Bars
    pitched: Onsets
    unpitched: Onsets
    voices: Sequence[Onsets]
    """The pitched ones, each voice with notes."""
    width_s: float
    moments: Mapping[str, Sequence[Moment]]
    instrument: Instrument = GUITAR

    @property
    def last_s(self) -> float:
        """When the last note of the file starts."""
        every = [max(pool.first.values()) for pool in (self.pitched, self.unpitched) if pool.first]
        return max(every, default=0.0)

    def line(self, warp: Warp = SAME) -> Line:
        """The weights of all clues if they are found at `warp`."""
        return line_of(self.weights(self.rows, warp))

    def against(self, warp: Warp) -> list[float]:
        """For each clue -1 where the file also has pitches that no part may play then, else 0."""
        rows = [
            (slot, ANY & ~allowed if clue.pitched else 0, there, -1.0, 0.0)
            for clue, (slot, _, there, _, _), allowed in zip(
                self.clues, self.rows, _allowed(self.clues), strict=True
            )
        ]
        return self.weights(rows, warp)

    def higher(self, up: int) -> Case:
        """The same file with a song that sounds `up` semitones higher."""
        return self._replace(
            rows=[
                (slot, turned(pitches, up), there, met, missed)
                if clue.pitched
                else (slot, pitches, there, met, missed)
                for clue, (slot, pitches, there, met, missed) in zip(
                    self.clues, self.rows, strict=True
                )
            ]
        )

    def weights(self, rows: Iterable[Row], warp: Warp) -> list[float]:
        """The weights of some clues that are found at `warp`."""
        scale, shift = warp.scale, warp.shift_s / self.width_s
        return [
            met if there(int(slot * scale + shift), 0) & pitches else missed
            for slot, pitches, there, met, missed in rows
        ]

    def used(self, weights: Sequence[float]) -> float:
        """The share of the file's pitched strokes that meet a moment, roughly."""
        met = {
            round(clue.at_s / STROKE_S)
            for clue, weight in zip(self.clues, weights, strict=True)
            if clue.pitched and weight > 0
        }
        every = sum(clue.pitched for clue in self.clues)
        wanted = sum(len(of) for name, of in self.moments.items() if name not in UNPITCHED)
        found = strokes(self.pitched, self.width_s)
        return min(1.0, len(met) * max(1.0, wanted / max(1, every)) / max(1, found))

    def agreement(self, weights: Sequence[float]) -> float:
        """The share of the pitched evidence that is met; 0 is what chance gives, and 1 is all."""
        got = total = by_chance = 0.0
        for clue, weight in zip(self.clues, weights, strict=True):
            if clue.pitched:
                total += clue.met
                got += clue.met * (weight > 0)
                by_chance += clue.met * clue.chance
        return (got - by_chance) / (total - by_chance) if total > by_chance else 0.0


def _allowed(clues: Sequence[Clue]) -> list[int]:
    """For each clue all pitches that pitched clues at the same time allow."""
    at: dict[int, int] = {}
    for clue in clues:
        if clue.pitched:
            for place in (-1, 0, 1):
                slot = round(clue.at_s / STROKE_S) + place
                at[slot] = at.get(slot, 0) | clue.pitches
    return [at.get(round(clue.at_s / STROKE_S), 0) for clue in clues]


def strokes(onsets: Onsets, width_s: float) -> int:
    """How many strokes onsets make, the strings of one together."""
    if len(onsets.bits) > MOST_SORTED:
        return len(onsets.bits)
    count, first, most = 0, -inf, STROKE_S / width_s
    for slot in sorted(onsets.bits):
        if slot - first > most:
            count, first = count + 1, slot
    return count


def line_of(weights: Sequence[float]) -> Line:
    """Weights with their sums."""
    return Line(weights, [0.0, *accumulate(weights)])


def turned(pitches: int, up: int) -> int:
    """Pitch classes as bits, each `up` semitones (0 to 12) higher."""
    return (pitches << up | pitches >> (12 - up)) & ANY


def case_of(
    expected: Expected, moments: Mapping[str, Sequence[Moment]], account: Measured, leeway: Leeway
) -> Case:
    """Gather a file's onsets and weigh the song's moments."""
    end_s = float(expected.count_in_s + expected.seconds)
    width_s = max(LEAST_WIDTH_S, leeway.human_s + leeway.tolerance(end_s) + SLACK_S)
    voices = [_onsets(voice, width_s) for voice in account.voices if not voice.is_percussion]
    drums = [_onsets(voice, width_s) for voice in account.voices if voice.is_percussion]
    pools = _together(voices), _together(drums)
    wanted = [
        (moment, name)
        for name, of_part in moments.items()
        if name not in UNPITCHED
        for moment in of_part
        if moment.pitches & ANY != ANY
    ]
    beats = [(moment, name) for name in UNPITCHED for moment in moments.get(name, ())]
    clues = sorted(
        [
            *_weighed(_sample(wanted, MOST_PITCHED), pools[0], True),
            *_weighed(_sample(beats, MOST_UNPITCHED), pools[1], False),
        ]
    )
    bars = _bars(expected, [clue.at_s for clue in clues], width_s)
    near = pools[0].near.get, pools[1].near.get
    rows = [
        (clue.at_s / width_s, clue.pitches, near[not clue.pitched], clue.met, clue.missed)
        for clue in clues
    ]
    sounding = [pool for pool in voices if pool.bits]
    instrument = expected.band.instrument
    return Case(clues, rows, bars, *pools, sounding, width_s, moments, instrument)


def _onsets(voice: Voice, width_s: float) -> Onsets:
    """A voice's onsets; percussion has whole pitches, others pitch classes."""
    notes: Notes = voice.notes
    each = [1 << (pitch if voice.is_percussion else pitch % 12) for pitch in range(128)]
    inverse = 1 / width_s
    bits: dict[int, int] = {}
    first: dict[int, float] = {}
    known = bits.get
    for start, pitch in zip(notes.starts, notes.pitches, strict=True):
        slot = int(start * inverse)
        there = known(slot)
        if there is None:
            bits[slot] = each[pitch]
            first[slot] = start
        else:
            bits[slot] = there | each[pitch]
    return Onsets(bits, first, _near(bits))


def _near(bits: dict[int, int]) -> dict[int, int]:
    near: dict[int, int] = {}
    known = near.get
    for slot, there in bits.items():
        near[slot - 1] = known(slot - 1, 0) | there
        near[slot] = known(slot, 0) | there
        near[slot + 1] = known(slot + 1, 0) | there
    return near


def _together(pools: Sequence[Onsets]) -> Onsets:
    if len(pools) == 1:
        return pools[0]
    bits: dict[int, int] = {}
    first: dict[int, float] = {}
    for pool in pools:
        for slot, there in pool.bits.items():
            bits[slot] = bits.get(slot, 0) | there
            first[slot] = min(first.get(slot, pool.first[slot]), pool.first[slot])
    return Onsets(bits, first, _near(bits))


def _sample(wanted: list[tuple[Moment, str]], most: int) -> list[tuple[Moment, str]]:
    if len(wanted) <= most:
        return wanted
    wanted.sort()
    return [wanted[index * (len(wanted) - 1) // (most - 1)] for index in range(most)]


def _weighed(wanted: Iterable[tuple[Moment, str]], pool: Onsets, pitched: bool) -> Iterable[Clue]:
    """Moments with their weights, by how many of the file's onsets would meet them."""
    slots = list(pool.bits)
    slots = slots[:: max(1, len(slots) // CHANCE_ONSETS)]
    around = Counter(pool.near[slot] for slot in slots)
    known: dict[int, tuple[float, float, float]] = {}
    for (at_s, pitches), part in wanted:
        if pitches not in known:
            meeting = sum(count for there, count in around.items() if there & pitches)
            chance = min(max(meeting / len(slots) if slots else 0.5, RAREST), COMMONEST)
            known[pitches] = log(RIGHT / chance), log((1 - RIGHT) / (1 - chance)), chance
        yield Clue(at_s, pitches, pitched, *known[pitches], part)


def _bars(expected: Expected, times: Sequence[float], width_s: float) -> Bars:
    every = (*expected.count_in_bars, *expected.bars)
    starts = [float(bar.start_s) for bar in every]
    starts.append(float(expected.count_in_s + expected.seconds))
    numbers, number = [], 1 - len(expected.count_in_bars)
    for bar in every:
        numbers.append(number)
        number += not bar.only_counts
    clues = [bisect_left(times, start - width_s / 2) for start in starts]
    clues[0], clues[-1] = 0, len(times)
    return Bars(starts, numbers, clues, number - 1)
