"""Where in a file a song may be found: shifts to try, and lines through the times that agree."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from statistics import median

from backing.verify.causes.clues import Case, Clue, Onsets, Warp
from backing.verify.expected.records import Expected

#: Moments whose differences from all onsets are counted, and the onsets.
ANCHORS, MOST_ONSETS = 40, 4000
#: The most frequent differences that are tried.
PEAKS = 12
#: Bars that may be missing or too many, unless they are whole passes.
MOST_BARS = 16
#: Of how many passes the distances are tried.
MOST_PASSES = 40
#: How many shifts are tried.
MOST_SHIFTS = 80
#: A line is fitted to growing shares of the song.
GROWING = (0.04, 0.08, 0.15, 0.3, 0.6, 1.0)
#: Clicks that make a fit exact; players' times stray.
ENOUGH_CLICKS = 8


def shifts(case: Case, expected: Expected) -> list[float]:
    """Differences in seconds that bars or all of the file may be off by, without 0."""
    clues = [clue for clue in case.clues if clue.pitched] or list(case.clues)
    found = [
        *_peaks(clues, case),
        *_peaks(clues[len(clues) * 6 // 7 :], case),
        *_peaks(clues[-ANCHORS // 2 :], case),
    ]
    lengths = _lengths(case, expected)
    for length, _ in lengths.most_common((MOST_SHIFTS - len(found)) // 2):
        found += [length, -length]
    kept: dict[int, float] = {}
    for shift in found:
        kept.setdefault(round(shift / case.width_s), shift)
    return [shift for slot, shift in kept.items() if slot]


def _lengths(case: Case, expected: Expected) -> Counter[float]:
    """How long stretches of bars are, in seconds, and from pass to pass; the likeliest first."""
    counts: Counter[float] = Counter()
    starts = case.bars.starts
    for bars in range(1, MOST_BARS + 1):
        lengths = Counter(
            round(end - start, 3) for start, end in zip(starts, starts[bars:], strict=False)
        )
        for length, count in lengths.most_common(4):
            counts[length] += count + len(starts) // bars
    first = [float(one.start_s) for one in expected.passes[:MOST_PASSES]]
    counts.update({round(b - a, 3): 4 for a in first for b in first if b > a})
    return counts


def _peaks(clues: Sequence[Clue], case: Case) -> list[float]:
    """The most frequent differences between moments and onsets that would meet them."""
    clues = clues if len(clues) < ANCHORS else [
        clues[index * len(clues) // ANCHORS] for index in range(ANCHORS)
    ]  # fmt: skip
    width = case.width_s
    counts: dict[int, float] = defaultdict(float)
    pools = {True: list(case.pitched.bits.items()), False: list(case.unpitched.bits.items())}
    for clue in clues:
        at = round(clue.at_s / width)
        for slot, there in pools[clue.pitched][:MOST_ONSETS]:
            if there & clue.pitches:
                counts[slot - at] += clue.met
    wide = {
        slot: weight + counts.get(slot - 1, 0) / 2 + counts.get(slot + 1, 0) / 2
        for slot, weight in counts.items()
    }
    best = sorted(wide, key=lambda slot: -wide[slot])[:PEAKS]
    return [(slot + 0.5) * width for slot in best]


def pairs(clues: Iterable[Clue], case: Case, warp: Warp) -> list[tuple[float, float]]:
    """The times of moments that are met at `warp`, expected and found."""
    inverse, found = 1 / case.width_s, []
    for clue in clues:
        pool: Onsets = case.pitched if clue.pitched else case.unpitched
        at_s = clue.at_s * warp.scale + warp.shift_s
        slot = int(at_s * inverse)
        near = [
            pool.first[there]
            for there in (slot - 1, slot, slot + 1)
            if pool.bits.get(there, 0) & clue.pitches
        ]
        if near:
            found.append((clue.at_s, min(near, key=lambda time: abs(time - at_s))))
    return found


def _exact(case: Case) -> Sequence[Clue]:
    """The clues by which times are measured: clicks, which never stray, if there are enough."""
    clicks = [clue for clue in case.clues if clue.part == "click"]
    return clicks if len(clicks) >= ENOUGH_CLICKS else case.clues


def moved_by(case: Case, warp: Warp) -> Warp:
    """A shift in time, measured."""
    differences = [found - at_s for at_s, found in pairs(_exact(case), case, warp)]
    return Warp(1.0, median(differences)) if differences else warp


def stretched(case: Case, warp: Warp) -> Warp:
    """A line through the times found near `warp`, fitted to more and more of the song."""
    clues = case.clues
    first, last = clues[0].at_s, clues[-1].at_s
    for share in GROWING:
        until = first + (last - first) * share
        warp = fitted(pairs((clue for clue in clues if clue.at_s <= until), case, warp)) or warp
    return fitted(pairs(_exact(case), case, warp)) or warp


def fitted(found: Sequence[tuple[float, float]]) -> Warp | None:
    """The line of least squares."""
    count = len(found)
    if count < ENOUGH_CLICKS:
        return None
    mean_x, mean_y = (sum(column) / count for column in zip(*found, strict=True))
    square = sum((x - mean_x) ** 2 for x, _ in found)
    if not square:
        return None
    slope = sum((x - mean_x) * (y - mean_y) for x, y in found) / square
    return Warp(slope, mean_y - slope * mean_x) if slope > 0 else None
