"""Which pitch classes a note of a bass line may have over a chord, from the chord alone.

Pitch classes are bits, 1 << class.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from backing.theory.bass_lines import FIFTH, ROOT, WALK
from backing.theory.chords import Chord
from backing.verify.expected.moments import ANY, mask

#: A walking line's note on a beat that isn't strong; on a strong one it is `WALK`.
WEAK_WALK = "weak walk"
PITCH_CLASSES = 12


class Wanted(NamedTuple):
    """Which pitch classes a note may have, as bits, and how a message names them.

    It may also have one of `steps` if it is a half or whole step from the next note and, where
    `half_steps` is True, any class at all a half step from it.
    """

    classes: int
    name: str
    steps: int = 0
    half_steps: bool = False

    @property
    def possible(self) -> int:
        """Every class that the note may have, whatever follows it."""
        return ANY if self.half_steps else self.classes | self.steps

    def leading_to(self, scale: int | None) -> Wanted:
        """The same as a chord's last note, before a chord with this scale, or before a rest."""
        if scale is None:
            return self._replace(steps=0)
        return self._replace(steps=self.steps | scale, half_steps=True)


@lru_cache(maxsize=4096)
def wanted(chord: Chord, up: int, tone: str) -> Wanted:
    """Which pitch classes a tone of a line has over a chord that sounds `up` semitones higher."""
    root, bass = chord.root.pitch_class, chord.bass_class
    fifth = (root + degree_semitones(chord.intervals, "5")) % 12
    if tone in (WALK, WEAK_WALK):
        tones = {*chord.pitch_classes, fifth}
        steps = scale(chord, up) if tone == WEAK_WALK else 0
        return Wanted(_sounding(tones, up), "a tone of the chord", steps)
    if tone in (ROOT, "1", "8"):
        return Wanted(
            _sounding({bass}, up), "the chord's root" if bass == root else "its bass note"
        )
    if tone != FIFTH:
        degree = (root + degree_semitones(chord.intervals, tone)) % 12
        return Wanted(_sounding({degree}, up), f"degree {tone}")
    if bass == fifth:
        return Wanted(_sounding({root}, up), "the chord's root")
    return Wanted(_sounding({fifth}, up), "the chord's fifth")


def passing(one: int, other: int, bass: int) -> Wanted | None:
    """A passing note to a new bass, its pitch class, between chords with these scales.

    There is none unless it could come from below as well as from above.
    """
    both = one | other
    below, above = (
        any(both >> (bass + way * step) % PITCH_CLASSES & 1 for step in (1, 2)) for way in (-1, 1)
    )
    return Wanted(0, "a passing note", both) if below and above else None


@lru_cache(maxsize=2048)
def scale(chord: Chord, up: int) -> int:
    """A chord's tones and its seven degrees; both sevenths where it has none itself.

    A diminished seventh has the scale of whole and half steps in turn.
    """
    root, steps = chord.root.pitch_class, chord.intervals
    own = {degree_semitones(steps, str(number)) for number in range(1, 8)}
    if {3, 6, 9} <= set(steps) and degree_semitones(steps, "7") == 9:
        own |= {0, 2, 3, 5, 6, 8, 9, 11}
    elif degree_semitones(steps, "7") not in steps:
        own |= {10, 11}
    return _sounding({*((root + step) % 12 for step in own), *chord.pitch_classes}, up)


def _sounding(classes: set[int], up: int) -> int:
    return mask((one + up) % 12 for one in classes)


#: The major scale's degrees, in semitones.
_MAJOR = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 11}
#: What a chord may have as its own second, third, fifth and seventh, the likeliest first.
_OWN = {2: (2, 1), 3: (4, 3, 5, 2), 5: (7, 6, 8), 7: (11, 10)}
#: What it has where it alters its fourth or its sixth.
_ALTERED = {4: 6, 6: 8}


@lru_cache(maxsize=2048)
def degree_semitones(intervals: tuple[int, ...], degree: str) -> int:
    """How far above a chord's root a written degree is, from 0 to 11.

    With b or # the degree counts in the major scale. A plain number is the chord's own tone:
    the third may be a suspended tone or, in a chord without any, the fifth; a chord without
    a seventh takes the minor one (the diminished one where its tones are stacked minor
    thirds); and 2, 4 and 6 are the major scale's unless the chord alters them.
    """
    number = (int(degree.lstrip("b#")) - 1) % 7 + 1
    if degree[0] in "b#":
        return (_MAJOR[number] + (1 if degree[0] == "#" else -1)) % 12
    has = frozenset(intervals)
    own = next((step for step in _OWN.get(number, ()) if step in has), None)
    if own is not None:
        return own
    altered = _ALTERED.get(number)
    if altered in has and altered != degree_semitones(intervals, "5"):
        return altered
    return _without_own(has, number)


def _without_own(has: frozenset[int], number: int) -> int:
    """A degree that a chord doesn't have itself."""
    if number == 2 and {3, 4} <= has:
        return 3  # a raised ninth
    if number == 3:
        return 7
    if number == 7:
        return 9 if {3, 6, 9} <= has else 10
    return _MAJOR[number]
