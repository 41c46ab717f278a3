"""Tunings and fingerings, and how they are written."""

from __future__ import annotations

import pytest

from backing.theory.fretboard import Fingering, has_short_string, parse_fingering
from backing.theory.tunings import parse_tuning


@pytest.mark.parametrize(
    ("text", "frets"),
    [
        ("x02220", (None, 0, 2, 2, 2, 0)),
        ("022100", (0, 2, 2, 1, 0, 0)),
        ("X32010", (None, 3, 2, 0, 1, 0)),
        ("x-10-12-12-11-10", (None, 10, 12, 12, 11, 10)),
        ("9-x-9-10-9-x", (9, None, 9, 10, 9, None)),
    ],
)
def test_fingerings_are_read_and_printed(text: str, frets: tuple[int | None, ...]) -> None:
    shape = parse_fingering(text)
    assert shape.frets == frets
    assert str(shape) == text.lower()
    assert parse_fingering(str(shape)) == shape


def test_short_shapes_may_have_dashes_too() -> None:
    assert str(parse_fingering("x-0-2-2-2-0")) == "x02220"


def test_fingers() -> None:
    assert parse_fingering("x02220", "x01230").fingers == (0, 0, 1, 2, 3, 0)
    assert parse_fingering("x02220").fingers == ()


@pytest.mark.parametrize(
    ("text", "fingers", "advice"),
    [
        ("", "", "low string first"),
        ("022", "", "4 to 8 strings, not 3"),
        ("x02220000", "", "4 to 8 strings, not 9"),
        ("x-10-12", "", "4 to 8 strings, not 3"),
        ("xxxxxx", "", "no string of xxxxxx sounds"),
        ("x0222y", "", "isn't a shape"),
        ("x--2-2-2-0", "", "isn't a shape"),
        ("x-25-2-2-2-0", "", "past fret 24"),
        ("x02220", "x0123", "6 strings, as in x01230"),
        ("x02220", "x01235", "aren't fingers"),
    ],
)
def test_what_is_no_fingering(text: str, fingers: str, advice: str) -> None:
    with pytest.raises(ValueError, match=advice):
        parse_fingering(text, fingers)


@pytest.mark.parametrize(
    ("frets", "fingers"),
    [((-1, 0, 0, 0, 0, 0), ()), ((0,) * 6, (5, 0, 0, 0, 0, 0)), ((0,) * 3, ()), ((0,) * 9, ())],
)
def test_a_fingering_checks_itself(frets: tuple[int, ...], fingers: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match=r"fret|finger|strings"):
        Fingering(frets, fingers)


def test_pitches_follow_tuning_and_capo() -> None:
    shape = parse_fingering("x02220")
    assert shape.pitches() == (None, 45, 52, 57, 61, 64)
    assert shape.pitches(capo=3) == (None, 48, 55, 60, 64, 67)
    assert shape.pitches(parse_tuning("D2 A2 D3 G3 A3 D4")) == (None, 45, 52, 57, 59, 62)


@pytest.mark.parametrize(("text", "frets"), [("2010", (2, 0, 1, 0)), ("xxx02220", None)])
def test_shapes_have_four_to_eight_strings(text: str, frets: tuple[int, ...] | None) -> None:
    shape = parse_fingering(text)
    assert str(shape) == text
    assert frets is None or shape.frets == frets


@pytest.mark.parametrize(
    ("tuning", "is_short"),
    [("G4 D3 G3 B3 D4", True), ("G3 D3 G3 B3 D4", False), ("G4 C4 E4 A4", False)],
)
def test_a_banjos_short_fifth_string(tuning: str, is_short: bool) -> None:
    assert has_short_string(parse_tuning(tuning)) == is_short
