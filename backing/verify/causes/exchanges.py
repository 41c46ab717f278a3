"""Explanations of a file by bars in other bars' places: exchanged, or there a second time."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence

from backing.verify.causes.clues import Case, Line, Warp
from backing.verify.causes.measuring import MOST_BARS
from backing.verify.causes.shifts import ENOUGH, MOST_BARS_OF_SONG, PRICE, Guess, name_of
from backing.verify.expected.records import Expected

#: A bar with a smaller share of its moments met has something else in it.
BAD = 0.85
#: In how many bars of exchanged ones partners are looked for.
MOST_BAD_BARS = 128
#: Of the bars with something else in them, the share that an exchange must be about. A file with
#: many such bars, such as a transposed one, has some that fit each other's places by chance.
LEAST_BAD = 0.5
#: How many numbers an exchange or a copy chooses; two passes of the form are a simpler choice.
CHOICES, CHOICES_OF_PASSES = 4, 2


def exchanged(case: Case, expected: Expected, same: Line) -> Iterator[Guess]:
    """Two stretches of bars are exchanged, or one is in another's place as well."""
    count = len(case.bars.numbers)
    if count > MOST_BARS_OF_SONG:
        return
    bad = [bar for bar in range(count) if _met(case, bar, bar) < BAD]
    if not bad or len(bad) > MOST_BAD_BARS:
        return
    for by in sorted({abs(by) for by in range(-bad[0], count - bad[0]) if by}):
        if not _exchange(case, bad[0], by) and not _exchange(case, bad[0] - by, by):
            continue
        low = _earlier(case, bad, by)
        if low[-1] - low[0] < by and _explains(low, bad, by):
            passes = _whole_passes(case, expected, low[0], low[-1], by)
            choices = CHOICES_OF_PASSES if passes else CHOICES
            yield _swapped(case, same, passes or (low[0], low[-1]), by, choices)
    yield from _passes_swapped(case, expected, same, bad)
    yield from _copied(case, same, bad)


def _earlier(case: Case, bad: Sequence[int], by: int) -> list[int]:
    """The earlier bar of each pair, `by` bars apart, that is exchanged, in order.

    The later bar of a pair may fit yet another `by` bars on, in a song that repeats itself.
    """
    low: list[int] = []
    for bar in sorted({*bad, *(bar - by for bar in bad)}):
        if bar - by not in low and _exchange(case, bar, by):
            low.append(bar)
    return low


def _explains(low: Sequence[int], bad: Sequence[int], by: int) -> bool:
    """Whether enough of the bad bars lie in stretches that are exchanged."""
    within = [
        bar for bar in bad if any(0 <= at - low[0] <= low[-1] - low[0] for at in (bar, bar - by))
    ]
    return len(within) >= LEAST_BAD * len(bad)


def _swapped(case: Case, same: Line, bars: tuple[int, int], by: int, choices: int) -> Guess:
    """The guess that bars, the first and last of which are given, are exchanged with later ones.

    It costs the price of `choices` numbers.
    """
    first, last = bars
    names = [case.bars.numbers[bar] for bar in (first, last, first + by, last + by)]
    one, other = name_of(*names[:2]), name_of(*names[2:])
    if last > first:
        other = other.removeprefix("bars ")
    # Meters may change at different bars within the two, so all bars move by the same time.
    away_s = case.bars.starts[first + by] - case.bars.starts[first]
    moved = dict.fromkeys(range(first, last + 1), away_s)
    moved |= {bar + by: -away_s for bar in moved}
    return _moved(case, same, moved, f"{one} and {other} are exchanged", choices)


def _copied(case: Case, same: Line, bad: Sequence[int]) -> Iterator[Guess]:
    """One run of bars holds what belongs elsewhere."""
    numbers, count = case.bars.numbers, len(case.bars.numbers)
    first, last = bad[0], bad[-1]
    if not 1 < last - first + 1 <= MOST_BARS:
        return
    for by in sorted(range(-first, count - last), key=abs):
        if by and all(_is_at(case, bar + by, bar) for bar in range(first, last + 1)):
            first, last = _widened(case, first, last, by)
            here = name_of(numbers[first], numbers[last])
            other = name_of(numbers[first + by], numbers[last + by])
            yield _replaced(case, same, (first, last), f"{here} hold what belongs in {other}")
            return


def _widened(case: Case, first: int, last: int, by: int) -> tuple[int, int]:
    """A copied run with the bars beside it that are more like those `by` bars on than their own."""
    while last - first + 1 < MOST_BARS and _is_rather_at(case, first - 1 + by, first - 1):
        first -= 1
    while last - first + 1 < MOST_BARS and _is_rather_at(case, last + 1 + by, last + 1):
        last += 1
    return first, last


def _is_rather_at(case: Case, bar: int, place: int) -> bool:
    """Whether a bar is at a place, and the place's own bar is less so."""
    count = len(case.bars.numbers)
    if not 0 <= bar < count or not 0 <= place < count or not _is_at(case, bar, place):
        return False
    return _met(case, place, place) < _met(case, bar, place)


def _replaced(case: Case, same: Line, bars: tuple[int, int], says: str) -> Guess:
    """A guess that explains some bars without placing what belongs there: half of its evidence."""
    first, end = case.bars.clues[bars[0]], case.bars.clues[bars[1] + 1]
    weights = list(same.weights)
    weights[first:end] = [clue.met / 2 for clue in case.clues[first:end]]
    share = sum(weight > 0 for weight in weights) / len(weights)
    return Guess(says, sum(weights) - CHOICES * PRICE, share, None)


def _moved(case: Case, same: Line, moved: Mapping[int, float], says: str, choices: int) -> Guess:
    """A guess by which some bars are found so many seconds late, and the rest at their places."""
    weights = list(same.weights)
    clues = case.bars.clues
    met = count = 0
    for bar, late_s in moved.items():
        there = slice(clues[bar], clues[bar + 1])
        weights[there] = case.weights(case.rows[there], Warp(1.0, late_s))
        met += sum(weight > 0 for weight in weights[there])
        count += len(weights[there])
    share = min(met / max(1, count), sum(weight > 0 for weight in weights) / len(weights))
    return Guess(says, sum(weights) - choices * PRICE, share, None)


def _passes_swapped(
    case: Case, expected: Expected, same: Line, bad: Sequence[int]
) -> Iterator[Guess]:
    """The pass that the first bad bar is in and the one that the last is in are exchanged.

    Their meters may change at different bars, so that a bar has no counterpart in the other.
    """
    around = [
        (start, end)
        for start, end in _pass_bars(case, expected).items()
        if start <= bad[0] <= end or start <= bad[-1] <= end
    ]
    if len(around) != 2:
        return
    (first, last), (start, end) = around
    starts = case.bars.starts
    lengths_s = starts[last + 1] - starts[first], starts[end + 1] - starts[start]
    if last - first == end - start and abs(lengths_s[0] - lengths_s[1]) < case.width_s / 2:
        yield _swapped(case, same, (first, last), start - first, CHOICES_OF_PASSES)


def _pass_bars(case: Case, expected: Expected) -> dict[int, int]:
    """The last bar of each pass by its first, as places among all bars."""
    rows = {}
    for one in expected.passes:
        bar = bisect_left(case.bars.starts, float(one.start_s) - case.width_s)
        rows[bar] = bar + one.bars - 1
    return rows


def _whole_passes(
    case: Case, expected: Expected, first: int, last: int, by: int
) -> tuple[int, int] | None:
    """The earlier of the passes that two exchanged stretches belong to, if they have as many bars.

    Bars that are the same in both can't be seen to be exchanged.
    """
    rows = _pass_bars(case, expected)
    for start, end in rows.items():
        if start <= first and last <= end and rows.get(start + by) == end + by:
            return start, end
    return None


def _exchange(case: Case, bar: int, by: int) -> bool:
    """Whether a bar and the one `by` bars later are each at the other's place."""
    if not 0 <= bar < len(case.bars.numbers) or not 0 <= bar + by < len(case.bars.numbers):
        return False
    return _met(case, bar, bar + by) >= ENOUGH and _met(case, bar + by, bar) >= ENOUGH


def _is_at(case: Case, bar: int, place: int) -> bool:
    """Whether a bar with pitched notes is at a bar's place."""
    part = case.clues[case.bars.clues[bar] : case.bars.clues[bar + 1]]
    return any(clue.pitched for clue in part) and _met(case, bar, place) >= ENOUGH


def _met(case: Case, bar: int, place: int) -> float:
    """The share of a bar's pitched clues that are met at a bar's place; 1 if it has none."""
    part = slice(case.bars.clues[bar], case.bars.clues[bar + 1])
    rows = [
        row for row, clue in zip(case.rows[part], case.clues[part], strict=True) if clue.pitched
    ]
    weights = case.weights(rows, Warp(1.0, case.bars.starts[place] - case.bars.starts[bar]))
    return sum(weight > 0 for weight in weights) / len(weights) if weights else 1.0
