"""The table of practice options, row by row: the same on the command line and in a form."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Mapping
from fractions import Fraction
from typing import Any

import click
import pytest
from click.testing import CliRunner
from form.songs import song
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML

from backing.commands.options import PracticeCommand, practice_options
from backing.errors import BackingError, FormError
from backing.form import read_form_text
from backing.form.kinds import BadValue
from backing.form.practice_options import BY_KEY, OPTIONS, Option, check_length
from backing.form.schema import form_schema
from backing.practice import Stretch, Version, describe, play_version
from backing.practice.typed_options import check_with
from backing.practice.versions import check, versions_of
from backing.theory.keys import parse_key

SCHEMA = Draft202012Validator(form_schema())
SLOW = (Fraction(3, 5),)
LADDER = (Fraction(1), Fraction(9, 10), Fraction(4, 5))

#: For each option a text, the version that it makes, and the words for it in a file's name.
EXAMPLES: dict[str, tuple[str, Version, str]] = {
    "section": ("verse..chorus", Version(stretch=Stretch("verse", "chorus")), "verse to chorus"),
    "bars": ("2-3", Version(stretch=Stretch(bars=(2, 3))), "bars 2-3"),
    "loop": ("200", Version(loop=200), "loop 200"),
    "build-up": ("end", Version(build_up="end"), "build-up from the end"),
    "speed": ("60%", Version(SLOW), "60%"),
    "ladder": ("100-80 by 10", Version(LADDER, between=1), "ladder 100-80% by 10"),
    "between": ("2", Version(loop=2, between=2), "loop 2, 2 bars between"),
    "without": (
        "bass, Click", Version(without=frozenset({"bass", "click"})), "without click and bass",
    ),
    "only": ("guitar", Version(only=frozenset({"guitar"})), "only guitar"),
    "arrangement": ("simple", Version(arrangement="simple"), "simple arrangement"),
    "trade": ("2", Version(trade=2), "trade 2"),
    "key": ("Bb", Version(key=parse_key("Bb")), "in Bb"),
    "transpose": ("-13", Version(transpose=-13), "transposed -13"),
    "capo": ("0", Version(capo=0), "capo 0"),
    "keep-shapes": ("on", Version(transpose=-2, keep_shapes=True), "transposed -2, same shapes"),
    "easier": ("on", Version(easier=True), "easier"),
}  # fmt: skip
#: What an option is given with, since it needs it.
BESIDE = {"between": {"loop": "2"}, "keep-shapes": {"transpose": "-2"}}
NUMBERS = [option for option in OPTIONS if "minimum" in option.value.schema]


def form_of(options: Mapping[str, str]) -> str:
    """A song with one exercise."""
    return song(
        key="A",
        sections='{verse: {bars: "| A | D |"}, chorus: {bars: "| E |"}}',
        form="[verse, chorus]",
        arrangements="{simple: {bass: off}}",
        practice=json.dumps([dict(options)]),
    )


def in_form(options: Mapping[str, str]) -> list[Version]:
    (exercise,) = read_form_text(form_of(options)).practice.exercises
    return list(versions_of(exercise))


def on_command_line(options: Mapping[str, str]) -> list[Version]:
    """What a command gets as `versions`."""
    got: list[Version] = []

    @click.command(cls=PracticeCommand)
    @practice_options
    def command(versions: tuple[Version, ...]) -> None:
        got.extend(versions)

    arguments: list[str] = []
    for key, text in options.items():
        arguments += [f"--{BY_KEY[key].name}"] + ([text] if BY_KEY[key].metavar else [])
    CliRunner().invoke(command, arguments, catch_exceptions=False)
    return got


def refused_in_form(options: Mapping[str, str]) -> str:
    with pytest.raises(FormError) as error:
        read_form_text(form_of(options))
    (problem,) = error.value.problems
    return f"{problem.message} {problem.fix}"


def refused_on_command_line(options: Mapping[str, str]) -> str:
    with pytest.raises(BackingError) as error:
        check_with(read_form_text(form_of({"loop": "2"})), on_command_line(options))
    assert error.value.exit_code == 2
    return str(error.value)


def in_schema(options: Mapping[str, str]) -> bool:
    return SCHEMA.is_valid(YAML(typ="safe", pure=True).load(form_of(options)))


def test_the_list_of_commands_does_not_load_the_table() -> None:
    program = (
        "import sys; from click.testing import CliRunner; from backing.cli import main; "
        "print(CliRunner().invoke(main, ['--help']).exit_code); "
        "print([name for name in sys.modules if name.startswith('backing.form')])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.stdout == "0\n[]\n", done.stderr


def test_every_option_has_an_example() -> None:
    assert set(EXAMPLES) == set(BY_KEY)
    assert len(BY_KEY) == len(OPTIONS)


@pytest.mark.parametrize("key", EXAMPLES)
def test_an_option_makes_the_same_version_on_the_command_line_and_in_a_form(key: str) -> None:
    text, version, words = EXAMPLES[key]
    options = {**BESIDE.get(key, {}), key: text}
    assert in_form(options) == on_command_line(options) == [version]
    assert in_schema(options)
    assert describe(version) == words
    check(version)


def test_several_speeds_make_several_versions_in_both() -> None:
    options = {"speed": "60, 75%,12.5", "loop": "3"}
    speeds = [one.speeds for one in in_form(options)]
    assert speeds == [(Fraction(3, 5),), (Fraction(3, 4),), (Fraction(1, 8),)]
    assert in_form(options) == on_command_line(options)


@pytest.mark.parametrize("option", NUMBERS, ids=lambda option: option.key)
def test_both_have_the_same_limits_and_tell_the_same_range(option: Option) -> None:
    schema: Mapping[str, Any] = option.value.schema
    low, high = schema["minimum"], schema["maximum"]
    beside = BESIDE.get(option.key, {})
    for number in (low, high):
        options = {**beside, option.key: str(number)}
        assert in_form(options) == on_command_line(options)
        assert in_schema(options)
        for version in in_form(options):
            check(version)
    for number in (low - 1, high + 1):
        options = {**beside, option.key: str(number)}
        assert not in_schema(options)
        refused = refused_in_form(options)
        assert refused_on_command_line(options) == f"--{option.name}: {refused}"
        sign = "%" if option.key == "speed" else ""
        assert refused == f"'{number}' is out of range. Write {low}{sign} to {high}{sign}."


def test_there_are_numbers_to_try() -> None:
    assert {option.key for option in NUMBERS} == {
        "loop", "speed", "between", "trade", "transpose", "capo",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("version", "number"),
    [
        (Version(loop=1000), 1000), (Version(speeds=(Fraction(301, 100),)), 301),
        (Version(loop=2, between=9), 9), (Version(trade=65), 65),
        (Version(transpose=25), 25), (Version(transpose=-25), -25), (Version(capo=12), 12),
    ],
    ids=lambda value: str(value) if isinstance(value, int) else describe(value),
)  # fmt: skip
def test_a_version_made_in_python_has_the_same_limits(version: Version, number: int) -> None:
    with pytest.raises(BackingError, match=rf"'\+?{number}' is out of range"):
        check(version)


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("speed", "abc"), ("speed", "60,60"), ("speed", "60.1234"), ("ladder", "60"),
        ("ladder", "60-600"), ("ladder", "60-100 by 0.5"), ("ladder", "60-100 by 101"),
        ("ladder", "75-75"), ("section", "verse.."), ("bars", "0-2"), ("bars", "3-2"),
        ("loop", "many"), ("without", "flute"), ("only", "bass,bass"), ("key", "H"),
    ],
)  # fmt: skip
def test_both_refuse_the_same_texts_in_the_same_words(key: str, text: str) -> None:
    refused = refused_in_form({key: text}).rstrip()
    assert refused_on_command_line({key: text}) == f"--{BY_KEY[key].name}: {refused}"


PAIRS = [(other, option.key) for option in OPTIONS for other in option.excludes]


@pytest.mark.parametrize("pair", PAIRS, ids=" and ".join)
def test_both_refuse_the_same_pairs(pair: tuple[str, str]) -> None:
    options = {key: EXAMPLES[key][0] for key in pair}
    first, second = pair
    message = f"{first} and {second} don't go together. Keep {first} or {second}."
    assert refused_in_form(options) == message
    spelled = message.replace(first, f"--{first}").replace(second, f"--{second}")
    assert refused_on_command_line(options) == spelled
    assert not in_schema(options)


def test_the_pairs_are_those_that_say_one_thing_twice() -> None:
    assert set(PAIRS) == {
        ("section", "bars"), ("speed", "ladder"), ("without", "only"), ("key", "transpose"),
        ("capo", "keep-shapes"),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"between": "2"}, "{between} needs more than one round. Add {loop}8"),
        ({"keep-shapes": "on"}, "{keep-shapes} needs a key to move to. Add {transpose}-2"),
        (
            {"transpose": "0", "keep-shapes": "on"},
            "{keep-shapes} needs a key to move to. Add {transpose}-2",
        ),
        (
            {"trade": "2", "without": "guitar"},
            "{trade} needs the guitar, which is left out. Let the guitar play.",
        ),
    ],
)
def test_both_tell_what_an_option_needs(options: dict[str, str], message: str) -> None:
    def spelled(dashes: str, gap: str) -> str:
        text = message
        for option in OPTIONS:
            name = option.name if dashes else option.key
            text = text.replace(f"Add {{{option.key}}}", f"Add {dashes}{name}{gap}")
            text = text.replace(f"{{{option.key}}}", f"{dashes}{name}")
        return text

    assert refused_in_form(options) == spelled("", ": ")
    assert refused_on_command_line(options).rstrip(".") == spelled("--", " ").rstrip(".")


def test_both_have_the_same_limit_of_rounds() -> None:
    options = {"ladder": "60-100 by 5", "loop": "111"}  # nine speeds
    assert in_form(options) == on_command_line(options)
    assert len(in_form(options)[0].rounds) == 999
    options["loop"] = "112"
    refused = refused_in_form(options)
    assert refused.startswith("this comes to 1,008 rounds; an exercise has at most 999.")
    assert refused_on_command_line(options) == f"T{refused[1:]}"


def test_both_have_the_same_limit_of_bars() -> None:
    check_length(2, 10_000, 0)
    check_length(2, 9_999, 1)
    with pytest.raises(BadValue, match="20,002 bars; an exercise has at most 20,000"):
        check_length(2, 9_999, 2)
    long = 'title: Long\ntempo: 99\nsections: {a: {bars: "| A |", times: 21}}\nform: [a]\n'
    says = "this comes to 20,013 bars; an exercise has at most 20,000."
    with pytest.raises(FormError, match=says):
        read_form_text(f"{long}practice: [{{loop: 953}}]\n")
    (version,) = on_command_line({"loop": "953"})
    with pytest.raises(BackingError, match=f"Long: {says}"):
        play_version(read_form_text(long), version)
