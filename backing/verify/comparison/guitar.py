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
from typing import NamedTuple

from backing.theory.pitch import note_name
from backing.verify.comparison.gestures import check_gestures
from backing.verify.comparison.grips import (
    Grip,
    Neck,
    Run,
    Spelling,
    Struck,
    Sweep,
    can_spell,
    fingers_fit,
    grip_for,
    has_shell,
    in_order,
    sweep_fits,
)
from backing.verify.comparison.leeway import Leeway, PartCheck
from backing.verify.comparison.muting import check_muting
from backing.verify.comparison.riffs import check_riffs
from backing.verify.expected.guitar import ExpectedGuitar, Held, Stroke
from backing.verify.readers.voices import Notes, Voice
from backing.verify.report import Fault

#: Common practice is 30-80 ms a stroke (memory).
LONGEST_S = 0.1
#: Fingers that play together start within this time.
TOGETHER_S = 0.03
DAMPED_S = 0.12
MOST_DAMPED = 4
#: A stroke's notes start within this share of the time until the next one; if that is shorter
#: than `QUICK_S`, what a player strays counts for more, and the longest wait tells them apart.
MOST_OF_GAP = 0.68
QUICK_S = 0.1
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


class _Played(NamedTuple):
    """A stroke with the notes that were found for it: their places, and their pitches by tick."""

    stroke: Stroke
    places: Sequence[int]
    sweep: Sweep

    @property
    def run(self) -> Run:
        """The pitches from the low string to the high one, as far as ticks tell."""
        return in_order(self.sweep)


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
        played: list[_Played] = []
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
                played.append(_Played(stroke, mine, self._sweep(stroke, mine)))
                found += self._ends(stroke, mine)
            else:
                found.append(Fault(stroke.at_s, f"no {_kind(stroke)}"))
        found += (_stray(self.notes, index) for index in range(place, len(self.notes.starts)))
        found += self._grips(played)
        return found

    def _belongs_until(self, stroke: Stroke, place: int) -> float:
        """Until when notes are a stroke's, of which the first one stands at `place`.

        A stroke takes half of the time until the next at most, and between two strokes a player
        who is early or late hardly changes that.
        """
        gap = stroke.next_s - stroke.at_s
        if gap == inf:
            return inf
        first = stroke.at_s + self.early_late_s
        if place < len(self.notes.starts):
            found = self.notes.starts[place]
            if abs(found - stroke.at_s) <= self._reach(stroke):
                first = found
        if gap < QUICK_S:
            tick_s, reach = self.leeway.tolerance(stroke.at_s), self._reach(stroke)
            soonest = max(first + gap / 4, stroke.next_s - reach)
            latest = min(first + MOST_STRETCH * gap + 2 * tick_s, stroke.next_s + reach)
            return self._widest(place, soonest, latest)
        return first + MOST_OF_GAP * gap

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
            if not mine and abs(start - at_s) <= reach:
                self.early_late_s = start - at_s
                self.worst_s = max(self.worst_s, abs(start - at_s) - self.leeway.human_s)
                mine.append(place)
            elif mine and start <= starts[mine[0]] + longest:
                mine.append(place)
            else:
                faults.append(_stray(self.notes, place))
        return mine

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
        lasts_s = 0.0 if stroke.amid_riff else stroke.lasts_s
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

    def _grips(self, played: Sequence[_Played]) -> Iterator[Fault]:
        """The strokes that don't fit the grip of their chord."""
        by_chord: dict[int, list[_Played]] = {}
        for one in played:
            by_chord.setdefault(one.stroke.held, []).append(one)
        for place, strokes in by_chord.items():
            held = self.expected.held[place]
            grip, left_out = self._grip(held, strokes)
            whys = [_misfit(one, held, grip, left_out) for one in strokes]
            for one, why in zip(strokes, whys, strict=True):
                if why:
                    yield Fault(one.stroke.at_s, why)
            if not any(whys):
                yield from _bass_left_out(strokes, held, grip)

    def _grip(self, held: Held, played: Sequence[_Played]) -> tuple[Grip | None, set[_What]]:
        """The grip that most strokes fit, and what of the others doesn't fit it."""
        counts: dict[_What, int] = {}
        for one in played:
            if one.stroke.move.stroke != "x" and not one.stroke.amid_riff:
                counts[_what(one)] = counts.get(_what(one), 0) + 1
        if held.shape is not None:
            misfits = {what for what in counts if not _on(what, held.shape)}
            if not misfits or not held.easier:
                return held.shape, misfits
        kept = sorted(counts, key=lambda what: (-counts[what], what))
        left_out: set[_What] = set()
        downs = any(one.stroke.move.stroke == "D" for one in played)
        while kept:
            grip = self._grip_of(held, kept, downs)
            if grip is not None:
                return grip, left_out
            left_out.add(kept.pop())
        return None, left_out

    def _grip_of(self, held: Held, kept: Sequence[_What], downs: bool) -> Grip | None:
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


#: What a stroke is judged by: its fingers, if it is picked, and its pitches.
_What = tuple[tuple[str, ...], Sweep]


def _what(one: _Played) -> _What:
    return one.stroke.move.fingers, one.sweep


def _on(what: _What, grip: Grip) -> bool:
    fingers, sweep = what
    return fingers_fit(fingers, in_order(sweep), grip) if fingers else sweep_fits(sweep, grip)


def _misfit(one: _Played, held: Held, grip: Grip | None, left_out: set[_What]) -> str:
    """Why a stroke doesn't fit the grip; "" if it does."""
    strange = [pitch for pitch in one.run if not held.tones >> pitch % 12 & 1]
    damped = one.stroke.move.stroke == "x"
    if damped and len(one.run) > MOST_DAMPED:
        return f"strikes {len(one.run)} damped strings, not {MOST_DAMPED} at most"
    if damped or one.stroke.amid_riff:
        wrong = set(strange) - set(grip or ())
        return f"{note_name(min(wrong))} isn't in {held.symbol}" if wrong else ""
    if _what(one) not in left_out:
        return ""
    if strange and held.shape is None:
        return f"{note_name(strange[0])} isn't in {held.symbol}"
    names = " ".join(map(note_name, one.run))
    way = {"D": " down", "U": " up"}.get(one.stroke.move.stroke, "")
    if grip is None:
        return f"plays {names}{way}, which isn't a shape of {held.symbol}"
    shape = " ".join(note_name(pitch) for pitch in grip if pitch is not None)
    return f"plays {names}{way}, not the shape of {held.symbol}: {shape}"


def _bass_left_out(played: Sequence[_Played], held: Held, grip: Grip | None) -> Iterator[Fault]:
    """A chord whose lowest string the form names, and that no downstroke reaches."""
    down = [one for one in played if one.stroke.move.stroke == "D" and not one.stroke.amid_riff]
    if not down:
        return
    if held.shape is not None and grip == held.shape:
        reached = held.easier or any(_reaches_lowest(one.sweep, grip) for one in down)
    else:
        lowest = min(one.run[0] for one in down) % 12
        reached = held.lowest is None or lowest == held.lowest
    if not reached:
        yield Fault(down[0].stroke.at_s, f"{held.symbol} is struck without its lowest string")


def _reaches_lowest(sweep: Sweep, grip: Grip) -> bool:
    return next(pitch for pitch in grip if pitch is not None) in sweep[0]


def _stays(pitch: int, then: Held) -> bool:
    """Whether a sounding string may go on in the next chord."""
    return bool(then.tones >> pitch % 12 & 1) or (then.shape is not None and pitch in then.shape)


def _kind(stroke: Stroke) -> str:
    names = {"D": "downstroke", "U": "upstroke", "x": "damped stroke"}
    return names.get(stroke.move.stroke, f"note of {' '.join(stroke.move.fingers)}")


def _stray(notes: Notes, place: int) -> Fault:
    return Fault(notes.starts[place], f"{note_name(notes.pitches[place])} where no stroke is")
