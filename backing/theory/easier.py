"""The easiest shape of a chord that keeps its name, for beginners.

It keeps every tone that names the chord (the root, the third or its replacement, the seventh,
added and altered tones) and a slash bass as the lowest note. It may leave out the perfect
fifth, but not of a power chord, and over a slash bass the root; only if no hand could hold the
rest also the ninth of a chord of six tones and the eleventh of a chord of seven. Low strings
needn't be struck, so the root needn't be lowest: the bass player has it. The high string is
struck if possible, because strums reach it. On fewer than six strings any tone may be lowest, the
bass after a slash too. A power chord, or a familiar shape, is replaced only by one that is much
easier. On six strings or more, shapes whose low notes blur or whose sharp ninth grates (see
`clarity`) cost more.

`strain` says how hard a shape is. All of this is our own measure, after common practice: F is
taught as xx3211 and Bb as xx0331 before their barres.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache
from itertools import product
from typing import NamedTuple

from backing.theory.chords import Chord
from backing.theory.clarity import grates, has_sharp_ninth, is_muddy
from backing.theory.familiar import familiar_shapes
from backing.theory.fingerings import best
from backing.theory.fretboard import (
    STANDARD_TUNING,
    STRINGS_WITH_BASS,
    Fingering,
    has_short_string,
)
from backing.theory.hand import REACHES, Frets, arched, assign_fingers, difficulty, index_across
from backing.theory.pitch import PitchName, spelled

_MOST_STRUCK = 6  # strings of an easy shape
_FIRST, _LAST = 5, 9  # the highest position of the index in the first search, and in the last
_NEAR = 4  # the highest fret that costs nothing: each above it costs 1

# What a shape costs besides the strain on the hand, in the same units.
_LOW, _HIGH, _THIN = 1, 3, 4  # a string not struck below or above, and fewer than four struck
_IN_ROOTS_PLACE, _OTHER_LOWEST = {7: 1, 3: 2, 4: 2}, 4  # the lowest note, in steps above the root
_LOW_INVERSION, _OPEN_FOURTH = 4, 50  # added if that is below D3, the open fourth string
_MUDDY, _GRATING = 8, 12  # see `clarity`
_ARCH = 1  # each open string between fretted ones, again: beginners mute it
_FAR = 3  # open strings together with frets above the fourth
_LEARNED = 4  # taken off for a familiar shape
_FIFTH, _TRIADS_FIFTH, _ROOT, _EXTENSION = 1, 3, 4, 6  # tones left out


class Easier(NamedTuple):
    """A shape, and in words what it leaves out; "" if it is the usual shape and complete."""

    fingering: Fingering
    left_out: str


def strain(fingering: Fingering) -> float:
    """How hard a shape is for a beginner; infinite if no hand can hold it.

    It is `hand.difficulty`, and 1 for each string that the index lies across besides its own.
    """
    fingers = fingering.fingers or assign_fingers(fingering)
    if fingers is None:
        return math.inf
    return difficulty(fingering) + index_across(fingers)


@lru_cache(maxsize=1024)
def easier(chord: Chord, tuning: tuple[int, ...] = STANDARD_TUNING) -> Easier:
    """The easiest shape of a chord that keeps its name, and what it leaves out.

    The usual shape (`fingerings.best`) stays unless a better one is no harder to hold.
    `tuning` is four to eight note numbers, lowest row first.
    """
    usual = best(chord, tuning)
    if len(chord.intervals) < 3 and chord.bass is None:
        return Easier(usual, _left_out(usual, usual, chord, tuning))
    most = strain(usual)
    found: list[tuple[float, tuple[int, ...], Fingering]] = []
    for needed, highest in (
        (_names(chord, True), _FIRST),
        (_names(chord, True), _LAST),
        (_names(chord, False), _LAST),
    ):
        for frets in _shapes(chord, tuning, needed, highest):
            shape = Fingering(frets)
            order = tuple(-1 if fret is None else fret for fret in frets)
            if strain(shape) <= most:
                found.append((_weight(shape, chord, tuning), order, shape))
        if found:
            break
    weight, _, shape = min(found, default=(math.inf, (), usual))
    if weight >= _weight(usual, chord, tuning):
        shape = usual
    return Easier(shape, _left_out(shape, usual, chord, tuning))


def _names(chord: Chord, whole: bool) -> frozenset[int]:
    """The pitch classes that name a chord; fewer of them if `whole` is False."""
    steps = set(chord.intervals)
    kept = set(steps)
    if len(steps) > 2:
        kept.discard(7)
    if chord.bass_class != chord.root.pitch_class:
        kept.discard(0)
    if not whole:
        kept -= {2} if len(steps) == 6 else {2, 5} if len(steps) >= 7 else set()
    return frozenset((chord.root.pitch_class + step) % 12 for step in kept) | {chord.bass_class}


def _shapes(
    chord: Chord, tuning: tuple[int, ...], needed: frozenset[int], highest: int
) -> Iterator[Frets]:
    """Strings side by side, three to six, with every tone needed; each shape once."""
    strings = len(tuning)
    slash = chord.bass_class != chord.root.pitch_class and strings >= STRINGS_WITH_BASS
    for position in range(highest + 1):
        window = (0, *range(position, position + REACHES[strings] + 1)) if position else (0,)
        choices = [
            [fret for fret in window if (note + fret) % 12 in chord.pitch_classes]
            for note in tuning
        ]
        if has_short_string(tuning):
            choices[0] = [fret for fret in choices[0] if fret == 0]
        for first, last in _spans(strings):
            before, after = (None,) * first, (None,) * (strings - 1 - last)
            for frets in product(*choices[first : last + 1]):
                if position and position not in frets:
                    continue
                notes = [note + fret for note, fret in zip(tuning[first:], frets, strict=False)]
                if slash and min(notes) % 12 != chord.bass_class:
                    continue
                if needed <= {note % 12 for note in notes}:
                    yield (*before, *frets, *after)


@lru_cache(maxsize=8)
def _spans(strings: int) -> tuple[tuple[int, int], ...]:
    """The first and last string of a shape, from 0: it ends on one of the two highest."""
    return tuple(
        (first, last)
        for first in range(strings - 2)
        for last in (strings - 1, strings - 2)
        if 2 <= last - first < _MOST_STRUCK
    )


def _weight(shape: Fingering, chord: Chord, tuning: tuple[int, ...]) -> float:
    """What a shape costs in all; the cheapest is taken."""
    frets = shape.frets
    struck = [string for string, fret in enumerate(frets) if fret is not None]
    weight = strain(shape) + _LOW * struck[0] + _HIGH * (len(frets) - 1 - struck[-1])
    if len(struck) < 4:
        weight += _THIN
    weight += _far_weight(frets) + _ARCH * arched(frets) + _unclear_weight(shape, chord, tuning)
    return weight + sum(_missing_weight(step, chord) for step in _missing(shape, chord, tuning))


def _far_weight(frets: Frets) -> int:
    """What frets up the neck cost, and open strings together with them."""
    above = max((fret for fret in frets if fret), default=0) - _NEAR
    return above + _FAR * (0 in frets) if above > 0 else 0


def _unclear_weight(shape: Fingering, chord: Chord, tuning: tuple[int, ...]) -> int:
    """What blurred, grating or other lowest notes cost; a familiar shape costs less."""
    if len(tuning) < STRINGS_WITH_BASS:
        return -_LEARNED * _is_taught(shape, chord, tuning)
    notes = sorted(note for note in shape.pitches(tuning) if note is not None)
    if _is_taught(shape, chord, tuning) and notes[0] % 12 == chord.bass_class:
        return -_LEARNED
    harsh = has_sharp_ninth(chord.intervals) and grates(notes, chord.root.pitch_class)
    weight = _MUDDY * is_muddy(notes) + _GRATING * harsh
    if notes[0] % 12 != chord.bass_class:
        step = (notes[0] - chord.root.pitch_class) % 12
        return (
            weight
            + _IN_ROOTS_PLACE.get(step, _OTHER_LOWEST)
            + _LOW_INVERSION * (notes[0] < _OPEN_FOURTH)
        )
    return weight


def _is_taught(shape: Fingering, chord: Chord, tuning: tuple[int, ...]) -> bool:
    """Whether this shape of a chord is taught as it stands."""
    return any(taught and frets == shape.frets for frets, taught in familiar_shapes(chord, tuning))


def _missing(shape: Fingering, chord: Chord, tuning: tuple[int, ...]) -> list[int]:
    """The steps above the root that a shape doesn't sound."""
    sounding = {note % 12 for note in shape.pitches(tuning) if note is not None}
    root = chord.root.pitch_class
    return [step for step in chord.intervals if (root + step) % 12 not in sounding]


def _missing_weight(step: int, chord: Chord) -> int:
    if step == 7:
        return _FIFTH if len(chord.intervals) > 3 else _TRIADS_FIFTH
    return _ROOT if step == 0 else _EXTENSION


def _left_out(shape: Fingering, usual: Fingering, chord: Chord, tuning: tuple[int, ...]) -> str:
    """In words: strings that only the usual shape plays, then missing tones."""
    words = []
    silent = shape.frets.count(None)
    if silent > usual.frets.count(None):
        words.append(f"{_COUNTS[silent]} string{'s' * (silent > 1)} not played")
    names = {0: "root", 2: "ninth", 5: "eleventh", 7: "fifth"}
    words += [
        f"no {names.get(step, 'tone')} ({_tone(chord, step)})"
        for step in _missing(shape, chord, tuning)
    ]
    lowest = min(note for note in shape.pitches(tuning) if note is not None) % 12
    if lowest != chord.bass_class and len(tuning) >= STRINGS_WITH_BASS:
        step = (lowest - chord.root.pitch_class) % 12
        words.append(f"{_tone(chord, step)} lowest, not {chord.bass or chord.root}")
    return ", ".join(words)


_COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven")


def _tone(chord: Chord, step: int) -> PitchName:
    """A chord's tone by name, spelled with the root's kind of sign."""
    root = chord.root
    flats = root.accidental < 0 or (root.letter == "F" and not root.accidental)
    return spelled(root.pitch_class + step, flats or step in (3, 10))
