"""The week's set as typed: exercises, their options and the formats of their files."""

from fractions import Fraction
from typing import NamedTuple

from backing.theory.keys import Key

#: A ladder's usual step, as a share of the written tempo.
USUAL_STEP = Fraction(5, 100)


class Ladder(NamedTuple):
    """From a first speed to a last one, up or down; all three are shares of the written tempo."""

    first: Fraction
    last: Fraction
    step: Fraction = USUAL_STEP

    @property
    def speeds(self) -> tuple[Fraction, ...]:
        """Every speed, a step apart; the last step may be shorter, to end on `last`."""
        step = self.step if self.last > self.first else -self.step
        steps = int(abs(self.last - self.first) / self.step)
        speeds = [self.first + index * step for index in range(steps + 1)]
        return tuple(speeds if speeds[-1] == self.last else [*speeds, self.last])


class Exercise(NamedTuple):
    """The practice options of one exercise: one file for each speed, or one for a ladder.

    `speeds` are shares of the written tempo and count only without a `ladder`. With `build_up` the
    bars come one more each time, from the `front` or from the `end`. `section` names
    the first section and the last one; `bars` are counted as the song is played. `between` is
    None for the usual count-in between rounds. With `trade` (0: off) the student's part plays
    this many bars, then rests for as many. `arrangement` is one of the song's, "" for none.
    `note` is the teacher's sentence about it.
    """

    speeds: tuple[Fraction, ...] = (Fraction(1),)
    ladder: Ladder | None = None
    section: tuple[str, str] | None = None
    bars: tuple[int, int] | None = None
    loop: int = 1
    build_up: str = ""
    between: int | None = None
    without: tuple[str, ...] = ()
    only: tuple[str, ...] = ()
    arrangement: str = ""
    trade: int = 0
    key: Key | None = None
    capo: int | None = None
    transpose: int = 0
    keep_shapes: bool = False
    easier: bool = False
    note: str = ""


class Practice(NamedTuple):
    """The week's set: formats by name (none: the usual), exercises in order (none: the usual)."""

    formats: tuple[str, ...] = ()
    exercises: tuple[Exercise, ...] = ()
