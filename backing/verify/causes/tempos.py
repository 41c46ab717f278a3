"""A file that is faster or slower than its song throughout, or a little late."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from math import inf

from backing.verify.causes.clues import SAME, Case, Clue, Warp
from backing.verify.causes.measuring import fitted, moved_by, pairs, stretched
from backing.verify.causes.shifts import MISSING_COUNT_IN, PRICE, Guess, count_in_of, off
from backing.verify.comparison.leeway import Leeway
from backing.verify.expected.records import Expected
from backing.verify.readers.measured import Measured

#: The fewest moments that tell anything.
FEWEST = 8
#: Tempos that are tried, as shares of the song's.
SLOWEST, FASTEST = 0.05, 20.0


def stretches(case: Case, expected: Expected, account: Measured) -> Iterator[Guess]:
    """All of it is faster or slower."""
    clues, count_in_s = case.clues, count_in_of(expected)
    for rough in _rough(case, expected, account):
        if not 1 / FASTEST < rough.scale < 1 / SLOWEST:  # 0 if all notes start at once
            continue
        warp = stretched(case, rough)
        if warp.scale <= 0 or abs(warp.scale - 1) * clues[-1].at_s < case.width_s:
            continue
        says, first = tempo_words(expected, warp.scale), 0
        if abs(warp.shift_s) > case.width_s:
            if abs(warp.shift_s / warp.scale + count_in_s) > case.width_s:
                continue
            says = f"{MISSING_COUNT_IN}, and {says}"
            first = bisect_left(clues, count_in_s - case.width_s, key=lambda clue: clue.at_s)
        line = case.line(warp)
        evidence = line.all - line.sums[first] - 2 * PRICE
        yield Guess(says, evidence, line.met(first), warp)


def _rough(case: Case, expected: Expected, account: Measured) -> Iterator[Warp]:
    """Where the song may be found at another tempo: by the tempo map, by first and last onsets."""
    after_s = count_in_of(expected) - case.width_s
    by_map = _by_tempo_map(expected, account)
    yield by_map
    for first, last, group in _extents(case):
        starts = {group[0].at_s, *[clue.at_s for clue in group if clue.at_s >= after_s][:1]}
        for start in starts:
            if group[-1].at_s > start:
                for scale in ((last - first) / (group[-1].at_s - start), by_map.scale):
                    yield Warp(scale, first - start * scale)


def _extents(case: Case) -> Iterator[tuple[float, float, Sequence[Clue]]]:
    """The first and last onset of percussion and of pitched parts, with their clues."""
    for pool, pitched in ((case.unpitched, False), (case.pitched, True)):
        group = [clue for clue in case.clues if clue.pitched == pitched]
        if pool.first and group:
            yield min(pool.first.values()), max(pool.first.values()), group


def _by_tempo_map(expected: Expected, account: Measured) -> Warp:
    """How much slower the file's first tempo is."""
    found = account.tempos[0][1] if account.tempos else 0.0
    return Warp(float(expected.tempos[0].quarter_bpm) / found) if 0 < found < inf else SAME


def tempo_words(expected: Expected, scale: float) -> str:
    """A tempo in the beats that the form's first meter counts, if they are even."""
    tempos = {tempo.quarter_bpm for tempo in expected.tempos}
    if len(tempos) > 1:
        return f"the tempo is {100 / scale:.1f}% of what it should be throughout"
    meter = expected.bars[0].meter
    beat_quarters = meter.beats[0] * 4 if len(set(meter.beats)) == 1 else 1
    right = float(min(tempos) / beat_quarters)
    return f"the tempo is {_bpm(right / scale)} instead of {_bpm(right)} throughout"


def _bpm(tempo: float) -> str:
    return f"{tempo:.2f}".rstrip("0").rstrip(".")


def slightly_off(case: Case, expected: Expected, leeway: Leeway) -> str:
    """A shift or stretch that is too small to lose the place, in words, if all parts have it."""
    clicks = [clue for clue in case.clues if clue.part == "click"]
    others = [clue for clue in case.clues if clue.part != "click"]
    fits = [fitted(pairs(group, case, SAME)) for group in (clicks, others)]
    lines = [line for line in fits if line is not None]
    end_s = case.clues[-1].at_s
    least = leeway.human_s + 2 * leeway.tolerance(end_s)
    drift = _shared([(line.scale - 1) * end_s for line in lines], least)
    start = _shared([line.shift_s for line in lines], least)
    if abs(drift) > 2 * least > 2 * abs(start):
        return tempo_words(expected, lines[0].scale)
    if abs(start) > least > abs(drift):
        return f"everything is {off(moved_by(case, SAME).shift_s)}"
    return ""


def _shared(values: Sequence[float], least: float) -> float:
    """What groups of parts are off by, if it is about the same; 0 otherwise."""
    return min(values, key=abs) if values and max(values) - min(values) <= least else 0.0
