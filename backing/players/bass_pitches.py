"""Which pitch each note of a bass line has: its octave, its range, and the notes of a walk.

Lines keep low: a chord's first note follows the one before by the smaller leap. A walk has a
register of its own, around `WALK_MIDDLE`, so that it has room on both sides and comes to a root
from above as well as from below. Pitches are note numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from backing.players.degrees import own_scale, semitones
from backing.players.walking import APPROACHES, Harmony, Room, Turn, between
from backing.theory.bass_lines import FIFTH, ROOT, WALK_MIDDLE, WALK_SPREAD
from backing.theory.chords import Chord

#: What a walk's next root costs: each semitone from the one before, and from the middle.
_LEAP, _ASIDE = 3, 2
#: What a passing note costs besides its step, where it repeats the fifth or the root, or where the
#: chord alone doesn't say whether the key has it; and the widest leap to it that costs nothing.
REPEATED, ROOT_AGAIN, UNSURE, EASY_LEAP = 20, 3, 3, 5


class Range(NamedTuple):
    """The lowest and the highest note that a line has; from the lowest open string to the twelfth
    fret of the highest, and two octaves at least."""

    lowest: int
    highest: int

    @property
    def highest_home(self) -> int:
        """The highest root of a written line, with an octave above it."""
        return self.highest - 12

    @property
    def walk_middle(self) -> int:
        """The middle of a walk's register."""
        room = WALK_SPREAD + 2
        return min(max(WALK_MIDDLE, self.lowest + room), self.highest - room)


class Step(NamedTuple):
    """A note of a walk: whether its beat is a strong one, and whether it opens a bar."""

    strong: bool
    opens_bar: bool


def range_of(tuning: Sequence[int]) -> Range:
    """The range of a bass that is tuned so."""
    return Range(min(tuning), max(max(tuning) + 12, min(tuning) + 24))


def nearest(pitch_class: int, before: int | None, reach: Range) -> int:
    """The pitch of a class, within a range, that best follows the one before.

    It is the smaller leap, unless the larger one goes down and by at most three
    semitones more: so a line that wanders up comes back. The first note is the lowest.
    """
    lowest = reach.lowest
    choices = range(lowest + (pitch_class - lowest) % 12, reach.highest + 1, 12)
    if before is None:
        return choices[0]
    return min(choices, key=lambda pitch: 4 * abs(pitch - before) + pitch)


def walking_home(pitch_class: int, before: int | None, reach: Range) -> int:
    """The pitch of a class, within a walk's register, that best follows the one before."""
    middle = reach.walk_middle

    def cost(pitch: int) -> int:
        leap = 0 if before is None else abs(pitch - before)
        return _LEAP * leap + _ASIDE * abs(pitch - middle)

    return min(_in_register(pitch_class, middle), key=cost)


def other_octave(home: int, reach: Range) -> int:
    """The same note in the other octave of a walk's register, if it has one there."""
    places = _in_register(home % 12, reach.walk_middle)
    return next((pitch for pitch in places if pitch != home), home)


def _in_register(pitch_class: int, middle: int) -> range:
    lowest = middle - WALK_SPREAD
    return range(lowest + (pitch_class - lowest) % 12, middle + WALK_SPREAD + 1, 12)


def tone_pitch(tone: str, chord: Chord, first: int, capo: int, reach: Range) -> int:
    """A tone of a chord whose bass is at `first`, moved by octaves into the range."""
    if tone in (ROOT, "1"):
        return first
    if tone == "8":
        return _folded(first + 12, reach)
    root = first - (first - chord.root.pitch_class - capo) % 12
    if tone != FIFTH:
        low = root if root >= reach.lowest else root + 12
        return _folded(low + semitones(chord.intervals, tone), reach)
    fifth = root + semitones(chord.intervals, "5")
    below = (first - fifth) % 12 or (first - root) % 12  # under C/G the other note is C
    return first - below if first - below >= reach.lowest else first - below + 12


def _folded(pitch: int, reach: Range) -> int:
    while pitch > reach.highest:
        pitch -= 12
    return pitch if pitch >= reach.lowest else pitch + 12


def harmony_of(chord: Chord, capo: int) -> Harmony:
    """A chord's tones and scale as they sound.

    Without a seventh of its own it allows both; a diminished seventh has its eight-note scale.
    """
    root = chord.root.pitch_class + capo
    steps = set(own_scale(chord.intervals))
    if own_scale(chord.intervals)[6] not in chord.intervals:
        steps |= {10, 11}
    elif own_scale(chord.intervals)[6] == 9:
        steps |= {8, 11}
    tones = frozenset((tone + capo) % 12 for tone in chord.pitch_classes)
    return Harmony(tones, frozenset((root + step) % 12 for step in steps) | tones)


def passes_to(chord: Chord, following: Chord) -> bool:
    """Whether there is a passing note on both sides of the next chord's bass, and it is new."""
    if chord.bass_class == following.bass_class:
        return False
    steps = _passing_steps(chord, following)
    return bool(steps) and min(steps) < 0 < max(steps)


def passing_pitch(chord: Chord, following: Chord, before: int, target: int, reach: Range) -> int:
    """The passing note between a chord's fifth and the next chord's bass.

    It is a step from the bass. Of those within reach the cheapest is played: in the scale of the
    chord that sounds, a half step rather than a whole one, near the fifth, and neither that note
    again nor the root.
    """
    root = (target - following.bass_class + chord.root.pitch_class) % 12
    sure = {(root + step) % 12 for step in _sure_steps(chord)}

    def cost(pitch: int) -> tuple[int, int]:
        own = (pitch == before) * REPEATED + (pitch % 12 == root) * ROOT_AGAIN
        own += (pitch % 12 not in sure) * UNSURE
        far = max(0, abs(pitch - before) - EASY_LEAP)
        return own + abs(pitch - target) + far, pitch

    steps = _passing_steps(chord, following)
    return min((target + s for s in steps if reach.lowest <= target + s <= reach.highest), key=cost)


def _sure_steps(chord: Chord) -> frozenset[int]:
    """The degrees that a chord has in any key: not a minor chord's sixth or another's seventh."""
    *first_five, sixth, _ = own_scale(chord.intervals)
    sure = {*first_five, *chord.intervals}
    return frozenset(sure | ({10} if 3 in chord.intervals else {sixth}))


def _passing_steps(chord: Chord, following: Chord) -> list[int]:
    """The half and whole steps from the next chord's bass that are in one of the two scales."""
    scales = harmony_of(chord, 0).scale | harmony_of(following, 0).scale
    return [step for step in (-1, 1, -2, 2) if (following.bass_class + step) % 12 in scales]


class Walk(NamedTuple):
    """A chord to walk through: its steps, its bass, and where it leads.

    `target` and `next_scale` are the following chord's bass and scale; there is no target where
    no chord follows at once. `turn` counts the walks, so that they differ.
    """

    chord: Chord
    steps: Sequence[Step]
    first: int
    target: int | None
    next_scale: frozenset[int]
    turn: int


def walked(walk: Walk, capo: int, reach: Range) -> list[int]:
    """A chord's walk, bar by bar: each bar starts from the bass or, in turn, from the fifth."""
    harmony = harmony_of(walk.chord, capo)
    cuts = [0, *(i for i, step in enumerate(walk.steps) if i and step.opens_bar)]
    openings = [walk.first]
    for bar in range(1, len(cuts)):
        tone = tone_pitch(FIFTH if bar % 2 else ROOT, walk.chord, walk.first, capo, reach)
        openings.append(walking_home(tone % 12, openings[-1], reach))
    room = Room(*reach, reach.walk_middle)
    pitches: list[int] = []
    stretches = zip(
        pairwise([*cuts, len(walk.steps)]), openings, [*openings[1:], walk.target], strict=True
    )
    for turn, ((cut, end), opening, goal) in enumerate(stretches, walk.turn):
        strong = tuple(step.strong for step in walk.steps[cut + 1 : end])
        changes = end == len(walk.steps)
        scale = walk.next_scale if changes else harmony.scale
        manner = Turn(
            _starts_upward(opening, goal, turn, room.middle),
            APPROACHES[turn % len(APPROACHES)] if changes else None,
        )
        pitches += [opening, *between(opening, goal, strong, harmony, scale, manner, room)]
    return pitches


def _starts_upward(opening: int, goal: int | None, turn: int, middle: int) -> bool:
    """Toward the goal; to the same note, by turns up and down; with no goal, to the middle."""
    if goal is None:
        return opening < middle
    return turn % 2 == 0 if goal == opening else goal > opening
