"""Explanations of a file by time: late, stretched, bars missing or too many, cut short.

Each is a `Guess` with its evidence, from which a price is taken for every number that it has
to choose: of two that explain a file alike, the simpler one wins.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from statistics import median
from typing import NamedTuple

from backing.text.times import clock
from backing.verify.causes.clues import SAME, Case, Line, Warp, line_of
from backing.verify.causes.measuring import ENOUGH_CLICKS, MOST_BARS, moved_by, pairs
from backing.verify.expected.records import Expected

#: What a number that an explanation chooses costs, in units of evidence (natural logarithms).
PRICE = 6.0
#: Of what an explanation claims, the share that must be met.
ENOUGH = 0.9
#: The last note of a file starts this long after its last moment at most.
LATEST_S = 0.4
#: Changes at a bar that are measured, of all that are tried.
MOST_MEASURED = 3
#: In longer songs single bars aren't looked for: it would take seconds.
MOST_BARS_OF_SONG = 2000

MISSING_COUNT_IN = "the count-in is missing"


class Guess(NamedTuple):
    """An explanation: a sentence ("" is that nothing is wrong), its evidence less its price.

    `share` is the least share of moments met among the stretches that it makes claims about.
    `warp` is where the song is found if it is found whole.
    """

    says: str
    evidence: float
    share: float
    warp: Warp | None = SAME


def late(case: Case, expected: Expected, tried: dict[float, Line]) -> Iterator[Guess]:
    """All of it is late or early by the same time."""
    best = max(tried, key=lambda shift: tried[shift].all, default=0.0)
    count_in_s = count_in_of(expected)
    for shift in {best, -count_in_s} - {0.0}:
        warp = moved_by(case, Warp(1.0, shift))
        line = case.line(warp)
        says = f"everything is {off(warp.shift_s)}"
        first = 0
        if count_in_s and abs(warp.shift_s + count_in_s) < case.width_s:
            # What would be before the file's start can't be found.
            first = bisect_left(case.clues, count_in_s - case.width_s, key=lambda one: one.at_s)
            says = f"{MISSING_COUNT_IN}: {says}. If that is intended, use --no-count-in"
        evidence = line.all - line.sums[first]
        yield Guess(says, evidence - PRICE, line.met(first), warp)


def count_in_of(expected: Expected) -> float:
    """How long the count-in is, without a pickup, in seconds."""
    pickup = [at_s for at_s, text in expected.lead_in if text == "Pickup"]
    return float(pickup[0] if pickup else expected.count_in_s)


def changed(case: Case, same: Line, tried: dict[float, Line]) -> Iterator[Guess]:
    """From some bar on all of it is late or early."""
    best: list[tuple[float, int, int, float]] = []
    if len(case.bars.numbers) > MOST_BARS_OF_SONG:
        return
    for shift, line in tried.items():
        found = _best_change(case, same, line, shift)
        if found is not None:
            best.append((*found, shift))
    strict = _strictly(case, same, SAME)
    for _, bar, again, rough in sorted(best, reverse=True)[:MOST_MEASURED]:
        shift = _measured(case, case.bars.clues[again], rough)
        ends_s = case.clues[-1].at_s + shift
        if abs(shift) < case.width_s or abs(case.last_s - ends_s) > LATEST_S:
            continue
        warp = Warp(1.0, shift)
        line = case.line(warp)
        exactly = _best_change(case, strict, _strictly(case, line, warp), shift)
        if exactly is not None:
            _, bar, again = exactly
        first, from_ = case.bars.clues[bar], case.bars.clues[again]
        evidence = same.sums[first] + line.all - line.sums[from_]
        share = min(same.met(0, first), line.met(from_))
        yield Guess(_change(case, bar, again, shift), evidence - 3 * PRICE, share, None)


def _strictly(case: Case, line: Line, warp: Warp) -> Line:
    """A line that also counts what is against it, to tell bars that share tones apart."""
    return line_of([a + b for a, b in zip(line.weights, case.against(warp), strict=True)])


def _best_change(case: Case, same: Line, line: Line, shift: float) -> tuple[float, int, int] | None:
    """The bar at which a shift most likely begins: the evidence, that bar, and the one found.

    Where bars are missing another bar is found there, later in the song.
    """
    bars, best = case.bars, None
    for bar in range(1, len(bars.numbers)):
        again = bar
        if shift < 0:
            again = bisect_left(bars.starts, bars.starts[bar] - shift - case.width_s)
            if again >= len(bars.numbers):
                break
            if bars.starts[again] + shift - bars.starts[bar] > case.width_s:
                if bars.starts[bar + 1] + shift < bars.starts[bar]:
                    continue  # it would go back to what came before
                again = bar
        evidence = same.sums[bars.clues[bar]] + line.all - line.sums[bars.clues[again]]
        evidence += PRICE * (again > bar)  # whole bars leave no length to choose
        if best is None or evidence > best[0]:
            best = evidence, bar, again
    return best


def _measured(case: Case, first: int, shift: float) -> float:
    """The shift that clues have from one of them on, by the clicks if there are enough."""
    clues = [clue for clue in case.clues[first:] if clue.part == "click"]
    clues = clues if len(clues) >= ENOUGH_CLICKS else list(case.clues[first:])
    differences = [found - at_s for at_s, found in pairs(clues, case, Warp(1.0, shift))]
    return median(differences) if differences else shift


def _change(case: Case, bar: int, again: int, shift: float) -> str:
    """A change of time at a bar in words."""
    bars = case.bars
    if again == bar and abs(bars.starts[bar] - bars.starts[bar - 1] + shift) < case.width_s / 2:
        before = case.clues[bars.clues[bar - 1] : bars.clues[bar]]
        bar -= not any(clue.pitched for clue in before)  # a bar of beats alone is missing
    first = bars.numbers[bar]
    if again > bar:
        which, more = name_of(first, bars.numbers[again - 1]), again - bar
        verb = "is" if more == 1 else "are"
        return f"{which} {verb} missing; from there on everything is {_bars_off(more)} early"
    if shift > 0:
        for more in range(1, MOST_BARS + 1):
            for place in (bar, bar - more):
                if place >= 0 and place + more < len(bars.starts):
                    length = bars.starts[place + more] - bars.starts[place]
                    if abs(length - shift) < case.width_s / 2:
                        return _too_many(more, first)
    return f"from bar {first} on everything is {off(shift)}"


def _too_many(more: int, first: int) -> str:
    what = "is a bar" if more == 1 else f"are {more} bars"
    return (
        f"there {what} too many before bar {first}; "
        f"from there on everything is {_bars_off(more)} late"
    )


def _bars_off(count: int) -> str:
    return "one bar" if count == 1 else f"{count} bars"


def off(shift_s: float) -> str:
    """A shift in words: 2.500 s late."""
    return f"{abs(shift_s):.3f} s {'late' if shift_s > 0 else 'early'}"


def name_of(first: int, last: int) -> str:
    """Bars by their numbers."""
    return f"bar {first}" if first == last else f"bars {first}-{last}"


def cut_short(case: Case, same: Line) -> Iterator[Guess]:
    """The file ends before the song does."""
    bars, last_s = case.bars, case.last_s
    left = bisect_left(case.clues, last_s + case.width_s * 2, key=lambda clue: clue.at_s)
    if left >= len(case.clues):
        return
    bar = bisect_left(bars.starts, last_s + case.width_s) - 1
    if not 0 <= bar < len(bars.numbers) or bars.numbers[bar] < 1:
        return
    ends = bars.clues[bar + 1] <= left
    number = bars.numbers[bar]
    says = f"the song ends {'after' if ends else 'in'} bar {number} of {bars.last}"
    yield Guess(says, same.sums[left] - PRICE, same.met(0, left), None)


def goes_on(case: Case) -> str:
    """What follows the last bar, in words."""
    over = case.last_s - case.bars.starts[-1]
    return f"it goes on after the last bar, until {clock(case.last_s)}" if over > 0.1 else ""
