"""Standard and named tunings against published ones.

Sources: music21's `tablature` module (BSD), which lists the standard tunings of guitar, bass,
ukulele and mandolin; npm `@tombatossals/chords-db` 0.5.1 (MIT) for the ukulele. Tunings by name,
checked by what their names say: common practice.
"""

from __future__ import annotations

import pytest
from music21 import tablature

from backing.theory.chords import parse_chord
from backing.theory.instruments import INSTRUMENTS
from backing.theory.pitch import note_number
from backing.theory.tunings import NAMED, parse_tuning


@pytest.mark.parametrize(
    ("board", "tuning"),
    [
        (tablature.GuitarFretBoard, INSTRUMENTS["guitar"].tuning),
        (tablature.BassGuitarFretBoard, INSTRUMENTS["bass"].tuning),
        (tablature.UkeleleFretBoard, INSTRUMENTS["ukulele"].tuning),
        (tablature.MandolinFretBoard, parse_tuning("mandolin")),
    ],
)
def test_standard_tunings_are_those_of_music21(board: type, tuning: tuple[int, ...]) -> None:
    assert tuple(int(pitch.ps) for pitch in board(0).tuning) == tuning


def test_the_ukuleles_tuning_is_that_of_the_published_shapes() -> None:
    """Its "standard" there: G4, C4, E4, A4."""
    notes = tuple(map(note_number, ("G4", "C4", "E4", "A4")))
    assert INSTRUMENTS["ukulele"].tuning == notes


@pytest.mark.parametrize(
    "name",
    ["open D", "open D minor", "open E", "open G", "open G minor", "open A", "open C"],
)
def test_open_tunings_sound_their_chord(name: str) -> None:
    chord = name.removeprefix("open ").replace(" minor", "m")
    assert {note % 12 for note in parse_tuning(name)} == parse_chord(chord).pitch_classes


@pytest.mark.parametrize(("name", "semitones"), [("half step down", 1), ("whole step down", 2)])
def test_steps_down_lower_every_string(name: str, semitones: int) -> None:
    for instrument, names in NAMED.items():
        if name in names:
            usual = INSTRUMENTS[instrument].tuning
            lowered = parse_tuning(name, INSTRUMENTS[instrument])
            assert [a - b for a, b in zip(usual, lowered, strict=True)] == [semitones] * len(usual)


@pytest.mark.parametrize("instrument", ["guitar", "bass"])
def test_drop_d_lowers_the_lowest_string_alone(instrument: str) -> None:
    usual = INSTRUMENTS[instrument].tuning
    assert parse_tuning("drop D", INSTRUMENTS[instrument]) == (usual[0] - 2, *usual[1:])
