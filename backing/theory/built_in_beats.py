"""Built-in drum beats, fills and what else a drummer adds: one table of beats by meter.

A line has one character a step: `X` is an accented stroke, `x` a plain one, `o` a soft
one between the others, `-` none. Common practice, from memory: the backbeat is on 2 and
4, in half-time on 3, in 6/8 on the second beat; a shuffle plays the first and third of
each triplet; a train beat is brushes in sixteenths, leaning on every "and"; a waltz is
low, high, high.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from backing.theory.general_midi import percussion_number

#: The drums of the kit by General MIDI number.
KICK, SNARE, RIM = (percussion_number(name) for name in ("kick", "snare", "side stick"))
HAT, OPEN_HAT, FOOT = (
    percussion_number(f"{which} hi-hat") for which in ("closed", "open", "pedal")
)
RIDE, CRASH = percussion_number("ride"), percussion_number("crash")
TOMS = tuple(percussion_number(name) for name in ("hi-mid tom", "low-mid tom", "floor tom"))

#: What the lines of a beat are played on; `brush` is the snare, stroked.
DRUMS = {"kick": KICK, "snare": SNARE, "brush": SNARE, "hat": HAT, "foot": FOOT, "ride": RIDE}
#: How loud the drums are at each level, in percent.
LEVELS = {"light": 72, "medium": 100, "full": 112}


class Beat(NamedTuple):
    """A beat in the meters that it fits: a step's length, and a line for each drum."""

    name: str
    meters: tuple[str, ...]
    step_whole: Fraction
    lines: tuple[tuple[str, str], ...]


_FOURS = ("4/4", "4/4 (2+2)", "2/4")
_SIXES = ("6/8", "6/8 (3+3)", "12/8", "12/8 (3+3+3+3)")
_EIGHTH, _TRIPLET, _SIXTEENTH = Fraction(1, 8), Fraction(1, 12), Fraction(1, 16)

BEATS = (
    Beat(
        "eighths",
        _FOURS,
        _EIGHTH,
        (("hat", "XxXxXxXx"), ("snare", "--X---X-"), ("kick", "X---Xx--")),
    ),
    Beat(
        "shuffle",
        _FOURS,
        _TRIPLET,
        (("hat", "X-xX-xX-xX-x"), ("snare", "---X-----X--"), ("kick", "X----xX-----")),
    ),
    Beat(
        "half-time",
        _FOURS,
        _EIGHTH,
        (("hat", "XxXxXxXx"), ("snare", "----X---"), ("kick", "X--x---x")),
    ),
    Beat(
        "brushes",
        _FOURS,
        _EIGHTH,
        (("brush", "x-Xox-Xo"), ("foot", "--x---x-"), ("kick", "o---o---")),
    ),
    Beat(
        "brushes", ("3/4",), _EIGHTH, (("brush", "x-XoXo"), ("foot", "--x-x-"), ("kick", "o-----"))
    ),
    Beat(
        "train",
        _FOURS,
        _SIXTEENTH,
        (
            ("brush", "ooXoooXoooXoooXo"),
            ("foot", "----x-------x---"),
            ("kick", "X---x---X---x---"),
        ),
    ),
    Beat("waltz", ("3/4",), _EIGHTH, (("hat", "X-xxx-"), ("snare", "--x-x-"), ("kick", "X-----"))),
    Beat(
        "six-eight",
        _SIXES,
        _EIGHTH,
        (("hat", "XxxXxx"), ("snare", "---X--"), ("kick", "X----x")),
    ),
    Beat(
        "five",
        ("5/4", "5/4 (3+2)"),
        _EIGHTH,
        (("hat", "XxXxXxXxXx"), ("snare", "----X---X-"), ("kick", "X--x--X---")),
    ),
    Beat(
        "five",
        ("5/4 (2+3)",),
        _EIGHTH,
        (("hat", "XxXxXxXxXx"), ("snare", "--X-----X-"), ("kick", "X---X--x--")),
    ),
    Beat(
        "seven",
        ("7/8", "7/8 (2+2+3)"),
        _EIGHTH,
        (("hat", "XxXxXxx"), ("snare", "----X--"), ("kick", "X-x---x")),
    ),
    Beat(
        "seven",
        ("7/4", "7/4 (4+3)"),
        _EIGHTH,
        (("hat", "XxXxXxXxXxXxXx"), ("snare", "--X---X-----X-"), ("kick", "X---Xx--X-----")),
    ),
)
#: A meter's plain beat, where no other is chosen, is the first of these that fits it.
PLAIN_BEATS = ("eighths", "waltz", "six-eight", "five", "seven")

#: Any other meter's plain beat: what is struck on each beat of a group, by its number of
#: beats; a longer group goes on as a group of two does. K is the kick, S the snare, s the
#: snare softly, - neither.
GROUPS = {1: "K", 2: "KS", 3: "K-S"}
#: A bar of three even beats that aren't grouped, and of three uneven ones (7/8).
EVEN_THREE, UNEVEN_THREE = "Kss", "KKS"

#: What a fill runs over, in order, and a light one; and what leads into bar 1.
FILL, LIGHT_FILL, LEAD_IN = (SNARE, *TOMS), (SNARE,), SNARE
#: What is struck with a chord that stops or rings, played normally, softly (`light` or
#: `brushes`), and `light`.
STOP, LIGHT_STOP = (KICK, SNARE), (KICK, RIM)
RING, SOFT_RING = (KICK, CRASH), (KICK, RIDE)
