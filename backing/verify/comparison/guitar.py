"""A guitar against what it must play: each stroke in its time and direction, on one grip a chord.

What the form fixes is compared exactly: where strokes are, which way they go, the writer's own
shapes, thumb and fingers, rests. What the player may choose has bounds:

- a stroke takes two neighboring strings of the grip or more, and at most `LONGEST_S` or half of
  the time until the next one;
- a chord that has no written shape is held in any grip that `grips` allows, the same one
  whenever the chord comes in a round, and in a shell voicing where the form asks for them;
  if there is a downstroke among them, a chord's strokes together spell it, and one reaches the
  lowest string where the form says which that is, by a slash bass or a shape;
- a chord that is pushed into the end of a riff leaves it the strings that it needs;
- a damped stroke is over after `DAMPED_S`;
- what is struck sounds at least until the hands do something else, and at most until a rest;
  into another chord only a tone of that chord may go on.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from itertools import groupby, pairwise
from math import inf

from backing.theory.pitch import note_name
from backing.verify.comparison.gestures import check_gestures
from backing.verify.comparison.grips import (
    Grip,
    Neck,
    Spelling,
    Struck,
    Sweep,
    can_spell,
    grip_for,
    has_shell,
    in_order,
)
from backing.verify.comparison.leeway import Leeway, PartCheck
from backing.verify.comparison.misfits import Played, What, bass_left_out, misfit, on_grip, what
from backing.verify.comparison.muting import check_muting
from backing.verify.comparison.riffs import check_riffs
from backing.verify.expected.guitar import LEAD_S, MIDDLE_S, ExpectedGuitar, Held, Stroke
from backing.verify.readers.voices import Notes, Voice
from backing.verify.report import Fault

#: Common practice is 30-80 ms a stroke (memory).
LONGEST_S = 0.1
#: Fingers that play together start within this time.
TOGETHER_S = 0.03
DAMPED_S = 0.12
#: Half of the time until the next stroke parts their notes; if it is shorter than `QUICK_S`, what
#: a player strays counts for more, and the longest wait tells them apart.
QUICK_S = 0.1
#: The share of the time until the next stroke by which this one may start before its place.
MOST_LEAD = 0.2
#: By how much a drifting player may stretch so short a time.
MOST_STRETCH = 1.3
MOST_FAULTS = 20


def check_guitar(
    expected: ExpectedGuitar, notes: Notes, leeway: Leeway, voices: Sequence[Voice] = ()
) -> PartCheck:
    """Compare a guitar's notes, and what bends them in its `voices`, with its strokes and riffs."""
    riffs = check_riffs(expected.riffs, notes, leeway)
    bends = check_gestures(riffs, notes, voices)
    others = [place for place in range(len(notes.starts)) if place not in riffs.explained]
    check = _Check(expected, notes.at(others) if riffs.explained else notes, leeway)
    faults = [*riffs.faults, *bends, *check.faults()]
    muted, ringing = [others[at] for at in check.muted], [others[at] for at in check.ringing]
    for note, place in riffs.found:
        if note.most == 1:
            (muted if note.muted else ringing).append(place)
    faults += check_muting(expected.part, muted, ringing, notes, voices)
    return PartCheck(
        expected.part,
        len(expected.strokes) + riffs.numbers,
        "strokes",
        len(others) + len(riffs.explained),
        tuple(sorted(faults)[:MOST_FAULTS]),
        max(check.worst_s, riffs.worst_s),
    )


class _Check:
    """One guitar's strokes, found one after another among its notes."""

    def __init__(self, expected: ExpectedGuitar, notes: Notes, leeway: Leeway) -> None:
        self.expected = expected
        self.notes = notes
        self.leeway = leeway
        self.worst_s = 0.0
        self.early_late_s = 0.0
        #: The places of notes that damped strokes have, and those of all other strokes.
        self.muted: list[int] = []
        self.ringing: list[int] = []
        self.neck = Neck(expected.band.tuning, expected.band.capo)

    def faults(self) -> list[Fault]:
        """All that is wrong with the strokes."""
        found: list[Fault] = []
        played: list[Played] = []
        place, strokes = 0, self.expected.strokes
        for stroke in strokes:
            until = self._belongs_until(stroke, place)
            first = place
            while place < len(self.notes.starts) and self.notes.starts[place] < until:
                place += 1
            mine = self._struck(stroke, range(first, place), found)
            if mine:
                found += self._twice(mine)
                (self.muted if stroke.move.stroke == "x" else self.ringing).extend(mine)
                played.append(Played(stroke, mine, self._sweep(stroke, mine)))
                found += self._ends(stroke, mine)
            else:
                found.append(Fault(stroke.at_s, f"no {_kind(stroke)}"))
        found += (_stray(self.notes, index) for index in range(place, len(self.notes.starts)))
        found += self._grips(played)
        return found

    def _belongs_until(self, stroke: Stroke, place: int) -> float:
        """Until when notes are a stroke's, of which the first one stands at `place`.

        A stroke takes a third of the time until the next at most, around its place, and between
        two strokes a player who is early or late hardly changes that.
        """
        gap = stroke.next_s - stroke.at_s
        if gap == inf:
            return inf
        middle, lead = stroke.at_s + self.early_late_s, _lead(stroke)
        if place < len(self.notes.starts):
            found = self.notes.starts[place] + lead / 2
            if abs(found - stroke.at_s) <= self._reach(stroke) + lead / 2:
                middle = found
        if gap < QUICK_S:
            reach = self._reach(stroke)
            # What a long file's tempos have added up is about the same for both strokes.
            ticks_s = min(2 * self.leeway.tolerance(stroke.at_s), gap / 4)
            soonest = max(middle + gap / 4, stroke.next_s - reach - lead)
            latest = min(middle + MOST_STRETCH * gap + ticks_s, stroke.next_s + reach)
            return self._widest(place, soonest, latest)
        return middle + gap / 2

    def _widest(self, place: int, from_s: float, to_s: float) -> float:
        """The note after the longest wait, in a range of time: there the next stroke starts."""
        starts = self.notes.starts
        first = bisect_left(starts, from_s, place)
        last = bisect_right(starts, to_s, first)
        waits = [
            (starts[at] - starts[at - 1] if at > place else 0.0, starts[at])
            for at in range(first, last)
        ]
        return max(waits, default=(0.0, to_s))[1]

    def _reach(self, stroke: Stroke) -> float:
        """How early or late a stroke may start, in seconds."""
        return self.leeway.human_s + self.leeway.tolerance(stroke.at_s)

    def _struck(self, stroke: Stroke, places: Sequence[int], faults: list[Fault]) -> list[int]:
        """Which of the notes near a stroke are its own; the others are out of place."""
        starts, at_s = self.notes.starts, stroke.at_s
        reach = self._reach(stroke)
        longest = TOGETHER_S if stroke.move.fingers else LONGEST_S
        longest = min(longest, (stroke.next_s - at_s) / 2) + 2 * reach - self.leeway.human_s
        mine: list[int] = []
        for place in places:
            start = starts[place]
            since_s = starts[mine[0]] if mine else at_s
            if -_lead(stroke) - reach <= start - since_s <= (longest if mine else reach):
                mine.append(place)
            else:
                faults.append(_stray(self.notes, place))
        if mine:
            self._middle(stroke, mine, faults)
        return mine

    def _middle(self, stroke: Stroke, mine: Sequence[int], faults: list[Fault]) -> None:
        """Where a stroke's middle lies: the mean of its starts, loud ones counting for more.

        Fingers start at their place.
        """
        starts = [self.notes.starts[place] for place in mine]
        weights = [self.notes.velocities[place] ** 2 for place in mine]
        off_s = starts[0] - stroke.at_s
        allowed_s = self._reach(stroke)
        if not stroke.move.fingers:
            weighted = sum(start * weight for start, weight in zip(starts, weights, strict=True))
            off_s = weighted / sum(weights) - stroke.at_s
            allowed_s += stroke.off_s
        self.early_late_s = off_s
        self.worst_s = max(self.worst_s, abs(off_s) - self.leeway.human_s)
        if abs(off_s) > allowed_s:
            when = "late" if off_s > 0 else "early"
            says = f"{_kind(stroke)} is {abs(off_s) * 1000:.0f} ms {when}"
            faults.append(Fault(stroke.at_s, says))

    def _sweep(self, stroke: Stroke, places: Sequence[int]) -> Sweep:
        """A stroke's pitches from the low string to the high one, by its direction."""
        notes = self.notes
        if stroke.move.fingers:
            return tuple((pitch,) for pitch in sorted(notes.pitches[place] for place in places))
        ticks = [
            tuple(sorted(notes.pitches[place] for place in same))
            for _, same in groupby(places, key=notes.starts.__getitem__)
        ]
        return tuple(ticks[::-1] if stroke.move.stroke == "U" else ticks)

    def _twice(self, places: Sequence[int]) -> Iterator[Fault]:
        """Notes of a stroke that are there twice: two strings never start at one moment."""
        starts, pitches = self.notes.starts, self.notes.pitches
        for before, place in pairwise(places):
            if starts[before] == starts[place] and pitches[before] == pitches[place]:
                yield Fault(starts[place], f"{note_name(pitches[place])} is struck twice")

    def _ends(self, stroke: Stroke, places: Sequence[int]) -> Iterator[Fault]:
        """Notes that end too soon, or sound where the hands have gone on."""
        notes = self.notes
        stray_s = self.leeway.human_s + 2 * self.leeway.tolerance(stroke.at_s)
        damped = stroke.move.stroke == "x"
        lasts_s = 0.0 if stroke.amid_riff else stroke.lasts_s - _lead(stroke)
        then = self.expected.held[stroke.then] if stroke.then >= 0 else None
        last_of = {notes.pitches[place]: place for place in places}
        for place in places:
            end, pitch = notes.ends[place], notes.pitches[place]
            if damped:
                if end > notes.starts[place] + DAMPED_S:
                    yield Fault(stroke.at_s, f"{note_name(pitch)} isn't damped")
            elif end > stroke.ends_s + stray_s:
                yield Fault(stroke.ends_s, f"{note_name(pitch)} rings on in a rest")
            elif end < lasts_s - stray_s and last_of[pitch] == place:
                yield Fault(stroke.at_s, f"{note_name(pitch)} is cut short")
            elif then is not None and end > stroke.changes_s + stray_s and not _stays(pitch, then):
                says = f"{note_name(pitch)} rings on into {then.symbol}"
                yield Fault(stroke.changes_s, says)

    def _grips(self, played: Sequence[Played]) -> Iterator[Fault]:
        """The strokes that don't fit the grip of their chord."""
        by_chord: dict[int, list[Played]] = {}
        for one in played:
            by_chord.setdefault(one.stroke.held, []).append(one)
        for place, strokes in by_chord.items():
            held = self.expected.held[place]
            grip, left_out = self._grip(held, strokes)
            whys = [misfit(one, held, grip, left_out) for one in strokes]
            for one, why in zip(strokes, whys, strict=True):
                if why:
                    yield Fault(one.stroke.at_s, why)
            if not any(whys):
                yield from bass_left_out(strokes, held, grip)

    def _grip(self, held: Held, played: Sequence[Played]) -> tuple[Grip | None, set[What]]:
        """The grip that most strokes fit, and what of the others doesn't fit it."""
        counts: dict[What, int] = {}
        for one in played:
            if one.stroke.move.stroke != "x" and not one.stroke.amid_riff:
                counts[what(one)] = counts.get(what(one), 0) + 1
        if held.shape is not None:
            misfits = {what for what in counts if not on_grip(what, held.shape)}
            if not misfits or not held.easier:
                return held.shape, misfits
        kept = sorted(counts, key=lambda what: (-counts[what], what))
        left_out: set[What] = set()
        downs = any(one.stroke.move.stroke == "D" for one in played)
        while kept:
            grip = self._grip_of(held, kept, downs)
            if grip is not None:
                return grip, left_out
            left_out.add(kept.pop())
        return None, left_out

    def _grip_of(self, held: Held, kept: Sequence[What], downs: bool) -> Grip | None:
        """A grip of a chord for all these; where the tuning has no shape that spells it, any."""
        struck = Struck(
            frozenset(sweep for fingers, sweep in kept if not fingers),
            frozenset((fingers, in_order(sweep)) for fingers, sweep in kept if fingers),
            has_all=downs,
        )
        if held.shell is not None:
            shell = Spelling(held.tones, held.shell.needed, held.shell.bass, held.shell)
            grip = grip_for(struck, self.neck, shell)
            if grip is not None or has_shell(self.neck, shell):
                return grip
        spelling = Spelling(held.tones, held.needed, held.lowest)
        grip = grip_for(struck, self.neck, spelling)
        if grip is None and not can_spell(held.chord, self.neck, held.needed):
            return grip_for(struck, self.neck, spelling._replace(needed=0))
        return grip


def _stays(pitch: int, then: Held) -> bool:
    """Whether a sounding string may go on in the next chord."""
    return bool(then.tones >> pitch % 12 & 1) or (then.shape is not None and pitch in then.shape)


def _lead(stroke: Stroke) -> float:
    """How long before its place a stroke may start, and so may the next one."""
    hurried_s = stroke.off_s - MIDDLE_S
    return min(LEAD_S, MOST_LEAD * (stroke.next_s - stroke.at_s) + hurried_s)


def _kind(stroke: Stroke) -> str:
    names = {"D": "downstroke", "U": "upstroke", "x": "damped stroke"}
    return names.get(stroke.move.stroke, f"note of {' '.join(stroke.move.fingers)}")


def _stray(notes: Notes, place: int) -> Fault:
    return Fault(notes.starts[place], f"{note_name(notes.pitches[place])} where no stroke is")
