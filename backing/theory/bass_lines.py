"""Built-in bass lines: which tone of the chord is played where in a bar. Common practice."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal, NamedTuple

#: The chord's root (or its slash bass), its fifth, and a step on the way to the next chord.
ROOT, FIFTH, WALK = "root", "fifth", "walk"

#: A passing note on the way from the fifth to the next chord, and the shortest that is played, in
#: seconds: four notes a second.
PASSING, SHORTEST_PASSING_S = "passing", Fraction(1, 4)

#: Where a walk lives: around the middle of E2 to C3, and how far from it, in semitones, a chord's
#: first note may be. On a bass that is tuned higher or lower, the middle is as near to that as
#: leaves a whole step beyond on both sides.
WALK_MIDDLE, WALK_SPREAD = 44, 9


class BassLine(NamedTuple):
    """Tones that take turns, one at each place."""

    places: Literal["bar line", "strong beats", "beats"]
    tones: tuple[str, ...]


BASS_LINES = {
    "roots": BassLine("bar line", (ROOT,)),
    "beats": BassLine("beats", (ROOT,)),
    "root-fifth": BassLine("strong beats", (ROOT, FIFTH)),
    "walking": BassLine("beats", (WALK,)),
}
