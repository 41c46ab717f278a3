"""One guitar's strings: what is struck on each, how it is bent, and how long it rings.

A string sounds one note at a time, whoever strikes it: a strum, a finger or a riff. It
rings until it is struck again or a chord ends it. A riff's notes end only when their
string is struck again or the riff ends: marks and changes of chord don't affect them.
Strings are counted from the low one, 0, here; a Note counts them as guitarists do.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import NamedTuple, Protocol, TypeAlias

from backing.score import Bend, Note, Sweep

#: Small offsets within a stroke or a bend lie on this many places to a whole note.
GRID = 7680

#: The sounding pitch of each string, the low one first; None where it is muted.
Shape: TypeAlias = "tuple[int | None, ...]"


class Gesture(NamedTuple):
    """What the fretting hand does to a sounding note.

    `bend` pulls it a whole tone up; `shake` lets it shake; `slide` takes it that many
    semitones away, into the note that follows.
    """

    bend: bool = False
    shake: bool = False
    slide: int = 0


#: The bends of a note from one place to another.
BendsOf: TypeAlias = Callable[[Fraction, Fraction, Gesture], "tuple[Bend, ...]"]


class Stroke(Protocol):
    """What a hand does at one moment."""

    def strike(
        self, strings: Strings, at: Fraction, shape: Shape, units_a_second: int, room: Fraction
    ) -> None:
        """Sound it.

        Args:
            shape: the chord that is held.
            units_a_second: how many places of the grid a second has at this tempo.
            room: the time until the hand's next stroke or since its last one, whichever is shorter;
                it sounds within a third of that.
        """


class Strings:
    """The strings of one guitar through a song; chords left ringing end at `end_whole`."""

    def __init__(self, count: int, end_whole: Fraction) -> None:
        self.count = count
        self._end_whole = end_whole
        # Each note's start, pitch, velocity, string and sweep; its end; which of them are a riff's.
        self._struck: list[tuple[Fraction, int, int, int, Sweep | None]] = []
        self._ends: list[Fraction] = []
        self._of_riff: set[int] = set()
        self._gestures: dict[int, Gesture] = {}
        self._muted: set[int] = set()
        self._sounding: list[int | None] = [None] * count  # index into the first two

    def strike(
        self,
        index: int,
        at: Fraction,
        pitch: int,
        velocity: int,
        muted: bool = False,
        sweep: Sweep | None = None,
    ) -> None:
        """Sound a string of a chord, ending what it sounded; a hand may lie on it, `muted`."""
        struck = self._sounding[index]
        if struck is not None:
            self._end(struck, at)
        self._sounding[index] = len(self._struck)
        self._struck.append((at, pitch, velocity, self.count - index, sweep))
        self._ends.append(self._end_whole)
        if muted:
            self._muted.add(len(self._struck) - 1)

    def strike_in_riff(
        self,
        index: int,
        at: Fraction,
        pitch: int,
        velocity: int,
        until_whole: Fraction,
        gesture: Gesture | None = None,
        muted: bool = False,
    ) -> None:
        """Sound a string's note in a riff; it rings as far as `until_whole` at most."""
        self.strike(index, at, pitch, velocity, muted)
        struck = len(self._struck) - 1
        self._ends[struck] = until_whole
        self._of_riff.add(struck)
        if gesture is not None:
            self._gestures[struck] = gesture

    def end(self, index: int, at: Fraction) -> None:
        """Silence a string, if it sounds."""
        struck = self._sounding[index]
        if struck is not None:
            self._end(struck, at)
            self._sounding[index] = None

    def _end(self, struck: int, at: Fraction) -> None:
        if struck not in self._of_riff or at < self._ends[struck]:
            self._ends[struck] = at

    def rest(self, at: Fraction) -> None:
        """End everything that was struck as a chord."""
        self.change(at, (None,) * self.count)

    def change(self, at: Fraction, shape: Shape) -> None:
        """The hand moves to another shape: strings that it frets elsewhere, or lets go, end."""
        for index, struck in enumerate(self._sounding):
            if struck is not None and self._struck[struck][1] != shape[index]:
                if struck in self._of_riff:
                    continue
                self._ends[struck] = at
                self._sounding[index] = None

    def sounding_in_riff(self, index: int, at: Fraction) -> int | None:
        """The pitch of a riff's note that a string still sounds."""
        struck = self._sounding[index]
        if struck is None or struck not in self._of_riff or self._ends[struck] <= at:
            return None
        return self._struck[struck][1]

    def slide(self, index: int, semitones: int) -> None:
        """Slide what a string sounds into its next note."""
        struck = self._sounding[index]
        if struck is not None:
            before = self._gestures.get(struck, Gesture())
            self._gestures[struck] = before._replace(slide=semitones)

    def notes(self, bends: BendsOf) -> list[Note]:
        """All notes in the order struck."""
        notes = [
            Note(start, end, pitch, velocity, string, sweep=sweep)
            for (start, pitch, velocity, string, sweep), end in zip(
                self._struck, self._ends, strict=True
            )
        ]
        for index in self._muted:
            notes[index] = notes[index]._replace(muted=True)
        for index, gesture in self._gestures.items():
            note = notes[index]
            notes[index] = note._replace(bends=bends(note.start_whole, note.end_whole, gesture))
        # A chord's note whose string a riff takes at the same moment never sounds.
        return [note for note in notes if note[0] < note[1]] if self._of_riff else notes


def sounding_strings(shape: Shape) -> Sequence[tuple[int, int]]:
    """The strings of a shape that sound, low to high, each with its pitch."""
    return [(index, pitch) for index, pitch in enumerate(shape) if pitch is not None]
