"""Pitch names, note numbers, transposition."""

from __future__ import annotations

import pytest

from backing.theory.pitch import (
    note_name,
    note_number,
    on_circle,
    parse_pitch_name,
    spelled,
    transposed,
)


@pytest.mark.parametrize(
    ("text", "pitch_class", "written"),
    [
        ("C", 0, "C"),
        ("F#", 6, "F#"),
        ("F♯", 6, "F#"),
        ("Bb", 10, "Bb"),
        ("B♭", 10, "Bb"),
        ("Cb", 11, "Cb"),
        ("B#", 0, "B#"),
        ("E#", 5, "E#"),
        ("Fb", 4, "Fb"),
        ("G", 7, "G"),
    ],
)
def test_names(text: str, pitch_class: int, written: str) -> None:
    name = parse_pitch_name(text)
    assert (name.pitch_class, str(name)) == (pitch_class, written)


def test_pretty_names() -> None:
    assert parse_pitch_name("F#").pretty == "F♯"
    assert parse_pitch_name("Bb").pretty == "B♭"
    assert parse_pitch_name("B").pretty == "B"


@pytest.mark.parametrize("text", ["", "H", "a", "F##", "bb", "C ", "#", "C4"])
def test_text_that_is_not_a_name(text: str) -> None:
    with pytest.raises(ValueError, match="write a letter from A to G"):
        parse_pitch_name(text)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("C-1", 0),
        ("E2", 40),
        ("C4", 60),
        ("A4", 69),
        ("B#3", 60),
        ("Cb4", 59),
        ("G9", 127),
        ("F♯3", 54),
        ("Bb2", 46),
    ],
)
def test_note_numbers(text: str, number: int) -> None:
    assert note_number(text) == number


@pytest.mark.parametrize("text", ["", "E", "H2", "e2", "E 2", "G#9", "Cb-1", "C10"])
def test_text_that_is_not_a_note(text: str) -> None:
    with pytest.raises(ValueError, match=r"write a (letter|note)"):
        note_number(text)


def test_every_note_number_is_read_back_in_either_spelling() -> None:
    for number in range(128):
        assert note_number(note_name(number)) == number
        assert note_number(note_name(number, flats=True)) == number
    assert (note_name(40), note_name(46), note_name(46, flats=True)) == ("E2", "A#2", "Bb2")


def test_transposing_names() -> None:
    a = parse_pitch_name("A")
    assert [str(transposed(a, steps, flats=True)) for steps in (1, 4, -1, 15)] == [
        "Bb",
        "Db",
        "Ab",
        "C",
    ]
    assert str(transposed(a, 1, flats=False)) == "A#"
    odd = parse_pitch_name("Cb")
    assert transposed(odd, 0, flats=False) is odd
    assert transposed(odd, -12, flats=False) is odd
    for number in range(12):
        for flats in (False, True):
            assert spelled(number, flats).pitch_class == number


def test_names_on_the_circle_of_fifths() -> None:
    names = "Fb Cb Gb Db Ab Eb Bb F C G D A E B F# C# G# D# A# E# B#".split()
    assert [str(on_circle(fifths)) for fifths in range(-8, 13)] == names
    for fifths, text in enumerate(names, -8):
        name = parse_pitch_name(text)
        assert name.fifths == fifths
        assert name.pitch_class == 7 * fifths % 12
        assert name.is_usual == (text not in ("E#", "B#", "Cb", "Fb"))
    assert not on_circle(13).is_usual  # F double sharp
    assert not on_circle(-9).is_usual
