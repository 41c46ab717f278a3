"""Built-in beats: one table of rows, and a plain beat made for every other meter.

A row is written as a drummer counts it: a character a step, `X` accented, `x` plain, `o`
a soft stroke between the others, `-` none. A named beat is played where its row lists the
meter (a shorter bar plays its beginning, a longer one repeats it); in any other meter it
gives way to that meter's plain beat, which is the first listed row that fits, or else
kick and snare by turns over the beats and a hi-hat between them. Common practice, from
memory: backbeat on 2 and 4, in half-time on 3, in 6/8 on the second beat; a shuffle is
the first and third of each triplet; a train beat is brushes in sixteenths, leaning on
every "and"; a waltz is low, high, high.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from backing.theory.general_midi import percussion_number
from backing.theory.rhythm import Meter

#: The drums, by General MIDI; `brush` is the snare, stroked.
KICK, SNARE, RIM = (percussion_number(name) for name in ("kick", "snare", "side stick"))
HAT, OPEN_HAT, FOOT = (
    percussion_number(f"{which} hi-hat") for which in ("closed", "open", "pedal")
)
RIDE, CRASH = percussion_number("ride"), percussion_number("crash")
TOMS = tuple(percussion_number(name) for name in ("hi-mid tom", "low-mid tom", "floor tom"))

DRUMS = {"kick": KICK, "snare": SNARE, "brush": SNARE, "hat": HAT, "foot": FOOT, "ride": RIDE}
#: Velocities of `X`, `x` and `o`: the backbeat loudest, hats well below and by turns.
VELOCITIES = {
    "kick": (102, 88, 66),
    "snare": (104, 84, 42),
    "brush": (74, 58, 42),
    "hat": (78, 58, 44),
    "foot": (62, 54, 44),
    "ride": (80, 64, 48),
}
#: How loud a level is, in percent.
LOUDNESS = {"light": 72, "medium": 100, "full": 112}
DEFAULT_LEVEL = "medium"


class Row(NamedTuple):
    """A beat in the meters that it fits: a step's length, and a line a drum."""

    name: str
    meters: tuple[str, ...]
    step_whole: Fraction
    lines: tuple[tuple[str, str], ...]


class Hit(NamedTuple):
    """A stroke of a drum, so far from the bar line as written."""

    offset_whole: Fraction
    pitch: int
    velocity: int


_FOURS = ("4/4", "4/4 (2+2)", "2/4")
_SIXES = ("6/8", "6/8 (3+3)", "12/8", "12/8 (3+3+3+3)")
_EIGHTH, _TRIPLET, _SIXTEENTH = Fraction(1, 8), Fraction(1, 12), Fraction(1, 16)

ROWS = (
    Row(
        "eighths",
        _FOURS,
        _EIGHTH,
        (("hat", "XxXxXxXx"), ("snare", "--X---X-"), ("kick", "X---Xx--")),
    ),
    Row(
        "shuffle",
        _FOURS,
        _TRIPLET,
        (("hat", "X-xX-xX-xX-x"), ("snare", "---X-----X--"), ("kick", "X----xX-----")),
    ),
    Row(
        "half-time",
        _FOURS,
        _EIGHTH,
        (("hat", "XxXxXxXx"), ("snare", "----X---"), ("kick", "X--x---x")),
    ),
    Row(
        "brushes",
        _FOURS,
        _EIGHTH,
        (("brush", "x-Xox-Xo"), ("foot", "--x---x-"), ("kick", "o---o---")),
    ),
    Row(
        "brushes", ("3/4",), _EIGHTH, (("brush", "x-XoXo"), ("foot", "--x-x-"), ("kick", "o-----"))
    ),
    Row(
        "train",
        _FOURS,
        _SIXTEENTH,
        (
            ("brush", "ooXoooXoooXoooXo"),
            ("foot", "----x-------x---"),
            ("kick", "X---x---X---x---"),
        ),
    ),
    Row("waltz", ("3/4",), _EIGHTH, (("hat", "X-xxx-"), ("snare", "--x-x-"), ("kick", "X-----"))),
    Row(
        "six-eight",
        _SIXES,
        _EIGHTH,
        (("hat", "XxxXxx"), ("snare", "---X--"), ("kick", "X----x")),
    ),
    Row(
        "five",
        ("5/4", "5/4 (3+2)"),
        _EIGHTH,
        (("hat", "XxXxXxXxXx"), ("snare", "----X---X-"), ("kick", "X--x--X---")),
    ),
    Row(
        "five",
        ("5/4 (2+3)",),
        _EIGHTH,
        (("hat", "XxXxXxXxXx"), ("snare", "--X-----X-"), ("kick", "X---X--x--")),
    ),
    Row(
        "seven",
        ("7/8", "7/8 (2+2+3)"),
        _EIGHTH,
        (("hat", "XxXxXxx"), ("snare", "----X--"), ("kick", "X-x---x")),
    ),
    Row(
        "seven",
        ("7/4", "7/4 (4+3)"),
        _EIGHTH,
        (("hat", "XxXxXxXxXxXxXx"), ("snare", "--X---X-----X-"), ("kick", "X---Xx--X-----")),
    ),
)
NAMES = tuple(dict.fromkeys(row.name for row in ROWS))
#: Which rows are a meter's plain beat where no other is asked for.
PLAIN = ("eighths", "waltz", "six-eight", "five", "seven")


def row_for(name: str | None, meter: Meter) -> Row:
    """The row that plays a beat in a meter: its own, the meter's plain one, or one made for it."""
    fitting = [row for row in ROWS if str(meter) in row.meters]
    for wanted in (name, *PLAIN):
        for row in fitting:
            if row.name == wanted:
                return row
    return _made_for(meter)


@lru_cache(maxsize=512)
def beat(name: str | None, meter: Meter, level: str) -> tuple[Hit, ...]:
    """A bar of a beat at a level, in order.

    `light` leaves out soft strokes and all but the kick's accents, and has the side stick
    for the snare; `full` opens the bar's last hi-hat.
    """
    row = row_for(name, meter)
    hits = []
    for voice, line in row.lines:
        steps = -(-meter.bar_whole // row.step_whole)
        for step in range(steps):
            mark = line[step % len(line)]
            if mark == "-" or (level == "light" and _left_out(voice, mark)):
                continue
            pitch = RIM if level == "light" and voice == "snare" else DRUMS[voice]
            velocity = VELOCITIES[voice]["Xxo".index(mark)] * LOUDNESS[level] // 100
            hits.append(Hit(step * row.step_whole, pitch, min(127, velocity)))
    hits.sort()
    if level == "full":
        hats = [index for index, hit in enumerate(hits) if hit.pitch == HAT]
        if hats and hits[hats[-1]].offset_whole:
            hits[hats[-1]] = hits[hats[-1]]._replace(pitch=OPEN_HAT)
    return tuple(hits)


def _left_out(voice: str, mark: str) -> bool:
    return (voice == "kick" and mark == "x") or (voice == "snare" and mark == "o")


@lru_cache(maxsize=256)
def _made_for(meter: Meter) -> Row:
    """Kick and snare by turns over the beats of any meter, and a hi-hat between them.

    Beats in groups start each with the kick and end with the snare, three having one rest
    between; uneven beats of units (7/8) keep the snare for the last, three even ones (9/8)
    have it softly on two and three.
    """
    by_unit = len(meter.beats) < meter.count or meter.unit >= 8
    step = meter.unit_whole if by_unit else meter.unit_whole / 2
    kick, snare, hat = ["-"] * (n := int(meter.bar_whole / step)), ["-"] * n, ["x"] * n
    for start, drum in zip(meter.beat_starts, _drums(meter), strict=True):
        at = int(start / step)
        hat[at] = "X"
        if drum != "-":
            (kick if drum == "K" else snare)[at] = "x" if drum == "s" else "X"
    lines = (("hat", "".join(hat)), ("snare", "".join(snare)), ("kick", "".join(kick)))
    return Row("plain", (str(meter),), step, lines)


def _drums(meter: Meter) -> str:
    """For each beat: K the kick, S the snare, s the snare softly, - neither."""
    count = len(meter.beats)
    if count == 3 and not (meter.even and meter.groups and meter.unit <= 4):
        return "Kss" if meter.even else "KKS"
    sizes = _groups(meter)
    return "".join({1: "K", 2: "KS", 3: "K-S"}.get(size, ("KS" * size)[:size]) for size in sizes)


def _groups(meter: Meter) -> tuple[int, ...]:
    """How many beats go together: as written, or in twos, an odd number with a three."""
    count = len(meter.beats)
    if meter.groups and count == meter.count:
        return meter.groups
    usual = {1: (1,), 3: (3,), 5: (3, 2)}
    twos = (2,) * (count // 2 - count % 2)
    return usual.get(count, (*twos, 3) if count % 2 else twos)
