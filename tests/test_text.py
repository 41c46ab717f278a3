"""Words for times, tempos, feels, bars and counts: one spelling for all that prints them."""

from __future__ import annotations

from fractions import Fraction

import pytest

from backing.text.bars import bar_name, bar_numbers, bar_range, bars, ending_numbers, pass_name
from backing.text.counts import interval, moved, ordinal, plural, times
from backing.text.feel import feel
from backing.text.lists import ranges, same_values
from backing.text.tempo import beats_per_minute, direction, equation, note_value_name, over
from backing.text.times import clock, long_clock
from backing.text.width import width


@pytest.mark.parametrize(
    ("seconds", "decimals", "text"),
    [
        (Fraction(65217, 1000), 3, "1:05.217"),
        (65.217, 3, "1:05.217"),
        (Fraction(65217, 1000), 1, "1:05.2"),
        (Fraction(65217, 1000), 0, "1:05"),
        (Fraction(599996, 10000), 1, "1:00.0"),
        (Fraction(599996, 10000), 0, "1:00"),
        (0, 3, "0:00.000"),
        (Fraction(3725), 0, "62:05"),
    ],
)
def test_a_clock_rounds_once_and_carries_into_minutes(
    seconds: Fraction | float, decimals: int, text: str
) -> None:
    assert clock(seconds, decimals) == text


def test_a_long_clock_has_hours() -> None:
    assert long_clock(Fraction(3725250, 1000)) == "01:02:05.250"
    assert long_clock(Fraction(599996, 10000)) == "00:01:00.000"


def test_counts() -> None:
    assert [plural(count, "bar") for count in (0, 1, 2)] == ["0 bars", "1 bar", "2 bars"]
    assert [times(count) for count in (2, 3, 4, 5)] == [
        "twice", "three times", "four times", "5 times",
    ]  # fmt: skip
    assert [ordinal(n) for n in (1, 6, 7, 11, 12, 13, 21, 22, 23, 101, 111)] == [
        "first", "sixth", "7th", "11th", "12th", "13th", "21st", "22nd", "23rd", "101st", "111th",
    ]  # fmt: skip
    assert [interval(semitones) for semitones in (1, 2, 3)] == [
        "a semitone",
        "a tone",
        "3 semitones",
    ]
    assert (moved(2), moved(-5)) == ("up a tone", "down 5 semitones")


def test_bars_and_passes() -> None:
    assert (bars(1), bars(8)) == ("1 bar", "8 bars")
    assert (bar_range(9, 12), bar_range(9, 9), bar_range(9, 12, "–")) == (
        "bars 9-12", "bar 9", "bars 9–12",
    )  # fmt: skip
    assert (bar_numbers(9, 12), bar_numbers(9, 9)) == ("9-12", "9")
    assert (bar_name(9), bar_name(0)) == ("bar 9", "the pickup")
    assert [pass_name("Verse", 1, 1), pass_name("Verse", 2, 3), pass_name("Verse 1", 2, 3)] == [
        "Verse", "Verse 2 of 3", "Verse 1, 2 of 3",
    ]  # fmt: skip


def test_three_numbers_in_a_row_are_a_range() -> None:
    assert ranges((1, 2, 4)) == "1, 2, 4"
    assert ranges((1, 2, 3, 5), comma=",") == "1-3,5"
    assert ending_numbers((1, 2, 3, 5, 7, 8, 9)) == "1.–3., 5., 7.–9."


def test_keys_with_the_same_value_come_together() -> None:
    assert list(same_values({1: "a", 2: "b", 3: "a"})) == [((1, 3), "a"), ((2,), "b")]


def test_tempos() -> None:
    assert note_value_name(Fraction(3, 8)) == "dotted quarter note"
    assert note_value_name(Fraction(5, 16)) == "5/16 note"
    assert [beats_per_minute(Fraction(bpm)) for bpm in ("92", "100.5", "400/3")] == [
        "92", "100.5", "133.333",
    ]  # fmt: skip
    assert equation("quarter note", "92") == "quarter note = 92"
    assert (over(1, False), over(2, True)) == ("over the last bar", "over the first 2 bars")
    assert (direction(True), direction(False)) == ("speeding up to", "slowing to")


def test_feels() -> None:
    eighth, sixteenth = Fraction(1, 8), Fraction(1, 16)
    assert feel(Fraction(1), eighth) == "straight"
    assert feel(Fraction(2), eighth) == "swung eighths"
    assert feel(Fraction(3, 2), sixteenth) == "swung sixteenths 3 to 2"
    assert feel(None, eighth) == "swung eighths, by tempo"


def test_a_control_character_is_not_lost_from_a_width() -> None:
    assert width("川\x07a") == 4
