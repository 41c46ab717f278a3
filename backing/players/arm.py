"""The arm: strokes spread over time around their places, and no two of them quite alike.

In the exact score all strings of a stroke start at its place. Here they start one after
another, and the stroke's middle, the mean of its starts weighted by the square of velocity, comes
at its place: listeners hear a stroke there, not at its first string. Nothing starts before the
file does, so a stroke at its start is quick enough for its middle to come within `LATEST_S`.

At more than 0 percent each stroke has its own force, lean and speed, and a weak one may miss
outer strings. A stroke's level then strays by a standard deviation of 1.3 to 2 dB at the usual
75 percent. Not every synthesizer plays a harder stroke brighter, but all play fewer strings so.

Only `Random.random` is used, six times a stroke: the seed, the part and the strokes give all.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import groupby
from operator import attrgetter
from random import Random
from typing import NamedTuple, TypeAlias

from backing.score import Note, Score, Sweep, TempoChange, Track

#: How far velocities stray, as a share of them: one standard deviation at 100 percent.
FORCE = 0.105
#: By how many steps of velocity a string leans from the one before it, at most.
LEAN = 2.0
#: By what share a stroke is slower or quicker, at most.
SPEED = 0.35
#: How often a weak stroke misses an outer string, and a second one.
MISSES, MISSES_TWO = 0.45, 0.2
LEAST_STRINGS = 2
#: How late the middle of a stroke may be at the start of the file, in seconds.
LATEST_S = Fraction(14, 1000)
#: Places within a stroke are rounded to these units of a whole note.
GRID = 7680

#: A note's track and its place in it.
_Place: TypeAlias = "tuple[int, int]"


def swept(score: Score, percent: int, seed: int = 0, number: int = 0) -> Score:
    """A score with its strokes spread over time; one that is spread already stays as it is.

    Args:
        score: as `play` returns it, with all strings of a stroke at one place.
        percent: how human, from 0 (strokes alike) to 100.
        seed: which of many performances.
        number: which round of one, from 0. A round's strokes don't start before it does.
    """
    parts = {
        track.part for track in score.tracks if any(note.sweep is not None for note in track.notes)
    }
    found = list(score.tracks)
    for part in sorted(parts):
        lines = [line for line, track in enumerate(found) if track.part == part]
        draw = Random(f"{seed}/{part}/strokes/{number}").random
        tracks = _Arm(score.tempos, percent / 100, draw).play([found[line] for line in lines])
        for line, track in zip(lines, tracks, strict=True):
            found[line] = track
    return score._replace(tracks=tuple(found))


class _Arm:
    """One guitarist's arm: the strokes of one part, over all of its tracks."""

    def __init__(
        self, tempos: Sequence[TempoChange], share: float, draw: Callable[[], float]
    ) -> None:
        self._tempos = tempos
        self._share = share
        self._draw = draw
        self._notes: dict[_Place, Note] = {}
        #: What each string sounded last.
        self._last: dict[int | None, _Place] = {}
        #: Where the first string of a stroke starts, by the stroke's place.
        self._first: dict[Fraction, Fraction] = {}

    def play(self, tracks: Sequence[Track]) -> Iterator[Track]:
        """The tracks with their strokes played, and with changes of sound before them."""
        self._notes = {
            (line, place): note
            for line, track in enumerate(tracks)
            for place, note in enumerate(track.notes)
        }
        order = sorted(self._notes, key=lambda place: self._notes[place].start_whole)
        for at, group in groupby(order, key=lambda place: self._notes[place].start_whole):
            self._strike(at, list(group))
        for line, track in enumerate(tracks):
            notes = (self._notes.get((line, place)) for place in range(len(track.notes)))
            changes = (
                change._replace(start_whole=self._first.get(change.start_whole, change.start_whole))
                for change in track.changes
            )
            yield track._replace(
                notes=tuple(note for note in notes if note is not None), changes=tuple(changes)
            )

    def _strike(self, at: Fraction, places: Sequence[_Place]) -> None:
        """Play what starts at one place of the score, of which a stroke may be a part."""
        sweeps = {place: sweep for place in places if (sweep := self._notes[place].sweep)}
        played = self._stroke(at, sweeps) if sweeps else {}
        for place in places:
            note = self._notes[place]
            before = self._last.get(note.string)
            if place in sweeps and place not in played:
                self._miss(at, place, before)
                continue
            note = played.get(place, note)
            if before is not None:
                note = self._end(before, at, note, sweeps.get(place))
            self._notes[place] = note
            self._last[note.string] = place

    def _miss(self, at: Fraction, place: _Place, before: _Place | None) -> None:
        """Leave a note out; what its string sounded at the same pitch sounds on."""
        missed = self._notes.pop(place)
        if before is not None:
            old = self._notes[before]
            if old.end_whole == at and old.pitch == missed.pitch and not old.muted:
                self._notes[before] = old._replace(end_whole=missed.end_whole)

    def _end(self, before: _Place, at: Fraction, note: Note, sweep: Sweep | None) -> Note:
        """End what a string sounds where its next note starts, which always comes later."""
        old = self._notes[before]
        start = max(note.start_whole, old.start_whole + Fraction(1, GRID))
        goes_on = (
            old.end_whole == at
            and old.pitch == note.pitch
            and not old.muted
            and sweep is not None
            and not sweep.fresh
        )
        if goes_on or old.end_whole > start:
            self._notes[before] = old._replace(end_whole=start)
        later = start - note.start_whole
        return note._replace(start_whole=start, early_whole=note.early_whole - later)

    def _stroke(self, at: Fraction, sweeps: Mapping[_Place, Sweep]) -> dict[_Place, Note]:
        """The strings that a stroke sounds, each at its time and with its force."""
        drawn = _drawn(self._draw, self._share) if self._share else _EXACT
        places = sorted(sweeps, key=lambda place: sweeps[place].after_whole)
        velocities = _velocities([self._notes[place].velocity for place in places], drawn)
        first = sweeps[places[0]]
        offsets = [int(sweeps[place].after_whole * GRID) for place in places]
        most = int(first.most_whole * GRID)
        offsets = [min(round(offset * drawn.slower), most) for offset in offsets]
        if first.weak:
            kept = _kept(len(places), drawn, rises=_rises([self._notes[p].pitch for p in places]))
            places, velocities, offsets = places[kept], velocities[kept], offsets[kept]
            offsets = [offset - offsets[0] for offset in offsets]
        starts = self._starts(at, offsets, velocities)
        self._first[at] = min(starts)
        played = {}
        for place, start, velocity in zip(places, starts, velocities, strict=True):
            note = self._notes[place]
            end = note.end_whole + (start - at) if note.muted else note.end_whole
            played[place] = note._replace(
                start_whole=start,
                end_whole=max(end, start + Fraction(1, GRID)),
                velocity=velocity,
                sweep=None,
                early_whole=at - start,
            )
        return played

    def _starts(
        self, at: Fraction, offsets: Sequence[int], velocities: Sequence[int]
    ) -> list[Fraction]:
        """Where a stroke's strings start, its middle at its place."""
        weights = [velocity**2 for velocity in velocities]
        middle = round(
            sum(weight * offset for weight, offset in zip(weights, offsets, strict=True))
            / sum(weights)
        )
        before = int(at * GRID)
        if middle > before:
            late = int(GRID * self._tempos[0].quarter_bpm / 240 * LATEST_S)
            share = min(Fraction(1), Fraction(before + late, middle))
            offsets, middle = [int(offset * share) for offset in offsets], before
        return [self._start(at, offset - middle) for offset in offsets]

    def _start(self, at: Fraction, units: int) -> Fraction:
        """Units after a place or before it, where the tempo may be another one."""
        start = at + Fraction(units, GRID)
        tempo = bisect_left(self._tempos, at, key=attrgetter("start_whole"))
        if units >= 0 or tempo >= len(self._tempos) or self._tempos[tempo].start_whole != at:
            return start
        ratio = self._tempos[tempo - 1].quarter_bpm / self._tempos[tempo].quarter_bpm
        return max(Fraction(0), at + Fraction(round(units * ratio), GRID)) if tempo else start


class _Drawn(NamedTuple):
    """What one stroke is like: factors of its velocities and its length, steps from string to
    string, and how many of its strings it misses."""

    force: float = 1.0
    lean: float = 0.0
    slower: float = 1.0
    misses: int = 0


_EXACT = _Drawn()


def _drawn(draw: Callable[[], float], share: float) -> _Drawn:
    # The sum of three even draws is nearly normal, with a standard deviation of a half.
    force = 2 * (draw() + draw() + draw() - 1.5)
    lean, slower = (2 * draw() - 1 for _ in range(2))
    chance = draw()
    misses = (chance < MISSES * share) + (chance < MISSES_TWO * share)
    return _Drawn(
        1 + FORCE * share * force, LEAN * share * lean, 1 + SPEED * share * slower, misses
    )


def _velocities(velocities: Sequence[int], drawn: _Drawn) -> list[int]:
    middle = (len(velocities) - 1) / 2
    return [
        min(127, max(1, round(velocity * drawn.force + drawn.lean * (turn - middle))))
        for turn, velocity in enumerate(velocities)
    ]


def _rises(pitches: Sequence[int]) -> bool:
    """Whether a stroke runs from its low strings to its high ones."""
    return pitches[0] <= pitches[-1]


def _kept(count: int, drawn: _Drawn, rises: bool) -> slice:
    """Which strings a weak stroke sounds: it misses low ones, and at least two are left."""
    misses = min(drawn.misses, max(0, count - LEAST_STRINGS))
    return slice(misses, count) if rises else slice(0, count - misses)
