"""The pad against what it must play: each voice's start and end, and each chord's four tones,
how far apart they are, and how they go on.

A voice may start as far off a chord's start as the leeway allows, and end off its end by twice
that. Where chords are shorter than a player may stray, a voice belongs to the one that is
nearest to it with what the pad has strayed so far.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

from backing.theory.pitch import note_name
from backing.verify.comparison.leeway import Leeway, PartCheck
from backing.verify.comparison.note_names import class_names
from backing.verify.expected.moments import mask
from backing.verify.expected.pad import (
    HIGHEST,
    LOWEST,
    NARROWEST,
    VOICES,
    WIDEST,
    ExpectedPad,
    PadChord,
    Pitches,
    has_better,
    in_parallel,
)
from backing.verify.readers.voices import Notes
from backing.verify.report import Fault

MOST_FAULTS = 20


def check_pad(expected: ExpectedPad, notes: Notes, leeway: Leeway) -> PartCheck:
    """Compare the pad's notes with what it must play."""
    check = _Check(expected.chords, notes, leeway)
    check.place_voices()
    check.weigh_chords()
    check.follow_voices()
    faults = tuple(sorted(check.faults)[:MOST_FAULTS])
    unit, found = "chords", len(notes.starts)
    return PartCheck(expected.part, len(expected.chords), unit, found, faults, check.worst_s)


class _Edges:
    """The places where chords start or end, in order: which chord starts there, which ends."""

    def __init__(self, chords: Sequence[PadChord]) -> None:
        self.times: list[float] = []
        self.opening: list[int | None] = []
        self.closing: list[int | None] = []
        for number, chord in enumerate(chords):
            if not self.times or self.times[-1] != chord.at_s:
                self._add(chord.at_s)
            self.opening[-1] = number
            self._add(chord.until_s)
            self.closing[-1] = number
        self._opening_edges = [
            edge for edge, number in enumerate(self.opening) if number is not None
        ]
        self._opening_s = [self.times[edge] for edge in self._opening_edges]

    def _add(self, at_s: float) -> None:
        self.times.append(at_s)
        self.opening.append(None)
        self.closing.append(None)

    def nearest_opening(self, at_s: float) -> int:
        """The edge at which a chord starts that is nearest to a time.

        A stop may end a chord just before the next one starts, where nothing can start.
        """
        after = bisect_left(self._opening_s, at_s)
        return self._opening_edges[_nearer(self._opening_s, after, at_s)]

    def nearest(self, at_s: float) -> int:
        """The edge that is nearest to a time."""
        return _nearer(self.times, bisect_left(self.times, at_s), at_s)


def _nearer(times: Sequence[float], after: int, at_s: float) -> int:
    """Which of two neighboring times is nearer to a time: the one at `after`, or before it."""
    if after == len(times) or (after and at_s - times[after - 1] < times[after] - at_s):
        return after - 1
    return after


class _Check:
    """The notes of a file beside the chords that they must make up."""

    def __init__(self, chords: Sequence[PadChord], notes: Notes, leeway: Leeway) -> None:
        self.chords = chords
        self.notes = notes
        self.leeway = leeway
        self.edges = _Edges(chords)
        self.allowed_s = [leeway.human_s + leeway.tolerance(at_s) for at_s in self.edges.times]
        self.pitches: list[list[int]] = [[] for _ in chords]
        self.faults: list[Fault] = []
        self.worst_s = 0.0

    def place_voices(self) -> None:
        """Find the chords that each voice sounds in."""
        if not self.chords:
            for start_s, pitch in zip(self.notes.starts, self.notes.pitches, strict=True):
                self._fault(start_s, f"plays {note_name(pitch)} where the pad rests")
            return
        starts, ends = self._nearest_edges()
        for index, (start, end) in enumerate(zip(starts, ends, strict=True)):
            first = self._first_chord(index, start)
            if first is not None:
                self._sound_in(index, first, self._last_chord(index, first, end))

    def _nearest_edges(self) -> tuple[list[int], list[int]]:
        """The edges that each note starts and ends at, or is nearest to."""
        count = len(self.notes.starts)
        found = [0] * (2 * count)
        times = (*self.notes.starts, *self.notes.ends)
        strayed_s = 0.0
        for event in sorted(range(2 * count), key=times.__getitem__):
            nearest = self.edges.nearest_opening if event < count else self.edges.nearest
            edge = nearest(times[event] - strayed_s)
            found[event] = edge
            off_s = times[event] - self.edges.times[edge]
            if abs(off_s) <= self.allowed_s[edge]:
                strayed_s = off_s
        return found[:count], found[count:]

    def _first_chord(self, index: int, edge: int) -> int | None:
        """The chord that starts where a note does."""
        start_s, at_s = self.notes.starts[index], self.edges.times[edge]
        chord, off_s = self.edges.opening[edge], abs(start_s - at_s)
        if chord is None or off_s > self.allowed_s[edge]:
            self._fault(start_s, f"plays {self._name(index)}, where no chord starts")
            return None
        self.worst_s = max(self.worst_s, off_s - self.leeway.human_s)
        return chord

    def _last_chord(self, index: int, first: int, edge: int) -> int:
        """The chord that ends where a note does, or the last one that it sounds in."""
        end_s, at_s = self.notes.ends[index], self.edges.times[edge]
        allowed_s = 2 * self.allowed_s[edge]
        chord = self.chords[first]
        if chord.stopped and end_s <= chord.until_s + allowed_s:
            return first
        last = self.edges.closing[edge]
        if last is not None and abs(end_s - at_s) <= allowed_s:
            return max(first, last)
        before = next(
            number for number in reversed(self.edges.opening[: edge + 1]) if number is not None
        )
        last = max(first, before)
        if end_s < self.chords[last].until_s:
            self._fault(end_s, f"{self._name(index)} ends before its chord does")
        else:
            self._fault(self.chords[last].until_s, f"{self._name(index)} sounds on in a rest")
        return last

    def _sound_in(self, index: int, first: int, last: int) -> None:
        """Add a note to each chord that it sounds in."""
        pitch = self.notes.pitches[index]
        if not LOWEST <= pitch <= HIGHEST:
            self._fault(self.notes.starts[index], f"plays {note_name(pitch)}, outside E3 to E5")
        for number in range(first, last + 1):
            chord = self.chords[number]
            if number > first and not chord.goes_on:
                self._fault(chord.at_s, f"{note_name(pitch)} sounds on where it must end")
            if not chord.voicing.tones >> pitch % 12 & 1:
                tones = class_names(chord.voicing.tones)
                self._fault(chord.at_s, f"plays {note_name(pitch)}, not one of {tones}")
            self.pitches[number].append(pitch)

    def weigh_chords(self) -> None:
        """Find the chords that lack a voice or a tone, have a voice too many, or aren't open."""
        for chord, pitches in zip(self.chords, self.pitches, strict=True):
            voices, sounding = len(pitches), mask({pitch % 12 for pitch in pitches})
            missing = chord.voicing.needed & ~sounding
            different = (sounding & chord.voicing.tones).bit_count()
            if voices != VOICES:
                self._fault(chord.at_s, f"{voices} voices, not {VOICES}")
            elif missing:
                self._fault(chord.at_s, f"no {class_names(missing)} in the chord")
            elif different < chord.voicing.different:
                says = f"{different} different tones, not {chord.voicing.different}"
                self._fault(chord.at_s, says)
            elif not NARROWEST <= max(pitches) - min(pitches) <= WIDEST:
                names = f"{note_name(min(pitches))} and {note_name(max(pitches))}"
                self._fault(chord.at_s, f"its outer voices are {names}, not an open chord's")

    def follow_voices(self) -> None:
        """Find the chords to which voices go in parallel where they needn't."""
        before: Pitches = ()
        for chord, pitches in zip(self.chords, self.pitches, strict=True):
            voices = tuple(sorted(set(pitches)))
            both_whole = len(before) == len(voices) == VOICES
            if both_whole and not chord.opens and in_parallel(before, voices):
                classes = mask({pitch % 12 for pitch in voices})
                if has_better(before, classes):
                    self._fault(chord.at_s, "two voices go on in parallel fifths or octaves")
            before = voices

    def _name(self, index: int) -> str:
        return note_name(self.notes.pitches[index])

    def _fault(self, at_s: float, says: str) -> None:
        self.faults.append(Fault(at_s, says))
