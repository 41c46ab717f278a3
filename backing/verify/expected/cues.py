"""When a part that holds chords sounds each of them: by its marks, at N.C., and where it is off.

Places are quarters from the file's start.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from backing.theory.chords import Chord
from backing.verify.expected.records import PlayedChord, PlayedRound

#: The longest that a stopped chord may sound: an eighth.
STOPPED_QUARTERS = Fraction(1, 2)


class SoundingChord(NamedTuple):
    """A chord that a part plays: from `played.struck` on it sounds, and no longer than `until`.

    `harmony` is the chord of `played`, never N.C.
    """

    played: PlayedChord
    harmony: Chord
    until: Fraction

    @property
    def stops(self) -> bool:
        """Whether it is played short, so that it may also end before `until`."""
        return "stop" in self.played.marks

    @property
    def is_struck_once(self) -> bool:
        """Whether a mark leaves it without the strokes of a pattern."""
        return not self.played.marks.isdisjoint(("stop", "ring"))


def sounding_chords(played: PlayedRound, part: str) -> Iterator[SoundingChord]:
    """The chords of a round that a part plays, in order.

    After a stop, at N.C. and where the part is off, it is silent until its next chord. A ring
    lasts until the next chord or, at the end of the file, as long as the file lets it.
    """
    for number, chord in enumerate(played.chords, 1):
        if chord.chord is None or not chord.plan.parts[part].on:
            continue
        until = chord.end
        if "stop" in chord.marks:
            until = min(until, chord.struck + STOPPED_QUARTERS)
        elif number == len(played.chords):
            until = played.sounds_until
        yield SoundingChord(chord, chord.chord, until)
