"""Pitch: spelled names and note numbers.

Conventions: a pitch class counts semitones above C (0-11); a note number is MIDI's,
with middle C = C4 = 60 (scientific pitch notation).
"""

from __future__ import annotations

import re
from typing import NamedTuple

LETTERS = "CDEFGAB"
_CIRCLE = "FCGDAEB"
_LETTER_CLASSES = dict(zip(LETTERS, (0, 2, 4, 5, 7, 9, 11), strict=True))
_SHARP_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_FLAT_NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
_ACCIDENTALS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}
_NAME = re.compile(r"([A-G])([#♯b♭]?)")
_NOTE = re.compile(r"([A-G][#♯b♭]?)(-?[0-9]{1,2})")

HIGHEST_NUMBER = 127


class PitchName(NamedTuple):
    """A spelled pitch without its octave: a letter A-G and its sharps (+) or flats (-)."""

    letter: str
    accidental: int = 0

    @property
    def pitch_class(self) -> int:
        """Semitones above C, 0-11."""
        return (_LETTER_CLASSES[self.letter] + self.accidental) % 12

    @property
    def fifths(self) -> int:
        """How many fifths above C: F is -1, G 1, and a sharp adds seven."""
        return _CIRCLE.index(self.letter) - 1 + 7 * self.accidental

    @property
    def is_usual(self) -> bool:
        """Whether it is a name in everyday use, from Gb to A#: not E#, B#, Cb, Fb or a double."""
        return -6 <= self.fifths <= 10

    @property
    def pretty(self) -> str:
        """The name with printed signs: F♯, B♭."""
        return str(self).replace("#", "♯").replace("b", "♭")

    def __str__(self) -> str:
        return self.letter + "#" * self.accidental + "b" * -self.accidental


def parse_pitch_name(text: str) -> PitchName:
    """Read a letter A-G with at most one sharp or flat, such as `F#` or `B♭`.

    Raises:
        ValueError: it isn't one; the sentence says what to write.
    """
    found = _NAME.fullmatch(text)
    if not found:
        raise ValueError(
            f"{text!r} isn't a note name; write a letter from A to G, as in C, F# or Bb"
        )
    return PitchName(found[1], _ACCIDENTALS[found[2]])


def on_circle(fifths: int) -> PitchName:
    """The name so many fifths above C, with as many sharps or flats as that takes."""
    accidental, letter = divmod(fifths + 1, len(_CIRCLE))
    return PitchName(_CIRCLE[letter], accidental)


def spelled(pitch_class: int, flats: bool) -> PitchName:
    """The plain spelling of a pitch class (any integer): a natural, or one sharp or flat."""
    return parse_pitch_name((_FLAT_NAMES if flats else _SHARP_NAMES)[pitch_class % 12])


def transposed(name: PitchName, semitones: int, flats: bool) -> PitchName:
    """The name some semitones up, in its plain spelling; by whole octaves it stays as it is."""
    return name if semitones % 12 == 0 else spelled(name.pitch_class + semitones, flats)


def note_number(text: str) -> int:
    """The note number (0-127) of a name in scientific pitch notation: C4 is 60, E2 is 40.

    Raises:
        ValueError: it isn't one; the sentence says what to write.
    """
    found = _NOTE.fullmatch(text)
    if not found:
        raise ValueError(f"{text!r} isn't a note; write a letter and an octave, as in E2 or F#3")
    name = parse_pitch_name(found[1])
    # The octave belongs to the letter, so that B#3 is C4 and Cb4 is B3.
    number = 12 * (int(found[2]) + 1) + _LETTER_CLASSES[name.letter] + name.accidental
    if not 0 <= number <= HIGHEST_NUMBER:
        raise ValueError(f"{text!r} is out of range; write a note from C-1 to G9")
    return number


def note_name(number: int, flats: bool = False) -> str:
    """The scientific name of a note number: 40 is E2; black keys are sharps unless `flats`."""
    return f"{spelled(number, flats)}{number // 12 - 1}"
