"""A practice version: what it makes of a song, and how it is called.

Speeds are shares of the written tempo, exact: 60 percent is 3/5, so 97 beats a minute
become 58.2. Bars are numbered as the song counts them, from 1.
"""

from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from backing.errors import BackingError
from backing.form.model import USUAL_RUNG
from backing.form.parts import PARTS as PART_TABLE
from backing.theory.keys import Key

#: The parts by name, in the order of the mix.
PARTS = tuple(PART_TABLE)
GUITAR = "guitar"
#: What a version may ask for.
SPEEDS = (Fraction(10, 100), Fraction(300, 100))
MOST_ROUNDS, MOST_BETWEEN, MOST_ANSWER = 999, 8, 64
MOST_SEMITONES, HIGHEST_CAPO = 24, 11
AS_WRITTEN = (Fraction(1),)


class Stretch(NamedTuple):
    """Part of a song: from one section to another as they are called, or bars A-B."""

    first: str = ""
    last: str = ""
    bars: tuple[int, int] | None = None

    def __str__(self) -> str:
        if self.bars is not None:
            first, last = self.bars
            return f"bar {first}" if first == last else f"bars {first}-{last}"
        return self.first if self.first == self.last else f"{self.first} to {self.last}"


class Version(NamedTuple):
    """Everything that makes a practice version; as it stands, the song as written.

    `speeds` come one after the other, each for `loop` rounds, with `between` bars of
    count-in before every round but the first. `without` and `only` (empty: all) name
    parts. With `answer` the guitar plays so many bars, then rests for as many. `key` is
    how the song is to sound, `transpose` how many semitones higher; `capo` is where the
    shapes are played. With `keep_shapes` the capo moves in place of the chords.
    """

    speeds: tuple[Fraction, ...] = AS_WRITTEN
    loop: int = 1
    stretch: Stretch | None = None
    between: int = 0
    without: frozenset[str] = frozenset()
    only: frozenset[str] = frozenset()
    answer: int = 0
    key: Key | None = None
    capo: int | None = None
    transpose: int = 0
    keep_shapes: bool = False
    easier: bool = False

    @property
    def rounds(self) -> tuple[Fraction, ...]:
        """The speed of each round."""
        return tuple(speed for speed in self.speeds for _ in range(self.loop))

    @property
    def absent(self) -> frozenset[str]:
        """The parts that don't play."""
        return self.without | (frozenset(PARTS) - self.only if self.only else frozenset())


#: The song as it is written.
PLAIN = Version()


def check(version: Version) -> None:
    """Refuse a version that can't be.

    Raises:
        BackingError: a number out of its range, or two wishes that exclude each other; the
            sentence says which.
    """
    slowest, fastest = SPEEDS
    for speed in version.speeds:
        if not slowest <= speed <= fastest:
            raise BackingError(
                f"{percent(speed)} of the tempo is out of range. "
                f"Write {percent(slowest)} to {percent(fastest)}."
            )
    for what, number, least, most in (
        ("rounds at a speed", version.loop, 1, MOST_ROUNDS),
        ("bars of count-in between rounds", version.between, 0, MOST_BETWEEN),
        ("bars to answer", version.answer, 0, MOST_ANSWER),
        ("semitones", version.transpose, -MOST_SEMITONES, MOST_SEMITONES),
        ("frets for a capo", version.capo or 0, 0, HIGHEST_CAPO),
    ):
        if not least <= number <= most:
            raise BackingError(f"{number} {what} can't be. Write {least} to {most}.")
    for part in sorted(version.without | version.only):
        if part not in PARTS:
            raise BackingError(f"{part!r} is no part. The parts are {', '.join(PARTS)}.")
    for refused, says in (
        (version.without and version.only, "without and only both say who plays; give one"),
        (version.key and version.transpose, "key and transpose both say how it sounds; give one"),
        (
            version.keep_shapes and version.capo is not None,
            "keep-shapes moves the capo, so it can't stay where capo says; give one",
        ),
        (
            version.keep_shapes and not (version.key or version.transpose),
            "keep-shapes goes with key or transpose, which move the song",
        ),
        (
            version.between and len(version.rounds) == 1,
            "there is one round, so nothing to count in between; add a loop or a ladder",
        ),
        (
            version.answer and GUITAR in version.absent,
            "answer needs the guitar, which is left out; give one of the two",
        ),
    ):
        if refused:
            raise BackingError(f"{says[0].upper()}{says[1:]}.")


def percent(speed: Fraction) -> str:
    """A speed as people say it: 60%, 12.5%."""
    return f"{decimal(speed * 100)}%"


def decimal(number: Fraction) -> str:
    """A number as people write it, to the thousandth: 60, 12.5."""
    return f"{float(round(number, 3)):.3f}".rstrip("0").rstrip(".")


def describe(version: Version) -> str:
    """A version in a few words, the same every time: for titles and file names; "" is the song.

    Two versions that differ are called differently.
    """
    words = [
        str(version.stretch) if version.stretch else "",
        f"loop {version.loop}" if version.loop > 1 else "",
        _speed_words(version.speeds),
        _between_words(version),
        f"without {listed(version.without)}" if version.without else "",
        f"only {listed(version.only)}" if version.only else "",
        f"answer {version.answer}" if version.answer else "",
        f"in {version.key}" if version.key else "",
        f"transposed {version.transpose:+d}" if version.transpose else "",
        f"capo {version.capo}" if version.capo is not None else "",
        "same shapes" if version.keep_shapes else "",
        "easier" if version.easier else "",
    ]
    return ", ".join(word for word in words if word)


def titled(title: str, version: Version) -> str:
    """A song's title with what the version makes of it."""
    words = describe(version)
    return f"{title} - {words}" if words else title


def marked(version: Version, label: str, number: int) -> str:
    """What a section is called in round `number` (from 1): "Chorus 1, round 3 of 9, 70%"."""
    rounds = version.rounds
    if len(rounds) == 1:
        return label
    label = f"{label}, round {number} of {len(rounds)}"
    return f"{label}, {percent(rounds[number - 1])}" if len(version.speeds) > 1 else label


def canonical(version: Version) -> str:
    """All of a version as text that is the same in every process, to tell it from others by."""
    said = {**version._asdict(), "without": sorted(version.without), "only": sorted(version.only)}
    return ";".join(f"{name}={_plain(value)}" for name, value in said.items())


def _plain(value: object) -> str:
    if isinstance(value, tuple) and not isinstance(value, Stretch):
        return ",".join(map(str, value))
    return repr(value) if isinstance(value, Stretch) else str(value)


def usual_between(version: Version) -> int:
    """How many bars count between rounds where nobody says: one where the speed changes."""
    return 1 if len(version.speeds) > 1 else 0


def _speed_words(speeds: tuple[Fraction, ...]) -> str:
    if len(speeds) == 1:
        return "" if speeds == AS_WRITTEN else percent(speeds[0])
    rung = abs(speeds[1] - speeds[0])
    if speeds != rungs(speeds[0], speeds[-1], rung):
        return "speeds " + "-".join(decimal(speed * 100) for speed in speeds) + "%"
    words = f"ladder {decimal(speeds[0] * 100)}-{percent(speeds[-1])}"
    return words if rung == USUAL_RUNG else f"{words} by {decimal(rung * 100)}"


def _between_words(version: Version) -> str:
    if version.between == usual_between(version):
        return ""
    bars = "bar" if version.between == 1 else "bars"
    return f"{version.between} {bars} between" if version.between else "no count between"


def listed(parts: frozenset[str]) -> str:
    """Parts in the order of the mix: `bass, guitar and drums`."""
    *some, last = sorted(parts, key=lambda name: PARTS.index(name) if name in PARTS else 99)
    return f"{', '.join(some)} and {last}" if some else last


def rungs(first: Fraction, last: Fraction, rung: Fraction) -> tuple[Fraction, ...]:
    """Speeds a rung apart, up or down; the last is always there, however short its step."""
    if not rung or first == last:
        return (first, last)
    step = rung if last > first else -rung
    steps = int(abs(last - first) / rung)
    speeds = [first + index * step for index in range(steps + 1)]
    return tuple(speeds if speeds[-1] == last else [*speeds, last])


def last_step(version: Version) -> tuple[Fraction, Fraction] | None:
    """A ladder's last step and its others, where the last is shorter; else None."""
    steps = [abs(later - earlier) for earlier, later in pairwise(version.speeds)]
    return (steps[-1], steps[0]) if len(steps) > 1 and steps[-1] < steps[0] else None
