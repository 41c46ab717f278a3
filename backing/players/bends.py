"""Notes whose string is bent, given to tracks where nothing else sounds with them.

A MIDI channel has one pitch wheel, which bends everything that sounds on it. So a part's
bent notes go to further tracks with the same sound, one for each note that sounds at once,
but no more than a hand has fingers to bend with; a note beyond those stays where it was,
unbent. A wheel goes back to rest where its track's next note starts or, since a string
dies away after a note's end, an eighth after that end.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from operator import attrgetter
from typing import TypeAlias

from backing.score import Bend, Note

MOST_TRACKS = 4
DYING_WHOLE = Fraction(1, 8)

#: A track's notes and what its wheel does.
Line: TypeAlias = "tuple[tuple[Note, ...], tuple[Bend, ...]]"


def lines(notes: Sequence[Note], end_whole: Fraction) -> list[Line]:
    """A part's notes by track: first those without bends, then the tracks of bent ones.

    Args:
        end_whole: where the file ends.
    """
    bent = sorted((note for note in notes if note.bends), key=attrgetter("start_whole"))
    if not bent:
        return [(tuple(notes), ())]
    free: list[list[Note]] = []
    alone: set[int] = set()
    for note in bent:
        line = next((line for line in free if line[-1].end_whole <= note.start_whole), None)
        if line is None and len(free) < MOST_TRACKS:
            line = []
            free.append(line)
        if line is not None:
            line.append(note)
            alone.add(id(note))
    plain = tuple(note._replace(bends=()) for note in notes if id(note) not in alone)
    return [(plain, ()), *(_line(line, end_whole) for line in free)]


def _line(notes: Sequence[Note], end_whole: Fraction) -> Line:
    bends: list[Bend] = []
    for note, following in pairwise([*notes, None]):
        assert note is not None
        ends = min(note.end_whole + DYING_WHOLE, end_whole)
        if following is not None:
            ends = min(ends, following.start_whole)
        bends += [Bend(note.start_whole, Fraction(0)), *note.bends, Bend(ends, Fraction(0))]
    return tuple(note._replace(bends=()) for note in notes), tuple(bends)
