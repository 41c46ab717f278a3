"""The options of a practice version: one table for the command line and for a form's exercises.

A row says how an option is read, how it is written, which words it adds to a file's name, and
which other options it goes with. The command line's options, the keys of `practice:`, their
checks, their messages, the schema and the names of files are all made from these rows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from types import MappingProxyType
from typing import Any, NamedTuple

from backing.form import option_values
from backing.form.bars import MAX_BARS
from backing.form.kinds import BadValue
from backing.form.option_values import Value
from backing.form.parts import PARTS, title_of
from backing.form.practice_records import USUAL_STEP, Exercise, Ladder
from backing.text.percent import decimal, percent
from backing.theory import instruments
from backing.theory.instruments import Instrument

#: Rounds of an exercise, all of its speeds together.
MOST_ROUNDS = 999
GUITAR = "guitar"
#: Where a build-up starts.
BUILD_UPS = ("front", "end")
#: An exercise's key that changes nothing in its file, and so is no option.
NOTE = "note"

#: Options by their keys, as they were given.
Given = Mapping[str, Any]


class Needs(NamedTuple):
    """What an option needs: `met` tests what was given, `what` is the need in words.

    Both may depend on the part that the student plays, which words call `{part}`.

    `example` is an option and a value that meet it; without one, `advice` says what to do.
    """

    met: Callable[[Given, str], bool]
    what: str
    example: tuple[str, str] = ("", "")
    advice: str = ""


class Option(NamedTuple):
    """One practice option.

    `key` is its key in a form. Its name on the command line and its field of an `Exercise` are
    the same, unless `command_name` or `exercise_field` say otherwise. `metavar` is empty if the
    command line takes no value. `words` makes a value's words in a file's name, `write` the
    text for a form. With `names_parts` the words depend on the student's instrument too, which
    `words` takes after the value.
    """

    key: str
    value: Value
    help: str
    words: Callable[..., str]
    metavar: str = ""
    write: Callable[[Any], Any] = str
    excludes: tuple[str, ...] = ()
    needs: Needs | None = None
    command_name: str = ""
    exercise_field: str = ""
    names_parts: bool = False

    @property
    def name(self) -> str:
        """Its name on the command line, without dashes before it."""
        return self.command_name or self.key

    @property
    def field(self) -> str:
        """Its field of an `Exercise`."""
        return self.exercise_field or self.key.replace("-", "_")


class Spelling(NamedTuple):
    """How messages spell an option: with a form's keys, or as it is typed on a command line."""

    dashes: str = ""
    gap: str = ": "

    def name(self, key: str) -> str:
        """An option's name: `between`, or `--count-between`."""
        return f"{self.dashes}{BY_KEY[key].name if self.dashes else key}"

    def example(self, key: str, value: str) -> str:
        """An option with a value: `loop: 8`, or `--loop 8`."""
        return f"{self.name(key)}{self.gap}{value}"


IN_FORM, ON_COMMAND_LINE = Spelling(), Spelling("--", " ")


class Conflict(NamedTuple):
    """Options that don't go together: the one to point at, what is wrong and what to do."""

    key: str
    message: str
    advice: str


def conflict(given: Given, spelling: Spelling = IN_FORM, students: str = GUITAR) -> Conflict | None:
    """The first conflict among options, or None.

    `students` is the part that the student plays, "" where no form is known yet.
    """
    for option in OPTIONS:
        if option.key not in given:
            continue
        name = spelling.name(option.key)
        for other in map(spelling.name, (key for key in option.excludes if key in given)):
            message = f"{other} and {name} don't go together."
            return Conflict(option.key, message, f"Keep {other} or {name}.")
        if option.needs is not None and not option.needs.met(given, students):
            needs = option.needs
            advice = needs.advice or f"Add {spelling.example(*needs.example)}"
            what = f"{name} needs {needs.what.format(part=students)}."
            return Conflict(option.key, what, advice.format(part=students))
    return None


def exercise_of(given: Given) -> Exercise:
    """An exercise with the options that were given; the others have their usual values."""
    fields = {key: value for key, value in given.items() if key == NOTE}
    fields |= {BY_KEY[key].field: value for key, value in given.items() if key != NOTE}
    return Exercise(**fields)


def check_rounds(rounds: int) -> None:
    """Check the number of rounds of an exercise, all of its speeds together.

    Raises:
        BadValue: there are more than `MOST_ROUNDS`.
    """
    if rounds > MOST_ROUNDS:
        message = f"this comes to {rounds:,} rounds; an exercise has at most {MOST_ROUNDS}."
        raise BadValue(message, "Write a smaller loop, a ladder with a larger step, or fewer bars.")


def check_length(times: int, bars: int, between: int, build_up: str = "") -> None:
    """Check the rounds and the length of an exercise.

    Args:
        times: how often it is played, all of its speeds together.
        bars: how many bars it practices.
        between: bars of count-in between rounds.
        build_up: whether each time it comes bar by bar, "" if it doesn't.

    Raises:
        BadValue: it has more than `MOST_ROUNDS` rounds or `MAX_BARS` bars.
    """
    rounds = times * bars if build_up else times
    check_rounds(rounds)
    played = times * (bars * (bars + 1) // 2 if build_up else bars)
    count = played + rounds * between
    if count > MAX_BARS:
        message = f"this comes to {count:,} bars; an exercise has at most {MAX_BARS:,}."
        raise BadValue(message, "Play less of the song, or fewer rounds.")


def usual_between(speeds: Sequence[Fraction]) -> int:
    """The usual number of count-in bars between rounds: one where the speed changes."""
    return 1 if len(speeds) > 1 else 0


def parts_in_words(parts: Iterable[str], instrument: Instrument = instruments.GUITAR) -> str:
    """Parts in the order of the mix: `bass, guitar and drums`; "" for none.

    The part of a student who plays another instrument has its name: `bass, ukulele and drums`.
    """
    order = {part: place for place, part in enumerate(PARTS)}
    listed = [
        title_of(PARTS[part], instrument).lower() if part in PARTS else part
        for part in sorted(parts, key=lambda part: (order.get(part, len(order)), part))
    ]
    return " and ".join(", ".join(some) for some in (listed[:-1], listed[-1:]) if some)


def _section_words(section: tuple[str, str]) -> str:
    first, last = section
    return first if first == last else f"{first} to {last}"


def _bars_words(bars: tuple[int, int]) -> str:
    first, last = bars
    return f"bar {first}" if first == last else f"bars {first}-{last}"


def _ladder_words(ladder: Ladder) -> str:
    words = f"ladder {decimal(ladder.first * 100)}-{percent(ladder.last)}"
    return words if ladder.step == USUAL_STEP else f"{words} by {decimal(ladder.step * 100)}"


def _write_ladder(ladder: Ladder) -> str:
    first, last, step = (decimal(share * 100) for share in ladder)
    return f"{first}-{last} by {step}"


def _between_words(bars: int) -> str:
    if not bars:
        return "no count between"
    return f"{bars} {'bar' if bars == 1 else 'bars'} between"


def _on_off(on: bool) -> str:
    return "on" if on else "off"


def _has_rounds(given: Given, students: str) -> bool:
    return "ladder" in given or "build-up" in given or given.get("loop", 1) > 1


def _moves(given: Given, students: str) -> bool:
    return "key" in given or bool(given.get("transpose"))


def _has_student(given: Given, students: str) -> bool:
    if not students:
        return True
    left_out = students in given.get("without", ())
    return not left_out and students in given.get("only", (students,))


#: Every option, in the order of the help and of a file's name.
OPTIONS = (
    Option(
        "section",
        option_values.section(),
        "A section by its name or label, or several: verse..chorus.",
        _section_words,
        metavar="NAME",
        write=lambda names: "..".join(dict.fromkeys(names)),
    ),
    Option(
        "bars",
        option_values.bars(),
        "Bars of the song as it is played: 9-12.",
        _bars_words,
        metavar="A-B",
        write=lambda bars: "{}-{}".format(*bars),
        excludes=("section",),
    ),
    Option(
        "loop",
        option_values.whole_number(1, MOST_ROUNDS),
        "How many rounds to play at each speed.",
        "loop {}".format,
        metavar="N",
    ),
    Option(
        "build-up",
        option_values.one_of(BUILD_UPS, "a way to build up"),
        "One bar more each round, from the front (1, 1-2, 1-3) or the end.",
        "build-up from the {}".format,
        metavar="WAY",
    ),
    Option(
        "speed",
        option_values.speeds(),
        "Percent of the tempo. Several make one file each: 60,75,90.",
        lambda speeds: "-".join(map(percent, speeds)),
        metavar="N,N",
        write=lambda speeds: [decimal(speed * 100) for speed in speeds],
        exercise_field="speeds",
    ),
    Option(
        "ladder",
        option_values.ladder(),
        "One file, round by round faster: 60-100, or 60-100 by 10 (usually by 5).",
        _ladder_words,
        metavar="A-B",
        write=_write_ladder,
        excludes=("speed",),
    ),
    Option(
        "between",
        option_values.whole_number(0, 8),
        "Bars of count-in between rounds (1 on a ladder, else 0).",
        _between_words,
        metavar="N",
        needs=Needs(_has_rounds, "more than one round", ("loop", "8")),
        command_name="count-between",
    ),
    Option(
        "without",
        option_values.words_of(tuple(PARTS), "a part"),
        "Parts to leave out: guitar,drums.",
        lambda parts, instrument: f"without {parts_in_words(parts, instrument)}",
        metavar="PARTS",
        write=list,
        names_parts=True,
    ),
    Option(
        "only",
        option_values.words_of(tuple(PARTS), "a part"),
        "The only parts to play: click,bass.",
        lambda parts, instrument: f"only {parts_in_words(parts, instrument)}",
        metavar="PARTS",
        write=list,
        names_parts=True,
        excludes=("without",),
    ),
    Option(
        "arrangement",
        option_values.name(),
        "Play one of the song's arrangements throughout.",
        "{} arrangement".format,
        metavar="NAME",
    ),
    Option(
        "trade",
        option_values.whole_number(1, 64),
        "The student's part plays N bars, then rests for N bars.",
        "trade {}".format,
        metavar="N",
        needs=Needs(_has_student, "the {part}, which is left out", advice="Let the {part} play."),
    ),
    Option(
        "key",
        option_values.key(),
        "The key that it sounds in: A, F#m.",
        "in {}".format,
        metavar="KEY",
    ),
    Option(
        "transpose",
        option_values.whole_number(-24, 24),
        "How many semitones higher it sounds (-3: lower).",
        "transposed {:+d}".format,
        metavar="N",
        write="{:+d}".format,
        excludes=("key",),
    ),
    Option(
        "capo",
        option_values.whole_number(0, 11),
        "The fret of the capo. The chords change so that it sounds the same.",
        "capo {}".format,
        metavar="N",
    ),
    Option(
        "keep-shapes",
        option_values.on_off(),
        "With key or transpose: the capo moves, and the shapes stay.",
        lambda on: "same shapes" if on else "",
        write=_on_off,
        excludes=("capo",),
        needs=Needs(_moves, "a key to move to", ("transpose", "-2")),
    ),
    Option(
        "easier",
        option_values.on_off(),
        "The easiest shape of each chord.",
        lambda on: "easier" if on else "",
        write=_on_off,
    ),
)
BY_KEY: Mapping[str, Option] = MappingProxyType({option.key: option for option in OPTIONS})
