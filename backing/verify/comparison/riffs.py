"""A guitar's riffs against their tab: each number at its time and pitch, and nothing else.

Nothing here is the player's choice but his time, which strays by what the form allows, how
long a damped string sounds, up to `DAMPED_S`, and how loud he is; but a ghost note is struck at
`GHOST_MOST` of the nearest picked note of its pass at most. A note's end may also be off by
`END_S`. A chord of the next pass that comes early may end notes of the riff, and then sounds
along with it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, islice, takewhile
from math import inf
from operator import attrgetter
from typing import NamedTuple

from backing.theory.pitch import note_name
from backing.verify.comparison.leeway import Leeway
from backing.verify.expected.riffs import ExpectedRiffs, RiffNote, RiffPass
from backing.verify.readers.voices import Notes
from backing.verify.report import Fault

#: The longest that a damped string sounds.
DAMPED_S = 0.12
#: How much too early or too late a note may end, on top of what a start may stray.
END_S = 0.01
#: By how many notes the octave of a moved riff is found.
MOST_TRIED = 200
#: The most of a picked note's velocity that a ghost note has; the player's touch may stray.
GHOST_MOST = 0.8
MOST_FAULTS = 20

_start = attrgetter("at_s")


class RiffCheck(NamedTuple):
    """Which notes belong to riffs, by their places, and what is wrong with them.

    `numbers` is how many numbers of the tab were compared. `worst_s` is the largest difference
    in time beyond what a player may stray. `found` has the notes that were found with their
    places; see `gestures`.
    """

    explained: frozenset[int] = frozenset()
    numbers: int = 0
    faults: tuple[Fault, ...] = ()
    worst_s: float = 0.0
    found: tuple[tuple[RiffNote, int], ...] = ()


def check_riffs(riffs: ExpectedRiffs, notes: Notes, leeway: Leeway) -> RiffCheck:
    """Compare a guitar's notes with its riffs."""
    if not riffs.passes:
        return RiffCheck()
    check = _Check(notes, leeway)
    moved: dict[int, int] = {}
    numbers, before = 0, None
    for each in riffs.passes:
        if each.riff not in moved:
            moved[each.riff] = _octaves(check, riffs, each)
        expected = each.notes[moved[each.riff]]
        numbers += len(expected)
        check.compare(each, expected)
        check.find_strays(before, each)
        check.find_loud_ghosts()
        before = each
    return RiffCheck(
        frozenset(check.explained),
        numbers,
        tuple(sorted(check.faults)[:MOST_FAULTS]),
        check.worst_s,
        tuple(check.found),
    )


def _octaves(check: _Check, riffs: ExpectedRiffs, first: RiffPass) -> int:
    """By how many semitones all notes of a riff are moved: the choice that most of them fit."""
    if len(first.notes) == 1:
        return next(iter(first.notes))
    counts = dict.fromkeys(first.notes, 0)
    passes = [each for each in riffs.passes if each.riff == first.riff]
    for by in counts:
        tried = ((each, note) for each in passes for note in each.notes[by])
        for each, note in islice(tried, MOST_TRIED):
            counts[by] += note.pitch in check.pitches_near(note.at_s, check.reach(each))
    return max(counts, key=lambda by: (counts[by], -abs(by)))


class _Again(NamedTuple):
    """Pitches of a number that come again soon after it, so many times until a time."""

    pitches: frozenset[int]
    times: int
    until_s: float


def _again(wanted: Sequence[RiffNote], after: Iterable[RiffNote], until_s: float) -> _Again:
    """How often the pitches of a number come again in those after it."""
    pitches = frozenset(note.pitch for note in wanted)
    soon = takewhile(lambda note: note.at_s <= until_s, after)
    return _Again(pitches, sum(note.pitch in pitches for note in soon), until_s)


class _Check:
    """A guitar's notes, those of its riffs taken out one after another."""

    def __init__(self, notes: Notes, leeway: Leeway) -> None:
        self.notes = notes
        self.leeway = leeway
        self.explained: set[int] = set()
        self.faults: list[Fault] = []
        self.found: list[tuple[RiffNote, int]] = []
        #: How many of them belong to the passes before.
        self.found_before = 0
        self.worst_s = 0.0
        #: Numbers of the tab without a note: their times and pitches.
        self.missing: list[tuple[float, int]] = []
        #: From when on nothing but the riff may sound in the pass that was compared last.
        self.since_s = 0.0

    def reach(self, each: RiffPass) -> float:
        """How far a note of a pass may start from its time."""
        tolerance = max(self.leeway.tolerance(each.start_s), self.leeway.tolerance(each.end_s))
        return self.leeway.human_s + tolerance

    def pitches_near(self, at_s: float, reach: float) -> Sequence[int]:
        """The pitches that start around a time."""
        starts = self.notes.starts
        first = bisect_left(starts, at_s - reach)
        return self.notes.pitches[first : bisect_left(starts, at_s + reach, first)]

    def compare(self, each: RiffPass, expected: Sequence[RiffNote]) -> None:
        """Find a note for every number of a pass. What starts together in the tab does so here."""
        reach = self.reach(each)
        together_s = 2 * (reach - self.leeway.human_s)
        starts, pitches = self.notes.starts, self.notes.pitches
        first = bisect_left(starts, each.start_s - reach)
        self.missing = []
        self.since_s = each.start_s + reach
        early_late_s = inf  # of several notes that fit the first number, the last is the riff's
        done = 0
        for at_s, moment in groupby(expected, key=_start):
            while first < len(starts) and starts[first] < at_s - reach:
                first += 1
            wanted = list(moment)
            done += len(wanted)
            after = (expected[at] for at in range(done, len(expected)))
            again = _again(wanted, after, at_s + 2 * reach)
            likely_s = min(at_s + early_late_s, at_s + reach)
            place, end = self._place(first, at_s + reach, together_s, wanted, likely_s, again)
            if place < end:
                early_late_s = starts[place] - at_s
                self.worst_s = max(self.worst_s, abs(early_late_s) - self.leeway.human_s)
                if at_s == each.start_s:
                    self.since_s = starts[place] - together_s
            for note in wanted:
                left = note.most
                for index in range(place, end):
                    if pitches[index] == note.pitch and left and index not in self.explained:
                        left -= 1
                        self._take(index, note, each, reach)
                if left == note.most:
                    self.missing.append((at_s, note.pitch))

    def _place(
        self,
        first: int,
        until_s: float,
        together_s: float,
        wanted: Sequence[RiffNote],
        likely_s: float,
        again: _Again,
    ) -> tuple[int, int]:
        """Which notes, from `first` on, start together and have the most of the wanted pitches.

        Of several choices it is the one nearest to `likely_s` that leaves enough notes for the
        pitches that come `again`.
        """
        starts, pitches = self.notes.starts, self.notes.pitches
        best, best_fit = (first, first), (0, 0, 0.0)
        place = first
        while place < len(starts) and starts[place] <= until_s:
            after = place + 1
            while after < len(starts) and starts[after] <= starts[place] + together_s:
                after += 1
            here = pitches[place:after]
            count = sum(note.pitch in here for note in wanted)
            left = 0
            if again.times:
                left = self._count(again.pitches, after, again.until_s)
            fit = (count, min(left, again.times), -abs(likely_s - starts[place]))
            if count and (not best_fit[0] or fit > best_fit):
                best, best_fit = (place, after), fit
            place = after
        return best

    def _count(self, pitches: frozenset[int], first: int, until_s: float) -> int:
        """How many notes of these pitches start from the place `first` on until a time."""
        last = bisect_right(self.notes.starts, until_s, first)
        return sum(pitch in pitches for pitch in self.notes.pitches[first:last])

    def _take(self, place: int, note: RiffNote, each: RiffPass, reach: float) -> None:
        """Take a note out as one of a pass, and compare its end."""
        self.explained.add(place)
        self.found.append((note, place))
        start, end = self.notes.starts[place], self.notes.ends[place]
        slack = reach + END_S
        for right in note.ends_s:
            if abs(end - right) <= slack:
                return
        if note.damped and end - start <= DAMPED_S + slack - self.leeway.human_s:
            return
        last = note.ends_s[-1] if note.ends_s else start + DAMPED_S
        if min(last, end) >= each.early_s - slack and (
            end <= last + slack or note.at_s > each.early_s - slack
        ):
            return  # a chord that comes early takes the string, or holds the same pitch longer
        name = note_name(self.notes.pitches[place])
        if note.damped:
            says = f"{name} isn't damped"
        elif end > last:
            says = f"{name} rings {end - last:.2f} s too long"
        else:
            says = f"{name} stops {note.ends_s[0] - end:.2f} s too early"
        self.faults.append(Fault(start, says))

    def find_strays(self, before: RiffPass | None, each: RiffPass) -> None:
        """Notes in a pass that the riff doesn't have, and those of the riff that are missing.

        Around its first and its last bar line a note may belong to the pass before or after,
        unless a riff is played on both sides.
        """
        reach = self.reach(each)
        since = self.since_s
        if before is not None and before.early_s == before.end_s == each.start_s:
            since = each.start_s - self.reach(before)
        elif self.missing and self.missing[0][0] == each.start_s:
            since = each.start_s - reach
        strays = list(self._strays(since, min(each.end_s, each.early_s) - reach))
        starts = [self.notes.starts[place] for place in strays]
        instead: set[int] = set()
        for at_s, pitch in self.missing:
            says = f"no {note_name(pitch)} of the riff"
            near = bisect_left(starts, at_s - reach)
            while near in instead:
                near += 1
            if near < len(starts) and starts[near] <= at_s + reach:
                instead.add(near)
                wrong = note_name(self.notes.pitches[strays[near]])
                says = f"plays {wrong}, not the riff's {note_name(pitch)}"
            self.faults.append(Fault(at_s, says))
        for index, place in enumerate(strays):
            if index not in instead:
                name = note_name(self.notes.pitches[place])
                self.faults.append(Fault(starts[index], f"plays an extra {name}"))

    def find_loud_ghosts(self) -> None:
        """Ghost notes of the pass that was compared last, against its picked ones."""
        of_pass = self.found[self.found_before :]
        self.found_before = len(self.found)
        ghosts = [(note, place) for note, place in of_pass if note.ghost]
        plain = [(note.at_s, place) for note, place in of_pass if note.plain]
        for note, place in ghosts if plain else ():
            _, near = min(plain, key=lambda one: abs(one[0] - note.at_s))
            most = GHOST_MOST * self.notes.velocities[near]
            if self.notes.velocities[place] > most:
                name = note_name(self.notes.pitches[place])
                self.faults.append(Fault(note.at_s, f"the ghost note {name} is too loud"))

    def _strays(self, since: float, until: float) -> Iterator[int]:
        starts = self.notes.starts
        for place in range(bisect_left(starts, since), len(starts)):
            if starts[place] >= until:
                return
            if place not in self.explained:
                self.explained.add(place)
                yield place
