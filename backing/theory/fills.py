"""Built-in drum fills: what a drummer plays into the next pass, by kit, level and size.

A fill takes the last beat of a bar, or its last two where another section follows. For each
beat there is a cell for each number of steps that the beat may have: four sixteenths, three of a
triplet or of a compound beat, two eighths, or one. In a cell `-` is nothing, and a letter is a
drum; a capital is an accent. A longer beat goes on with its cell's last step.

Common practice, from memory: fills go from the snare down the toms, get louder, and are answered
by a cymbal on the next bar line; light ones stay on the rim and the snare, and brushes on the
snare's head, and both are answered by the ride. Fills of a section's last bar are the longest.
"""

from __future__ import annotations

from typing import NamedTuple, TypeAlias

from backing.theory.built_in_beats import CRASH, RIDE, RIM, SLAP, SNARE, SWIRL, TAP, TOMS
from backing.theory.general_midi import BRUSH_KIT

_HIGH, _MIDDLE, _FLOOR = TOMS

#: Drums by their letters in a cell.
LETTERS = {
    "s": SNARE,
    "r": RIM,
    "h": _HIGH,
    "m": _MIDDLE,
    "f": _FLOOR,
    "t": TAP,
    "l": SLAP,
    "w": SWIRL,
}

#: A beat of a fill, by its number of steps: 1, 2, 3 or 4.
Cell: TypeAlias = "dict[int, str]"


class Fills(NamedTuple):
    """Fills of one kind: those of one beat and of two, each kind in turns, a cell for each beat.

    A fill's velocities go evenly from `softest`, for its first stroke, to `loudest`. An accent
    is louder by `ACCENT`. `cymbal` answers it on the next bar line at velocity `answer`.
    """

    small: tuple[tuple[Cell, ...], ...]
    large: tuple[tuple[Cell, ...], ...]
    softest: int
    loudest: int
    cymbal: int
    answer: int


ACCENT = 10

STICKS = Fills(
    (
        ({1: "s", 2: "sM", 3: "shM", 4: "sshM"},),
        ({1: "F", 2: "sF", 3: "s-F", 4: "s-mF"},),
    ),
    (
        ({1: "s", 2: "ss", 3: "sss", 4: "Ssss"}, {1: "F", 2: "hF", 3: "hmF", 4: "hhmF"}),
        ({1: "S", 2: "Sh", 3: "S-h", 4: "S-sh"}, {1: "F", 2: "mF", 3: "mfF", 4: "mmfF"}),
    ),
    66,
    98,
    CRASH,
    100,
)
LIGHT = Fills(
    (
        ({1: "s", 2: "-s", 3: "-ss", 4: "--ss"},),
        ({1: "r", 2: "rs", 3: "r-s", 4: "r-s-"},),
    ),
    (
        ({1: "r", 2: "rs", 3: "r-s", 4: "r-ss"}, {1: "s", 2: "sf", 3: "ssf", 4: "s-sf"}),
        ({1: "s", 2: "ss", 3: "s-s", 4: "s--s"}, {1: "f", 2: "sf", 3: "-sf", 4: "-ssf"}),
    ),
    50,
    74,
    RIDE,
    84,
)
BRUSHED = Fills(
    (
        ({1: "l", 2: "tL", 3: "t-L", 4: "t-tL"},),
        ({1: "w", 2: "wt", 3: "wtt", 4: "w-tt"},),
    ),
    (
        ({1: "t", 2: "tt", 3: "ttt", 4: "tttt"}, {1: "L", 2: "tL", 3: "tlL", 4: "tltL"}),
        ({1: "w", 2: "wt", 3: "wtt", 4: "w-tt"}, {1: "f", 2: "mf", 3: "mfL", 4: "mmfL"}),
    ),
    64,
    92,
    RIDE,
    84,
)

#: How many beats a small and a large fill have, in a bar that has more than one.
SMALL_BEATS, LARGE_BEATS = 1, 2
#: A beat of one unit has three steps where the beat plays triplets. Otherwise it has four or, if
#: it is shorter than this in seconds, two.
QUICK_BEAT_S = (45, 100)


def fills_for(kit: int, level: str) -> Fills:
    """The fills that fit a kit and a level."""
    if kit == BRUSH_KIT:
        return BRUSHED
    return LIGHT if level == "light" else STICKS
