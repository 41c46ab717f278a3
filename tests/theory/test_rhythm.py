"""Meters and note values."""

from __future__ import annotations

from fractions import Fraction

import pytest

from backing.theory.rhythm import (
    COMMON_TIME,
    Meter,
    note_value_text,
    parse_meter,
    parse_note_value,
)

# text, beats in units, where groups start in units
METERS = [
    ("4/4", [1, 1, 1, 1], [0]),
    ("3/4", [1, 1, 1], [0]),
    ("2/2", [1, 1], [0]),
    ("1/1", [1], [0]),
    ("5/4", [1] * 5, [0]),
    ("5/4 (3+2)", [1] * 5, [0, 3]),
    ("7/4 (4+3)", [1] * 7, [0, 4]),
    ("1/8", [1], [0]),
    ("2/8", [1, 1], [0]),
    ("3/8", [1, 1, 1], [0]),
    ("4/8", [1, 1, 1, 1], [0]),
    ("4/8 (2+2)", [2, 2], [0, 2]),
    ("3/16", [1, 1, 1], [0]),
    ("5/8", [3, 2], [0, 3]),
    ("5/8 (2+3)", [2, 3], [0, 2]),
    ("6/8", [3, 3], [0, 3]),
    ("6/8 (2+2+2)", [2, 2, 2], [0, 2, 4]),
    ("7/8", [2, 2, 3], [0, 2, 4]),
    ("7/8 (3+2+2)", [3, 2, 2], [0, 3, 5]),
    ("7/16", [2, 2, 3], [0, 2, 4]),
    ("8/8 (3+3+2)", [3, 3, 2], [0, 3, 6]),
    ("9/8", [3, 3, 3], [0, 3, 6]),
    ("9/8 (2+2+2+3)", [2, 2, 2, 3], [0, 2, 4, 6]),
    ("10/8 (3+2+2+3)", [3, 2, 2, 3], [0, 3, 5, 7]),
    ("11/8 (3+3+3+2)", [3, 3, 3, 2], [0, 3, 6, 9]),
    ("12/8", [3, 3, 3, 3], [0, 3, 6, 9]),
    ("15/16 (3+3+3+3+3)", [3] * 5, [0, 3, 6, 9, 12]),
]


@pytest.mark.parametrize(("text", "beats", "groups"), METERS)
def test_meters(text: str, beats: list[int], groups: list[int]) -> None:
    meter = parse_meter(text)
    unit = Fraction(1, meter.unit)
    assert str(meter) == text
    assert meter.unit_whole == unit
    assert meter.bar_whole == Fraction(meter.count, meter.unit)
    assert meter.units == (unit,) * meter.count
    assert meter.beats == tuple(unit * beat for beat in beats)
    assert meter.beat_starts == tuple(sum(meter.beats[:n]) for n in range(len(beats)))
    assert meter.group_starts == tuple(unit * start for start in groups)
    assert meter.even == (len(set(beats)) == 1)
    assert meter.beat_whole == (meter.beats[0] if meter.even else None)
    assert sum(meter.beats) == meter.bar_whole


def test_spaces_are_free() -> None:
    assert parse_meter(" 7 / 8(2 + 2 + 3) ") == Meter(7, 8, (2, 2, 3))


def test_equality_is_by_what_was_written() -> None:
    assert parse_meter("4/4") == COMMON_TIME == Meter(4, 4)
    assert hash(Meter(7, 8, (2, 2, 3))) == hash(parse_meter("7/8 (2+2+3)"))
    assert Meter(7, 8) != Meter(7, 8, (2, 2, 3))
    assert len({Meter(3, 4), Meter(3, 4), Meter(6, 8)}) == 2


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("", "write one such as 4/4"),
        ("4", "write one such as 4/4"),
        ("four/4", "write one such as 4/4"),
        ("4/4 3+1", "write one such as 4/4"),
        ("-4/4", "write one such as 4/4"),
        ("4/3", "a meter can't have 3 below; write 1, 2, 4, 8 or 16"),
        ("4/32", "a meter can't have 32 below"),
        ("4/0", "a meter can't have 0 below"),
        ("0/4", "a meter can't have 0 above; write 1 to 64"),
        ("65/4", "a meter can't have 65 above"),
        ("7/8 (2+2)", r"2\+2 add up to 4, not 7; write 7/8 \(3\+2\+2\)"),
        ("7/8 (7+0)", r"write 7/8 \(3\+2\+2\)"),
        ("7/8 ()", "numbers with"),
        ("7/8 (2++5)", "numbers with"),
        ("8/8", r"write its groups, as in 8/8 \(3\+3\+2\)"),
        ("10/8", r"10/8 \(3\+3\+2\+2\)"),
        ("11/8", r"11/8 \(3\+3\+3\+2\)"),
        ("13/16", r"13/16 \(3\+3\+3\+2\+2\)"),
        ("15/8", r"15/8 \(3\+3\+3\+3\+3\)"),
    ],
)
def test_text_that_is_not_a_meter(text: str, advice: str) -> None:
    with pytest.raises(ValueError, match=advice):
        parse_meter(text)


def test_every_suggested_grouping_is_a_meter() -> None:
    for count in range(1, 65):
        try:
            parse_meter(f"{count}/8")
        except ValueError as error:
            suggested = str(error).rpartition("as in ")[2]
            assert parse_meter(suggested).count == count
        else:
            assert count <= 7 or count in (9, 12)


NOTE_VALUES = [
    ("1/1", Fraction(1)),
    ("1/2", Fraction(1, 2)),
    ("1/4", Fraction(1, 4)),
    ("1/8", Fraction(1, 8)),
    ("1/16", Fraction(1, 16)),
    ("1/32", Fraction(1, 32)),
    ("3/8", Fraction(3, 8)),
    ("3/4", Fraction(3, 4)),
    ("1/4t", Fraction(1, 6)),
    ("1/8t", Fraction(1, 12)),
    ("1/16t", Fraction(1, 24)),
]


@pytest.mark.parametrize(("text", "value"), NOTE_VALUES)
def test_note_values(text: str, value: Fraction) -> None:
    assert parse_note_value(text) == value
    assert note_value_text(value) == text


@pytest.mark.parametrize("text", ["", "8", "1/0", "0/8", "1/3", "1/12", "1/8T", "1/8tt", "-1/8"])
def test_what_is_no_note_value(text: str) -> None:
    with pytest.raises(ValueError, match="isn't a note value; write 1/4"):
        parse_note_value(text)


def test_a_note_value_has_a_longest() -> None:
    assert parse_note_value("16/1") == 16
    with pytest.raises(ValueError, match="at most 16 whole notes"):
        parse_note_value("17/1")
