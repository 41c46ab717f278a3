"""Built-in drum beats and what else a drummer strikes: one table of beats by meter.

A line has one character a step: `X` is an accented stroke, `x` a plain one, `o` a soft
one between the others, `-` none. Common practice, from memory, where no source is named: the
backbeat is on 2 and 4, in half-time on 3, in 6/8 on the second beat; a shuffle plays the first
and third of each triplet, with ghost notes on the snare before the backbeat; swing is the ride's
quarter and two eighths, with the hi-hat's foot on 2 and 4 and a soft kick; a train beat is
brushes in sixteenths, leaning on every "and"; with brushes one hand sweeps and the other taps
the ride's rhythm; a waltz is low, high, high.

Bars go in phrases of four. The second and the fourth bar of a phrase have lines of their own for
some drums: a stroke more of the kick, an open hi-hat, other taps.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple, TypeAlias

from backing.theory.general_midi import BRUSH_KIT, STANDARD_KIT, percussion_number

#: The drums of the kit by General MIDI number.
KICK, SNARE, RIM = (percussion_number(name) for name in ("kick", "snare", "side stick"))
HAT, OPEN_HAT, FOOT = (
    percussion_number(f"{which} hi-hat") for which in ("closed", "open", "pedal")
)
RIDE, CRASH = percussion_number("ride"), percussion_number("crash")
TOMS = tuple(percussion_number(name) for name in ("hi-mid tom", "low-mid tom", "floor tom"))
#: Those of the brush set that the standard kit doesn't have.
TAP, SLAP, SWIRL = 38, 39, 40

#: What the lines of a beat are played on.
DRUMS = {
    "kick": KICK,
    "snare": SNARE,
    "tap": TAP,
    "slap": SLAP,
    "swirl": SWIRL,
    "hat": HAT,
    "open": OPEN_HAT,
    "foot": FOOT,
    "ride": RIDE,
}
#: How loud the drums are at each level, in percent of a velocity. With loudness following its
#: square, full is 2 LU above medium, and light 4 LU below it.
LEVELS = {"light": 80, "medium": 100, "full": 112}
#: The same for a light beat on the standard kit, which is softer already for the strokes that it
#: leaves out: 4 LU as well, measured with free soundfonts.
THINNED = 92

#: A drum and its steps, for each drum.
Lines: TypeAlias = "tuple[tuple[str, str], ...]"


class Beat(NamedTuple):
    """A beat in the meters that it fits: a step's length, and a line for each drum.

    `second` and `fourth` are the lines that differ in the second and the fourth bar of a phrase;
    the other drums go on. `kit` is a General MIDI program. Where `swings`, its eighths
    are swung as the form says or, in a form without swing, in triplets.
    """

    name: str
    meters: tuple[str, ...]
    step_whole: Fraction
    lines: Lines
    second: Lines
    fourth: Lines
    kit: int = STANDARD_KIT
    swings: bool = False


#: How many bars a phrase has, and which of them have lines of their own, from 0.
PHRASE = 4
SECOND, FOURTH = 1, 3

_FOURS = ("4/4", "4/4 (2+2)", "2/4")
_SIXES = ("6/8", "6/8 (3+3)", "12/8", "12/8 (3+3+3+3)")
_EIGHTH, _TRIPLET, _SIXTEENTH = Fraction(1, 8), Fraction(1, 12), Fraction(1, 16)

BEATS = (
    Beat(
        "eighths",
        _FOURS,
        _EIGHTH,
        (("hat", "XxXxXxXx"), ("snare", "--X---X-"), ("kick", "X---Xx--")),
        (("kick", "X--XX---"),),
        (("hat", "XxX-XxX-"), ("open", "---x---x")),
    ),
    Beat(
        "shuffle",
        _FOURS,
        _TRIPLET,
        (("hat", "X-xX-xX-xX-x"), ("snare", "--oX----oX--"), ("kick", "X----xX-----")),
        (("snare", "---X-o--oX-o"), ("kick", "X-X--xX-----")),
        (("hat", "X-xX--X-xX--"), ("open", "-----x-----x")),
    ),
    Beat(
        "swing",
        _FOURS,
        _EIGHTH,
        (("ride", "x-Xxx-Xx"), ("foot", "--X---X-"), ("kick", "o-o-o-o-")),
        (("ride", "xxX-x-Xx"), ("snare", "---o---o")),
        (("ride", "x-X-x-Xx"), ("snare", "-----o-x")),
        swings=True,
    ),
    Beat(
        "swing",
        ("3/4",),
        _EIGHTH,
        (("ride", "x-Xxx-"), ("foot", "--X---"), ("kick", "o-----")),
        (("ride", "x-X-xx"), ("snare", "---o--")),
        (("ride", "xxX-x-"), ("snare", "---o-x")),
        swings=True,
    ),
    Beat(
        "half-time",
        _FOURS,
        _EIGHTH,
        (("hat", "XxXxXxXx"), ("snare", "----X---"), ("kick", "X--x---x")),
        (("kick", "XX-x--x-"),),
        (("hat", "XxX-XxX-"), ("open", "---x---x")),
    ),
    Beat(
        "brushes",
        _FOURS,
        _EIGHTH,
        (
            ("swirl", "x-x-x-x-"),
            ("tap", "x--ox--o"),
            ("slap", "--x---x-"),
            ("foot", "--x---x-"),
            ("kick", "o---o---"),
        ),
        (("tap", "xo-ox--o"),),
        (("tap", "x---x-oo"),),
        BRUSH_KIT,
    ),
    Beat(
        "brushes",
        ("3/4",),
        _EIGHTH,
        (
            ("swirl", "x-x-x-"),
            ("tap", "x--o-o"),
            ("slap", "--x-x-"),
            ("foot", "--x-x-"),
            ("kick", "o-----"),
        ),
        (("tap", "xo-o-o"),),
        (("tap", "x----o"),),
        BRUSH_KIT,
    ),
    Beat(
        "train",
        _FOURS,
        _SIXTEENTH,
        (("tap", "ooXoooXoooXoooXo"), ("foot", "----x-------x---"), ("kick", "x---o---x---o---")),
        (("kick", "x---o-o-x---o---"),),
        (("slap", "------x-------x-"),),
        BRUSH_KIT,
    ),
    Beat(
        "waltz",
        ("3/4",),
        _EIGHTH,
        (("hat", "X-xxx-"), ("snare", "--x-x-"), ("kick", "X-----")),
        (("kick", "X----X"),),
        (("hat", "XxxxXx"), ("snare", "--x-xo")),
    ),
    Beat(
        "six-eight",
        _SIXES,
        _EIGHTH,
        (("hat", "XxxXxx"), ("snare", "---X--"), ("kick", "X----x")),
        (("kick", "X-X--x"),),
        (("hat", "Xx-Xx-"), ("open", "--x--x")),
    ),
    Beat(
        "five",
        ("5/4", "5/4 (3+2)"),
        _EIGHTH,
        (("hat", "XxXxXxXxXx"), ("snare", "----X---X-"), ("kick", "X--x--X---")),
        (("kick", "X----XX---"),),
        (("hat", "XxXxX-XxX-"), ("open", "-----x---x")),
    ),
    Beat(
        "five",
        ("5/4 (2+3)",),
        _EIGHTH,
        (("hat", "XxXxXxXxXx"), ("snare", "--X-----X-"), ("kick", "X---X--x--")),
        (("kick", "X--XX--x--"),),
        (("hat", "XxX-XxXxX-"), ("open", "---x-----x")),
    ),
    Beat(
        "seven",
        ("7/8", "7/8 (2+2+3)"),
        _EIGHTH,
        (("hat", "XxXxXxx"), ("snare", "----X--"), ("kick", "X-x---x")),
        (("kick", "X-x--Xx"),),
        (("hat", "XxX-Xx-"), ("open", "---x--x")),
    ),
    Beat(
        "seven",
        ("7/4", "7/4 (4+3)"),
        _EIGHTH,
        (("hat", "XxXxXxXxXxXxXx"), ("snare", "--X---X-----X-"), ("kick", "X---Xx--X-----")),
        (("kick", "X--XXx--X-----"),),
        (("hat", "XxXxXxX-XxXxX-"), ("open", "-------x-----x")),
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
#: In place of such a bar's last hi-hat, in the second and the fourth bar of a phrase. In the
#: fourth, the snare is struck softly with it or, if it is struck there anyway, the kick.
LAST_OF_SECOND, LAST_OF_FOURTH = "foot", "open"

#: What leads into bar 1.
LEAD_IN = SNARE
#: What is struck with a chord that stops or rings, played normally, at level light, with brushes.
STOP, LIGHT_STOP, BRUSH_STOP = (KICK, SNARE), (KICK, RIM), (KICK, SLAP)
RING, SOFT_RING = (KICK, CRASH), (KICK, RIDE)


def is_brushed(beat: object) -> bool:
    """Whether a beat, by its name, is for the brush set where its meter has it."""
    return any(row.name == beat and row.kit == BRUSH_KIT for row in BEATS)
