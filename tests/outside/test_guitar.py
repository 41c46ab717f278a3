"""Note numbers and the fretboard against published figures."""

from __future__ import annotations

from math import log2

import pytest

from backing.theory.fretboard import STANDARD_TUNING, Fingering, parse_fingering
from backing.theory.pitch import note_name, note_number
from backing.theory.tunings import parse_tuning

# Open strings, low to high (common practice), with the frequencies of equal
# temperament at A4 = 440 Hz (ISO 16:1975) as string makers print them (common practice).
OPEN_STRINGS = (
    ("E2", 82.41),
    ("A2", 110.00),
    ("D3", 146.83),
    ("G3", 196.00),
    ("B3", 246.94),
    ("E4", 329.63),
)


def test_standard_tuning() -> None:
    assert tuple(note_number(name) for name, _ in OPEN_STRINGS) == STANDARD_TUNING
    assert tuple(note_name(number) for number in STANDARD_TUNING) == tuple(
        name for name, _ in OPEN_STRINGS
    )


def number_of(hertz: float) -> float:
    """A frequency as a note number: ISO 16:1975 has A at 440 Hz, and MIDI 1.0 numbers it 69."""
    return 69 + 12 * log2(hertz / 440)


@pytest.mark.parametrize(("name", "hertz"), [*OPEN_STRINGS, ("A4", 440.0), ("C4", 261.626)])
def test_notes_by_their_frequencies(name: str, hertz: float) -> None:
    """Open strings, the A that instruments are tuned to, and middle C."""
    assert note_number(name) == pytest.approx(number_of(hertz), abs=0.002)


def test_tuning_by_ear_at_the_fifth_fret() -> None:
    """Each string's fifth fret is the next open string, the G string's its fourth (common
    practice: how guitars are tuned by leeway)."""
    for string, fret in enumerate((5, 5, 5, 4, 5)):
        frets = tuple(fret if other == string else None for other in range(6))
        assert Fingering(frets).pitches()[string] == STANDARD_TUNING[string + 1]


def test_the_twelfth_fret_is_an_octave_up() -> None:
    low = Fingering((0,) * 6).pitches()
    high = Fingering((12,) * 6).pitches()
    for open_note, octave in zip(low, high, strict=True):
        assert octave == open_note + 12


def test_a_capo_at_the_second_fret_makes_a_d_shape_sound_e() -> None:
    """Common practice: capo 2 raises a D chord to E."""
    notes = parse_fingering("xx0232").pitches(capo=2)
    assert [note_name(note) for note in notes if note is not None] == ["E3", "B3", "E4", "G#4"]


def test_altered_tunings() -> None:
    """Drop D lowers the sixth string a whole tone; D A D G A D by its name (common practice)."""
    assert parse_tuning("D2 A2 D3 G3 B3 E4") == (38, 45, 50, 55, 59, 64)
    assert parse_tuning("D2 A2 D3 G3 A3 D4") == (38, 45, 50, 55, 57, 62)
