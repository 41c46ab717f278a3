"""The bass against what it must play: every note's start, pitch and end, and no other notes.

A start may be as far off as the leeway allows. An end may be off by twice that, since the note
that it meets has strayed as well. A note that ends further before the next one leaves a gap,
and one that ends further after it sounds together with it: the bass plays one note at a time.
"""

from __future__ import annotations

from collections.abc import Sequence

from backing.theory.pitch import note_name
from backing.verify.comparison.gestures import check_gestures
from backing.verify.comparison.leeway import Leeway, PartCheck
from backing.verify.comparison.note_names import class_names
from backing.verify.comparison.riffs import check_riffs
from backing.verify.expected.bass import BassNote, ExpectedBass
from backing.verify.readers.voices import Notes, Voice
from backing.verify.report import Fault

MOST_FAULTS = 20
#: A note leads to the next one by a half or whole step.
LEADS = (1, 2)
HALF_STEP = 1


def check_bass(
    expected: ExpectedBass, notes: Notes, leeway: Leeway, voices: Sequence[Voice] = ()
) -> PartCheck:
    """Compare the bass's notes, and what bends them in its `voices`, with its line and riffs."""
    riffs = check_riffs(expected.riffs, notes, leeway)
    bends = check_gestures(riffs, notes, voices) if expected.riffs.passes else ()
    others = [place for place in range(len(notes.starts)) if place not in riffs.explained]
    check = _Check(expected, notes.at(others) if riffs.explained else notes, leeway)
    check.walk()
    faults = sorted([*riffs.faults, *bends, *check.faults])
    return PartCheck(
        expected.part,
        len(expected.notes) + riffs.numbers,
        "notes",
        len(notes.starts),
        tuple(faults[:MOST_FAULTS]),
        max(check.worst_s, riffs.worst_s),
    )


class _Check:
    """The notes of a file beside those that are expected, both in order of time."""

    def __init__(self, bass: ExpectedBass, notes: Notes, leeway: Leeway) -> None:
        self.lowest, self.highest = bass.lowest, bass.highest
        self.walk_register = bass.walk_register
        self.expected = bass.notes
        self.notes = notes
        self.leeway = leeway
        self.allowed_s = [leeway.human_s + leeway.tolerance(note.at_s) for note in bass.notes]
        self.faults: list[Fault] = []
        self.worst_s = 0.0

    def walk(self) -> None:
        """Compare note with note, in order."""
        at, found = 0, 0
        starts, human_s = self.notes.starts, self.leeway.human_s
        while at < len(self.expected) and found < len(starts):
            note, allowed_s = self.expected[at], self.allowed_s[at]
            off_s = starts[found] - note.at_s
            if off_s > allowed_s:
                self._missing(note)
                at += 1
            elif off_s < -allowed_s:
                self._extra(found)
                found += 1
            else:
                self.worst_s = max(self.worst_s, abs(off_s) - human_s)
                self._pitch(at, found)
                self._end(at, found)
                at, found = at + 1, found + 1
        for note in self.expected[at:]:
            self._missing(note)
        for index in range(found, len(starts)):
            self._extra(index)

    def _missing(self, note: BassNote) -> None:
        self._fault(note.at_s, f"no note where {_named(note)} belongs")

    def _extra(self, found: int) -> None:
        name = note_name(self.notes.pitches[found])
        self._fault(self.notes.starts[found], f"plays {name}, where no note starts")

    def _fault(self, at_s: float, says: str) -> None:
        self.faults.append(Fault(at_s, says))

    def _pitch(self, at: int, found: int) -> None:
        note, pitch = self.expected[at], self.notes.pitches[found]
        low, high = self.walk_register
        if not self.lowest <= pitch <= self.highest:
            names = f"{note_name(self.lowest)} to {note_name(self.highest)}"
            self._fault(note.at_s, f"plays {note_name(pitch)}, outside a bass guitar's {names}")
        elif note.opens_walk and not low <= pitch <= high:
            names = f"{note_name(low)} to {note_name(high)}"
            self._fault(
                note.at_s, f"plays {note_name(pitch)}, where a walk starts its chords on {names}"
            )
        elif note.wanted.classes >> pitch % 12 & 1:
            return
        elif not note.wanted.steps:
            self._fault(note.at_s, f"plays {note_name(pitch)}, not {_named(note)}")
        elif self._leads(at, found):
            return
        elif not note.wanted.classes:
            self._fault(note.at_s, f"plays {note_name(pitch)}, not {_named(note)} to the next note")
        else:
            self._fault(
                note.at_s,
                f"plays {note_name(pitch)}, neither {_named(note)} nor a step to the next note",
            )

    def _leads(self, at: int, found: int) -> bool:
        """Whether a note leads, by a step that it may take, to the one that follows at once."""
        pitches, wanted = self.notes.pitches, self.expected[at].wanted
        if not self._follows(at) or found + 1 == len(pitches):
            return False
        step = abs(pitches[found + 1] - pitches[found])
        if step == HALF_STEP and wanted.half_steps:
            return True
        return step in LEADS and bool(wanted.steps >> pitches[found] % 12 & 1)

    def _follows(self, at: int) -> bool:
        """Whether a note is followed by another one without a rest."""
        if at + 1 == len(self.expected):
            return False
        return self.expected[at].until_s == self.expected[at + 1].at_s

    def _end(self, at: int, found: int) -> None:
        note, end_s = self.expected[at], self.notes.ends[found]
        follows = self._follows(at)
        allowed_s = 2 * (
            self.allowed_s[at + 1]
            if follows
            else self.leeway.human_s + self.leeway.tolerance(note.until_s)
        )
        if end_s > note.until_s + allowed_s:
            where = "under the next note" if follows else "where the bass rests"
            self._fault(note.until_s, f"{note_name(self.notes.pitches[found])} sounds on {where}")
        elif end_s < note.until_s - allowed_s and not note.stopped:
            self._fault(end_s, f"{note_name(self.notes.pitches[found])} ends too early")


def _named(note: BassNote) -> str:
    return f"{note.wanted.name} ({class_names(note.wanted.classes or note.wanted.steps)})"
