"""A practice version: what it makes of a song, and what it is called.

Speeds are shares of the written tempo, exact: 60 percent is 3/5, so 97 beats a minute
become 58.2. Bars are numbered as the song counts them, from 1.
"""

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from typing import Any, NamedTuple

from backing.errors import BackingError
from backing.form.kinds import BadValue, sentence
from backing.form.parts import PARTS as PART_TABLE
from backing.form.practice_options import (
    BY_KEY,
    IN_FORM,
    OPTIONS,
    Spelling,
    check_rounds,
    conflict,
    usual_between,
)
from backing.form.practice_records import Exercise, Ladder
from backing.text.percent import decimal
from backing.theory import instruments
from backing.theory.instruments import Instrument
from backing.theory.keys import Key

#: The parts by name, in the order of the mix.
PARTS = tuple(PART_TABLE)
GUITAR = "guitar"
AS_WRITTEN = (Fraction(1),)


class Stretch(NamedTuple):
    """Part of a song: from one section to another by their names, or bars A-B."""

    first: str = ""
    last: str = ""
    bars: tuple[int, int] | None = None

    def __str__(self) -> str:
        if self.bars is not None:
            return BY_KEY["bars"].words(self.bars)
        return BY_KEY["section"].words((self.first, self.last))


class Version(NamedTuple):
    """Everything that makes a practice version; with its defaults, the song as written.

    `speeds` follow one another, each for `loop` rounds, with `between` bars of count-in before
    every round but the first; with several speeds, before the first round at each. With `build_up`
    (`front` or `end`) there is a round for one bar, for two and so on, each played `loop` times.
    `without` and `only` (empty: all) name parts. With `trade` (0: off) the student's part plays
    this many bars, then rests for as many. `key` is the key that the song sounds in, `transpose`
    the number of semitones that it sounds higher; `capo` is the fret where the shapes are played.
    With `keep_shapes` the capo moves, and the chords stay. `arrangement` is one of the song's,
    played throughout; "" for none.
    """

    speeds: tuple[Fraction, ...] = AS_WRITTEN
    loop: int = 1
    stretch: Stretch | None = None
    between: int = 0
    without: frozenset[str] = frozenset()
    only: frozenset[str] = frozenset()
    arrangement: str = ""
    trade: int = 0
    key: Key | None = None
    capo: int | None = None
    transpose: int = 0
    keep_shapes: bool = False
    easier: bool = False
    build_up: str = ""

    @property
    def rounds(self) -> tuple[Fraction, ...]:
        """The speed of each round, of which a build-up makes one for every bar."""
        return tuple(speed for speed in self.speeds for _ in range(self.loop))

    @property
    def absent(self) -> frozenset[str]:
        """The parts that don't play."""
        return self.without | (frozenset(PARTS) - self.only if self.only else frozenset())


#: The song as it is written.
PLAIN = Version()


def versions_of(exercise: Exercise) -> Iterator[Version]:
    """An exercise's versions: one for each speed, or one for a ladder."""
    stretch = None
    if exercise.section is not None:
        first, last = exercise.section
        stretch = Stretch(first, last)
    elif exercise.bars is not None:
        stretch = Stretch(bars=exercise.bars)
    ladder = exercise.ladder
    for speeds in [(one,) for one in exercise.speeds] if ladder is None else [ladder.speeds]:
        yield Version(
            speeds=speeds,
            loop=exercise.loop,
            stretch=stretch,
            between=usual_between(speeds) if exercise.between is None else exercise.between,
            without=frozenset(exercise.without),
            only=frozenset(exercise.only),
            arrangement=exercise.arrangement,
            trade=exercise.trade,
            key=exercise.key,
            capo=exercise.capo,
            transpose=exercise.transpose,
            keep_shapes=exercise.keep_shapes,
            easier=exercise.easier,
            build_up=exercise.build_up,
        )


def check(version: Version, spelling: Spelling = IN_FORM, students: str = GUITAR) -> None:
    """Check each option of a version, and that its options go together.

    `students` is the part that the student plays, "" where no form is known yet.

    Raises:
        BackingError: a number is out of range, a part isn't known, two options contradict each
            other, or there are too many rounds; options are named as `spelling` has them.
    """
    for speed in version.speeds:
        _check_value("speed", (speed,), spelling)
    given = options_of(version)
    for key in given.keys() - {"section", "speed", "ladder"}:
        _check_value(key, given[key], spelling)
    found = conflict(given, spelling, students)
    if found is not None:
        raise BackingError(f"{found.message} {sentence(found.advice)}")
    try:
        check_rounds(len(version.rounds))
    except BadValue as bad:
        raise as_error(bad) from None


def as_error(bad: BadValue, name: str = "") -> BackingError:
    """A refused value as an error; `name` is the option that it was given for."""
    says = f"{sentence(bad.message)} {sentence(bad.fix)}".rstrip()
    return BackingError(f"{name}: {says}" if name else f"{says[0].upper()}{says[1:]}")


def _check_value(key: str, value: Any, spelling: Spelling) -> None:
    """Read a value from the text that it is written with, which refuses one out of range."""
    written = BY_KEY[key].write(value)
    for text in written if isinstance(written, list) else [written]:
        try:
            BY_KEY[key].value.read(text)
        except BadValue as bad:
            raise as_error(bad, spelling.name(key)) from None


def options_of(version: Version) -> dict[str, Any]:
    """The options that make a version of the song as written, by their keys, in their order.

    Several speeds stand under `ladder`: as a `Ladder`, or as they are where no ladder has them.
    """
    found: dict[str, Any] = {}
    if version.stretch is not None:
        names = version.stretch.first, version.stretch.last
        bars = version.stretch.bars
        found |= {"section": names} if bars is None else {"bars": bars}
    if len(version.speeds) > 1:
        found["ladder"] = _ladder(version.speeds) or version.speeds
    elif version.speeds != AS_WRITTEN:
        found["speed"] = version.speeds
    if version.between != usual_between(version.speeds):
        found["between"] = version.between
    for key in _SAME_IN_BOTH:
        value = getattr(version, BY_KEY[key].field)
        if value != getattr(PLAIN, BY_KEY[key].field):
            found[key] = value
    return {option.key: found[option.key] for option in OPTIONS if option.key in found}


#: Options that are a field of a version as they are of an exercise.
_SAME_IN_BOTH = tuple(
    option.key
    for option in OPTIONS
    if option.field in Version._fields and option.key not in ("speed", "between")
)


def _ladder(speeds: tuple[Fraction, ...]) -> Ladder | None:
    """The ladder that has these speeds, if there is one."""
    step = abs(speeds[1] - speeds[0])
    ladder = Ladder(speeds[0], speeds[-1], step) if step else None
    return ladder if ladder is not None and ladder.speeds == speeds else None


def words_of(version: Version, instrument: Instrument = instruments.GUITAR) -> dict[str, str]:
    """What each option adds to a version's name, by the options' keys, in their order.

    The student's part is named after the instrument.
    """
    words = {}
    for key, value in options_of(version).items():
        if key == "ladder" and not isinstance(value, Ladder):
            words[key] = f"speeds {'-'.join(decimal(speed * 100) for speed in value)}%"
        elif BY_KEY[key].names_parts:
            words[key] = BY_KEY[key].words(value, instrument)
        else:
            words[key] = BY_KEY[key].words(value)
    return words


def describe(version: Version, instrument: Instrument = instruments.GUITAR) -> str:
    """A version in a few words, for titles and file names: always the same, "" for the song.

    Two versions that differ have different names.
    """
    return ", ".join(words_of(version, instrument).values())


def titled(title: str, version: Version, instrument: Instrument = instruments.GUITAR) -> str:
    """A song's title followed by the version's name."""
    words = describe(version, instrument)
    return f"{title} - {words}" if words else title


def canonical(version: Version) -> str:
    """All of a version as text, the same in every process, to tell it from other versions."""
    fields = {**version._asdict(), "without": sorted(version.without), "only": sorted(version.only)}
    return ";".join(f"{name}={_plain(value)}" for name, value in fields.items())


def _plain(value: object) -> str:
    if isinstance(value, tuple) and not isinstance(value, Stretch):
        return ",".join(map(str, value))
    return repr(value) if isinstance(value, Stretch) else str(value)


def last_step(version: Version) -> tuple[Fraction, Fraction] | None:
    """A ladder's last step and its other steps, where the last is shorter; otherwise None."""
    steps = [abs(later - earlier) for earlier, later in pairwise(version.speeds)]
    return (steps[-1], steps[0]) if steps and steps[-1] < steps[0] else None
