"""What a version is called, and how options are read and refused."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from backing.errors import BackingError
from backing.players import PARTS as PLAYERS
from backing.practice import PLAIN, Stretch, Version, canonical, describe
from backing.practice.options import Asked, bars, ladder, section, speeds, versions
from backing.practice.versions import PARTS, last_step, percent
from backing.theory.keys import parse_key


def shares(*percents: str) -> tuple[Fraction, ...]:
    return tuple(Fraction(one) / 100 for one in percents)


def test_the_parts_are_the_players() -> None:
    assert tuple(part.name for part in PLAYERS) == PARTS


def test_the_plain_version_says_nothing() -> None:
    assert describe(PLAIN) == ""
    assert versions(Asked()) == (PLAIN,)
    assert versions(Asked(speed="100")) == (PLAIN,)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (Asked(speed="60"), "60%"),
        (Asked(speed="12.5 %"), "12.5%"),
        (Asked(ladder="60-100"), "ladder 60-100%"),
        (Asked(ladder="60-100", rung="5"), "ladder 60-100%"),
        (Asked(ladder="100-60", rung="10"), "ladder 100-60% by 10"),
        (Asked(ladder="60-100", rung="15"), "ladder 60-100% by 15"),
        (Asked(ladder="60-100", count_between=0), "ladder 60-100%, no count between"),
        (Asked(loop=8), "loop 8"),
        (Asked(loop=8, count_between=1), "loop 8, 1 bar between"),
        (Asked(section="chorus", loop=8, speed="75"), "chorus, loop 8, 75%"),
        (Asked(section="verse .. chorus"), "verse to chorus"),
        (Asked(bars="9-12"), "bars 9-12"),
        (Asked(bars="9"), "bar 9"),
        (
            Asked(section="chorus", ladder="60-100", without="guitar"),
            "chorus, ladder 60-100%, without guitar",
        ),
        (Asked(only="click, Bass"), "only click and bass"),
        (Asked(without="drums,bass,pad"), "without bass, drums and pad"),
        (Asked(answer=2), "answer 2"),
        (Asked(key="Bb"), "in Bb"),
        (Asked(key="A", keep_shapes=True), "in A, same shapes"),
        (Asked(transpose=-3, capo=0, easier=True), "transposed -3, capo 0, easier"),
    ],
)
def test_what_a_version_is_called(asked: Asked, words: str) -> None:
    (version,) = versions(asked)
    assert describe(version) == words


def test_several_speeds_are_several_versions() -> None:
    found = versions(Asked(speed="60,75,90,100", loop=2))
    assert [one.speeds for one in found] == [(speed,) for speed in shares("60", "75", "90", "100")]
    assert {one.loop for one in found} == {2}


def test_a_ladder_from_60_to_100_by_5_has_nine_rounds() -> None:
    (version,) = versions(Asked(ladder="60-100", rung="5"))
    by_hand = shares("60", "65", "70", "75", "80", "85", "90", "95", "100")
    assert version.rounds == by_hand
    assert version.between == 1
    assert last_step(version) is None


def test_a_rung_that_does_not_divide_ends_on_the_last() -> None:
    assert ladder("60-100", "15") == shares("60", "75", "90", "100")
    assert ladder("100-60", "15") == shares("100", "85", "70", "60")
    assert ladder("60-70", "30") == shares("60", "70")
    assert ladder("60-61.5", "1") == shares("60", "61", "61.5")
    (version,) = versions(Asked(ladder="60-100", rung="15"))
    assert last_step(version) == shares("10", "15")


def test_speeds_are_exact() -> None:
    assert speeds("12.5") == (Fraction(1, 8),)
    assert Fraction(97) * speeds("60")[0] == Fraction("58.2")
    assert percent(Fraction(1, 8)) == "12.5%"


def test_loops_at_each_speed() -> None:
    (version,) = versions(Asked(ladder="60-70", rung="10", loop=2))
    assert version.rounds == shares("60", "60", "70", "70")


def test_stretches() -> None:
    assert section("verse..chorus") == Stretch("verse", "chorus")
    assert section("chorus") == Stretch("chorus", "chorus")
    assert bars("9 - 12") == Stretch(bars=(9, 12))


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (Asked(speed="60,75,60"), "60% stands there twice"),
        (Asked(speed="9"), "10% to 300%"),
        (Asked(speed="301"), "10% to 300%"),
        (Asked(speed="fast"), "percent of the tempo"),
        (Asked(speed=""), "percent of the tempo"),
        (Asked(ladder="60"), "first and the last speed"),
        (Asked(ladder="60-60"), "--speed 60%"),
        (Asked(ladder="60-400"), "10% to 300%"),
        (Asked(ladder="60-100", rung="0"), "--rung 0"),
        (Asked(ladder="60-100", rung="-5"), "--rung -5"),
        (Asked(rung="5"), "--rung goes with --ladder"),
        (Asked(speed="60", ladder="60-100"), "--speed and --ladder exclude"),
        (Asked(section="verse", bars="1-2"), "--section and --bars exclude"),
        (Asked(section=".."), "--section"),
        (Asked(section="verse.."), "--section"),
        (Asked(bars="0-4"), "--bars 0-4"),
        (Asked(bars="4-2"), "--bars 4-2"),
        (Asked(bars="x"), "--bars x"),
        (Asked(loop=0), "0 rounds"),
        (Asked(loop=1000), "1000 rounds"),
        (Asked(count_between=1), "--count-between goes with --loop or --ladder"),
        (Asked(loop=1, count_between=1), "one round"),
        (Asked(loop=2, count_between=9), "Write 0 to 8"),
        (Asked(without="guitar", only="bass"), "--without and --only exclude"),
        (Asked(without="flute"), "'flute' is no part"),
        (Asked(only=""), "'' is no part"),
        (Asked(answer=0), "from 1 on"),
        (Asked(answer=65), "Write 0 to 64"),
        (Asked(answer=2, without="guitar"), "answer needs the guitar"),
        (Asked(answer=2, only="bass"), "answer needs the guitar"),
        (Asked(key="H"), "isn't a key"),
        (Asked(key="A", transpose=2), "--key and --transpose exclude"),
        (Asked(capo=12), "Write 0 to 11"),
        (Asked(capo=2, keep_shapes=True), "--capo and --keep-shapes exclude"),
        (Asked(keep_shapes=True), "--keep-shapes goes with --key or --transpose"),
        (Asked(transpose=25), "Write -24 to 24"),
        (Asked(without=",".join(PARTS), loop=2), ""),
    ],
)
def test_nonsense_is_one_sentence_with_the_exit_code_of_input(asked: Asked, says: str) -> None:
    if not says:  # leaving all parts out is refused when the form is known
        versions(asked)
        return
    with pytest.raises(BackingError) as error:
        versions(asked)
    assert says.lower() in str(error.value).lower()
    assert "\n" not in str(error.value)
    assert error.value.exit_code == 2


def test_versions_that_differ_are_told_apart() -> None:
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
        {"answer": 2},
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
        "answer=0;key=None;capo=None;transpose=0;keep_shapes=False;easier=False"
    )
