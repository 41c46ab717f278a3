"""Versions' names, and how practice options are read and refused."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from form.songs import song

from backing.errors import BackingError
from backing.form import read_form_text
from backing.form.parts import PARTS as TABLE
from backing.players import player_of
from backing.practice import PLAIN, Stretch, Version, canonical, describe
from backing.practice.typed_options import check_with, read_options, versions
from backing.practice.versions import PARTS, check, last_step
from backing.text.percent import percent
from backing.theory.keys import parse_key


def shares(*percents: str) -> tuple[Fraction, ...]:
    return tuple(Fraction(one) / 100 for one in percents)


def test_each_part_has_a_player() -> None:
    assert tuple(TABLE) == PARTS
    assert all(callable(player_of(part)) for part in TABLE.values())


def test_the_plain_version_has_no_name() -> None:
    assert describe(PLAIN) == ""
    assert versions({}) == (PLAIN,)
    assert versions({"speed": "100"}) == (PLAIN,)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"speed": "60"}, "60%"),
        ({"speed": "12.5 %"}, "12.5%"),
        ({"ladder": "60-100"}, "ladder 60-100%"),
        ({"ladder": "60-100 by 5"}, "ladder 60-100%"),
        ({"ladder": "100-60 by 10"}, "ladder 100-60% by 10"),
        ({"ladder": "60%-100% by 15%"}, "ladder 60-100% by 15"),
        ({"ladder": " 60 - 100by12.5 "}, "ladder 60-100% by 12.5"),
        ({"ladder": "60-100", "between": "0"}, "ladder 60-100%, no count between"),
        ({"loop": "8"}, "loop 8"),
        ({"loop": "8", "between": "1"}, "loop 8, 1 bar between"),
        ({"section": "chorus", "loop": "8", "speed": "75"}, "chorus, loop 8, 75%"),
        ({"section": "verse .. chorus"}, "verse to chorus"),
        ({"bars": "9-12"}, "bars 9-12"),
        ({"bars": "9"}, "bar 9"),
        (
            {"section": "chorus", "ladder": "60-100", "without": "guitar"},
            "chorus, ladder 60-100%, without guitar",
        ),
        ({"only": "click, Bass"}, "only click and bass"),
        ({"without": "drums,bass,pad"}, "without bass, drums and pad"),
        ({"trade": "2"}, "trade 2"),
        ({"key": "Bb"}, "in Bb"),
        ({"key": "A", "keep-shapes": True}, "in A, same shapes"),
        ({"transpose": "-3", "capo": "0", "easier": True}, "transposed -3, capo 0, easier"),
    ],
)
def test_the_name_of_a_version(typed: dict[str, Any], words: str) -> None:
    (version,) = versions(typed)
    assert describe(version) == words


def test_each_speed_makes_a_version() -> None:
    found = versions({"speed": "60,75,90,100", "loop": "2"})
    assert [one.speeds for one in found] == [(speed,) for speed in shares("60", "75", "90", "100")]
    assert {one.loop for one in found} == {2}


def test_a_ladder_from_60_to_100_by_5_has_nine_rounds() -> None:
    (version,) = versions({"ladder": "60-100 by 5"})
    by_hand = shares("60", "65", "70", "75", "80", "85", "90", "95", "100")
    assert version.rounds == by_hand
    assert version.between == 1
    assert last_step(version) is None


def climbed(ladder: str) -> tuple[Fraction, ...]:
    (version,) = versions({"ladder": ladder})
    return version.speeds


def test_a_ladder_whose_steps_miss_its_last_speed_ends_on_it() -> None:
    assert climbed("60-100 by 15") == shares("60", "75", "90", "100")
    assert climbed("100-60 by 15") == shares("100", "85", "70", "60")
    assert climbed("60-70 by 30") == shares("60", "70")
    assert climbed("60-61.5 by 1") == shares("60", "61", "61.5")
    (version,) = versions({"ladder": "60-100 by 15"})
    assert last_step(version) == shares("10", "15")


@pytest.mark.parametrize(
    ("ladder", "short"),
    [
        ("60-70 by 30", None),  # one step alone is not shorter than others
        ("60-70 by 10", None),
        ("60-80 by 10", None),
        ("60-70 by 6", ("4", "6")),  # of two steps the second
        ("100-90 by 6", ("4", "6")),
        ("60-100 by 15", ("10", "15")),
    ],
)
def test_only_the_last_of_several_steps_can_be_shorter(
    ladder: str, short: tuple[str, str] | None
) -> None:
    (version,) = versions({"ladder": ladder})
    assert last_step(version) == (shares(*short) if short else None)


def test_one_speed_has_no_last_step() -> None:
    assert last_step(PLAIN) is None


def test_speeds_are_exact() -> None:
    assert read_options({"speed": "12.5"}).speeds == (Fraction(1, 8),)
    assert Fraction(97) * read_options({"speed": "60"}).speeds[0] == Fraction("58.2")
    assert percent(Fraction(1, 8)) == "12.5%"


def test_a_ladder_loops_at_each_speed() -> None:
    (version,) = versions({"ladder": "60-70 by 10", "loop": "2"})
    assert version.rounds == shares("60", "60", "70", "70")


def test_stretches() -> None:
    for typed, stretch in (
        ({"section": "verse..chorus"}, Stretch("verse", "chorus")),
        ({"section": "chorus"}, Stretch("chorus", "chorus")),
        ({"bars": "9 - 12"}, Stretch(bars=(9, 12))),
    ):
        (version,) = versions(typed)
        assert version.stretch == stretch


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"speed": "60,75,60"}, "--speed: 60% is listed twice. Keep one of the two."),
        ({"speed": "9"}, "--speed: '9' is out of range. Write 10% to 300%."),
        ({"speed": "301"}, "--speed: '301' is out of range. Write 10% to 300%."),
        ({"speed": "fast"}, "--speed: 'fast' isn't a percentage. Write 10% to 300%."),
        ({"speed": ""}, "--speed: '' isn't a percentage. Write 10% to 300%."),
        ({"speed": "60.1234"}, "--speed: '60.1234' has too many decimals"),
        ({"ladder": "60"}, "Write the first speed, the last one"),
        ({"ladder": "60-100-120"}, "'60-100-120' isn't a ladder"),
        ({"ladder": "60-60"}, "starts and ends at 60%. Write two different speeds"),
        ({"ladder": "60-400"}, "--ladder: '400' is out of range. Write 10% to 300%."),
        ({"ladder": "60-100 by 0"}, "--ladder: '0' is out of range. Write 1 to 100"),
        ({"ladder": "60-100 by -5"}, "'-5' isn't a number of percentage points. Write 1 to 100"),
        ({"ladder": "60-100 by"}, "'' isn't a number of percentage points. Write 1 to 100"),
        ({"speed": "60", "ladder": "60-100"}, "--speed and --ladder don't go together"),
        ({"section": "verse", "bars": "1-2"}, "--section and --bars don't go together"),
        ({"section": ".."}, "--section: '..' needs a section before and after the dots"),
        ({"section": "verse.."}, "--section: 'verse..' needs a section before and after"),
        ({"section": " "}, "--section: the section's name is missing"),
        ({"bars": "0-4"}, "--bars: '0-4' isn't a range of bars"),
        ({"bars": "4-2"}, "--bars: '4-2' isn't a range of bars"),
        ({"bars": "x"}, "--bars: 'x' isn't a range of bars"),
        ({"loop": "0"}, "--loop: '0' is out of range. Write 1 to 999."),
        ({"loop": "1000"}, "--loop: '1000' is out of range. Write 1 to 999."),
        ({"loop": "many"}, "--loop: 'many' isn't a whole number. Write 1 to 999."),
        ({"ladder": "60-100", "loop": "112"}, "This comes to 1,008 rounds; an exercise has at"),
        ({"between": "1"}, "--count-between needs more than one round. Add --loop 8."),
        ({"loop": "1", "between": "1"}, "--count-between needs more than one round"),
        ({"loop": "2", "between": "9"}, "--count-between: '9' is out of range. Write 0 to 8."),
        ({"without": "guitar", "only": "bass"}, "--without and --only don't go together"),
        ({"without": "flute"}, "--without: 'flute' isn't a part. Choose from: click, bass"),
        ({"only": ""}, "--only: '' isn't a part"),
        ({"only": "bass,drum"}, "--only: 'drum' isn't a part. Did you mean drums?"),
        ({"trade": "0"}, "--trade: '0' is out of range. Write 1 to 64."),
        ({"trade": "65"}, "--trade: '65' is out of range. Write 1 to 64."),
        ({"key": "H"}, "--key: 'H'"),
        ({"key": "A", "transpose": "2"}, "--key and --transpose don't go together"),
        ({"capo": "12"}, "--capo: '12' is out of range. Write 0 to 11."),
        ({"capo": "2", "keep-shapes": True}, "--capo and --keep-shapes don't go together"),
        ({"keep-shapes": True}, "--keep-shapes needs a key to move to. Add --transpose -2."),
        ({"transpose": "25"}, "--transpose: '25' is out of range. Write -24 to 24."),
        ({"without": ",".join(PARTS), "loop": "2"}, ""),
    ],
)
def test_a_wrong_option_is_refused_in_one_line_with_exit_code_2(
    typed: dict[str, Any], says: str
) -> None:
    if not says:  # leaving out all parts is refused once the form is known
        versions(typed)
        return
    with pytest.raises(BackingError) as error:
        versions(typed)
    assert says in str(error.value)
    assert "\n" not in str(error.value)
    assert error.value.exit_code == 2


def test_versions_that_differ_have_different_names() -> None:
    different: list[dict[str, Any]] = [
        {},
        {"speeds": shares("50")},
        {"speeds": shares("50", "100")},
        {"speeds": shares("50", "75", "100")},
        {"speeds": shares("50", "100"), "between": 1},
        {"loop": 2},
        {"loop": 2, "between": 1},
        {"stretch": Stretch("a", "a")},
        {"stretch": Stretch("a", "b")},
        {"stretch": Stretch(bars=(1, 2))},
        {"without": frozenset({"guitar"})},
        {"only": frozenset({"guitar"})},
        {"trade": 2},
        {"key": parse_key("A")},
        {"key": parse_key("Am")},
        {"capo": 0},
        {"transpose": 2},
        {"transpose": 2, "keep_shapes": True},
        {"easier": True},
    ]
    found = [Version(**fields) for fields in different]
    assert len({describe(one) for one in found}) == len(found)
    assert len({canonical(one) for one in found}) == len(found)
    assert len(set(found)) == len(found)


def test_the_canonical_text_does_not_depend_on_the_process() -> None:
    version = Version(without=frozenset({"pad", "bass"}), speeds=shares("50", "62.5"))
    assert canonical(version) == (
        "speeds=1/2,5/8;loop=1;stretch=None;between=0;without=['bass', 'pad'];only=[];"
        "arrangement=;trade=0;key=None;capo=None;transpose=0;keep_shapes=False;"
        "easier=False;build_up="
    )


@pytest.mark.parametrize(
    ("instrument", "typed", "left_out"),
    [
        ("guitar", {"without": "guitar"}, "guitar"),
        ("guitar", {"only": "bass"}, "guitar"),
        ("guitar", {"without": "bass"}, ""),
        ("ukulele", {"without": "guitar"}, "guitar"),
        ("bass", {"without": "guitar"}, ""),
        ("bass", {"only": "bass"}, ""),
        ("bass", {"without": "bass"}, "bass"),
        ("bass", {"only": "guitar"}, "bass"),
    ],
)
def test_to_trade_the_student_must_have_a_part(
    instrument: str, typed: dict[str, Any], left_out: str
) -> None:
    found = versions({"trade": "2", **typed})
    form = read_form_text(song(instrument=instrument))
    if not left_out:
        check_with(form, found)
        return
    with pytest.raises(BackingError) as error:
        check_with(form, found)
    assert str(error.value) == (
        f"--trade needs the {left_out}, which is left out. Let the {left_out} play."
    )
    assert error.value.exit_code == 2


@pytest.mark.parametrize(
    ("version", "says"),
    [
        (Version(loop=1000), "loop: '1000' is out of range. Write 1 to 999."),
        (Version(speeds=shares("9")), "speed: '9' is out of range. Write 10% to 300%."),
        (Version(between=1), "between needs more than one round. Add loop: 8"),
        (Version(without=frozenset({"flute"})), "without: 'flute' isn't a part."),
        (Version(trade=2, only=frozenset({"bass"})), "trade needs the guitar"),
        (Version(key=parse_key("A"), transpose=2), "key and transpose don't go together"),
        (Version(speeds=shares("50", "60"), loop=500), "1,000 rounds"),
    ],
)
def test_a_version_made_in_python_is_checked_too(version: Version, says: str) -> None:
    with pytest.raises(BackingError) as error:
        check(version)
    assert says in str(error.value)


@pytest.mark.parametrize(
    "speeds", [("60", "60.5"), ("10", "300"), ("50", "100", "75"), ("50", "50")]
)
def test_a_version_may_have_speeds_that_no_ladder_has(speeds: tuple[str, ...]) -> None:
    check(Version(speeds=shares(*speeds), between=0))


def test_a_bar_of_count_in_comes_between_two_speeds_but_not_between_rounds_at_one() -> None:
    (ladder,) = versions({"ladder": "60-100 by 40"})
    (loop,) = versions({"speed": "60", "loop": "2"})
    assert (ladder.between, loop.between) == (1, 0)
