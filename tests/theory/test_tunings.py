"""Tunings: names, letters and notes, and what is refused."""

from __future__ import annotations

import pytest

from backing.theory.instruments import GUITAR, INSTRUMENTS
from backing.theory.pitch import note_name
from backing.theory.tunings import NAMED, parse_tuning


def notes(text: str, instrument: str = "guitar") -> str:
    return " ".join(map(note_name, parse_tuning(text, INSTRUMENTS[instrument])))


@pytest.mark.parametrize(
    ("text", "sounding"),
    [
        ("drop D", "D2 A2 D3 G3 B3 E4"),
        ("D A D G B E", "D2 A2 D3 G3 B3 E4"),
        ("DADGAD", "D2 A2 D3 G3 A3 D4"),
        ("CGCGCE", "C2 G2 C3 G3 C4 E4"),
        ("D A D F# A D", "D2 A2 D3 F#3 A3 D4"),
        ("DADF#AD", "D2 A2 D3 F#3 A3 D4"),
        ("F A D G B E", "F2 A2 D3 G3 B3 E4"),
        ("B E A D G B E", "B1 E2 A2 D3 G3 B3 E4"),
        ("F# B E A D G B E", "F#1 B1 E2 A2 D3 G3 B3 E4"),
        ("G4 D3 G3 B3 D4", "G4 D3 G3 B3 D4"),
        ("banjo", "G4 D3 G3 B3 D4"),
        ("  half   step down ", "D#2 G#2 C#3 F#3 A#3 D#4"),
        ("C3 G3 D4 A4", "C3 G3 D4 A4"),
    ],
)
def test_a_guitars_tunings(text: str, sounding: str) -> None:
    assert notes(text) == sounding


@pytest.mark.parametrize(
    ("instrument", "text", "sounding"),
    [
        ("ukulele", "low G", "G3 C4 E4 A4"),
        ("ukulele", "A D F# B", "A4 D4 F#4 B4"),
        ("ukulele", "GCEA", "G4 C4 E4 A4"),
        ("baritone ukulele", "D G B E", "D3 G3 B3 E4"),
    ],
)
def test_other_instruments_tunings(instrument: str, text: str, sounding: str) -> None:
    assert notes(text, instrument) == sounding


def test_letters_of_the_standard_tuning_are_the_standard_tuning() -> None:
    for instrument in INSTRUMENTS.values():
        letters = [note_name(note).rstrip("0123456789") for note in instrument.tuning]
        assert parse_tuning(" ".join(letters), instrument) == instrument.tuning
        assert parse_tuning("".join(letters), instrument) == instrument.tuning


def test_every_name_is_read_and_its_notes_are_as_well() -> None:
    assert set(NAMED) == set(INSTRUMENTS)
    for instrument, names in NAMED.items():
        for name, text in names.items():
            assert notes(name, instrument) == notes(text, instrument)
        assert parse_tuning("standard", INSTRUMENTS[instrument]) == INSTRUMENTS[instrument].tuning


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("D2 A2 D3", "4 to 8 notes, not 3"),
        ("E1 A1 D2 G2 C3 F3 A3 D4 G4", "4 to 8 notes, not 9"),
        ("", "isn't a tuning"),
        ("E4 B3 G3 D3 A2 E2", "starts with the high string"),
        ("A4 E4 C4 G4", "starts with the high string"),
        ("D4 B3 G3 D3 G4", "starts with the high string"),
        ("E2 A2 D3 G3 B3 E", "isn't a note"),
        ("drop E", "did you mean drop D"),
        ("zither", "or a name such as drop D"),
        ("Bb A D G B E", "Bb could be Bb1 or Bb2"),
        ("G D G B D", "write the octave of each note"),
        ("E2 A2 D3 G3 B3 G9", "from A0 to C6"),
    ],
)
def test_what_is_refused(text: str, advice: str) -> None:
    with pytest.raises(ValueError, match=advice):
        parse_tuning(text, GUITAR)


def test_another_instruments_strings_are_counted() -> None:
    with pytest.raises(ValueError, match="a ukulele has 4 strings, not 6; write G4 C4 E4 A4"):
        parse_tuning("E2 A2 D3 G3 B3 E4", INSTRUMENTS["ukulele"])
