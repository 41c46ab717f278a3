"""What the pad must play: where each chord starts and ends, and which tones must sound in it.

The form fixes when: from each chord's start to its end four voices sound, and outside of
chords none. A voice is struck where a chord starts, and nowhere else. It may go on into the
next chord if that has its tone, unless the chord has a mark, follows a rest, starts a round,
changes the pad's sound, or is played on a piano, which dies away: there all voices are struck.

What the four voices play is bounded:
- they have four pitches, from E3 to E5, all of them tones of the chord without its slash bass,
  which is the bass's;
- a chord of up to four tones has all of them, and doubles any to make four;
- a larger one has four different tones. It leaves out its perfect fifth, its root or its
  ninth; if it has too few of those, its fourth and its sixth as well, and then any;
- they are open: the outer ones are more than an octave apart, and at most a twelfth;
- from chord to chord no two voices that move go in parallel fifths or octaves, if the tones that
  sound can be placed so that none do.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import combinations
from typing import NamedTuple, TypeAlias

from backing.form.parts import PARTS
from backing.theory.chords import Chord
from backing.theory.general_midi import SUSTAINED
from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.cues import SoundingChord, sounding_chords
from backing.verify.expected.moments import Moment, mask
from backing.verify.expected.records import Expected, PlayedRound

#: The pitches of a chord, low to high.
Pitches: TypeAlias = tuple[int, ...]
#: E3 and E5.
LOWEST, HIGHEST = 52, 76
VOICES = 4
#: How many semitones lie between the outer voices.
NARROWEST, WIDEST = 13, 19
#: The intervals between voices, without octaves, that mustn't move in parallel.
UNISON, FIFTH = 0, 7
#: In semitones above the root: what a chord of more than four tones may leave out, and what
#: else if that isn't enough.
FIRST_LEFT_OUT, NEXT_LEFT_OUT = frozenset((7, 0, 2)), frozenset((5, 9))


class Voicing(NamedTuple):
    """Pitch classes as bits: a chord's tones, those that must sound, and how many must differ."""

    tones: int
    needed: int
    different: int


class PadChord(NamedTuple):
    """A chord: its start and its end in seconds; one that is `stopped` may also end sooner.

    With `goes_on` its voices may have been struck in the chord before. One that `opens` starts a
    round: no chord leads to it.
    """

    at_s: float
    until_s: float
    voicing: Voicing
    goes_on: bool
    stopped: bool
    opens: bool


class ExpectedPad(NamedTuple):
    """What the pad must play, in order; moments only where at least one voice must be struck."""

    part: str
    moments: tuple[Moment, ...] = ()
    chords: tuple[PadChord, ...] = ()


def expect_pad(expected: Expected, part: str, clock: Clockwork) -> ExpectedPad:
    """Work out what the pad must play in a file."""
    chords = tuple(
        chord for played in expected.played for chord in _chords_of_round(played, part, clock)
    )
    return ExpectedPad(part, tuple(_moments(chords)), chords)


def _chords_of_round(played: PlayedRound, part: str, clock: Clockwork) -> Iterator[PadChord]:
    usual = next(iter(PARTS[part].programs))
    before: SoundingChord | None = None
    sound_before = ""
    for chord in sounding_chords(played, part):
        struck = chord.played.struck
        sound = chord.played.plan.parts[part].values.get("sound") or usual
        follows = before is not None and before.until == struck and not chord.played.marks
        holds = sound == sound_before and PARTS[part].programs[sound] in SUSTAINED
        yield PadChord(
            clock.seconds(struck),
            clock.seconds(chord.until),
            voicing(chord.harmony, chord.played.up % 12),
            follows and holds,
            chord.stops,
            before is None,
        )
        before, sound_before = chord, sound


def _moments(chords: tuple[PadChord, ...]) -> Iterator[Moment]:
    tones_before = 0
    for chord in chords:
        if not chord.goes_on or chord.voicing.needed & ~tones_before:
            yield Moment(chord.at_s, chord.voicing.tones)
        tones_before = chord.voicing.tones


@lru_cache(maxsize=2048)
def voicing(chord: Chord, up: int) -> Voicing:
    """What may and must sound of a chord that sounds `up` semitones higher than written."""
    steps = frozenset(chord.intervals)
    too_many = len(steps) - VOICES
    spared: frozenset[int] = frozenset()
    for more in (FIRST_LEFT_OUT, NEXT_LEFT_OUT, steps):
        if len(spared) < too_many:
            spared |= steps & more
    root = chord.root.pitch_class + up
    return Voicing(
        mask((root + step) % 12 for step in steps),
        mask((root + step) % 12 for step in steps - spared),
        min(VOICES, len(steps)),
    )


# From chord to chord.


def in_parallel(before: Pitches, after: Pitches) -> bool:
    """Whether two voices that move go in parallel fifths or octaves.

    A pitch in both chords is a voice that stays; the others follow one another low to high.
    """
    gone, new = (sorted(set(one) - set(other)) for one, other in ((before, after), (after, before)))
    for low, high in combinations(range(min(len(gone), len(new))), 2):
        interval = (gone[high] - gone[low]) % 12
        if interval in (UNISON, FIFTH) and (new[high] - new[low]) % 12 == interval:
            return True
    return False


@lru_cache(maxsize=2048)
def has_better(before: Pitches, classes: int) -> bool:
    """Whether these tones, all of them, have a place after a chord without any parallels."""
    tones = [pitch for pitch in range(LOWEST, HIGHEST + 1) if classes >> pitch % 12 & 1]
    return any(
        NARROWEST <= after[-1] - after[0] <= WIDEST
        and mask({pitch % 12 for pitch in after}) == classes
        and not in_parallel(before, after)
        for after in combinations(tones, VOICES)
    )
