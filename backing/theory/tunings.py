"""Tunings by name, and how a tuning is read: as a name, as notes, or as letters alone.

A tuning lists open strings from the lowest row to the highest as they lie on the neck. They
need not rise: a ukulele's fourth string and a banjo's short fifth are higher than the next.
The names and notes are common practice, from memory; `tests/outside/test_tuning.py` checks
those that published sources list.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from types import MappingProxyType

from backing.theory.fretboard import FEWEST_STRINGS, MOST_STRINGS
from backing.theory.instruments import GUITAR, Instrument
from backing.theory.pitch import note_name, note_number, parse_pitch_name

#: The range of open strings: A0 to C6.
LOWEST_OPEN, HIGHEST_OPEN = 21, 84

#: By instrument, each with its standard tuning first.
NAMED: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "guitar": MappingProxyType(
            {
                "standard": "E2 A2 D3 G3 B3 E4",
                "drop D": "D2 A2 D3 G3 B3 E4",
                "double drop D": "D2 A2 D3 G3 B3 D4",
                "drop C": "C2 G2 C3 F3 A3 D4",
                "DADGAD": "D2 A2 D3 G3 A3 D4",
                "open D": "D2 A2 D3 F#3 A3 D4",
                "open D minor": "D2 A2 D3 F3 A3 D4",
                "open E": "E2 B2 E3 G#3 B3 E4",
                "open G": "D2 G2 D3 G3 B3 D4",
                "open G minor": "D2 G2 D3 G3 Bb3 D4",
                "open A": "E2 A2 E3 A3 C#4 E4",
                "open C": "C2 G2 C3 G3 C4 E4",
                "half step down": "Eb2 Ab2 Db3 Gb3 Bb3 Eb4",
                "whole step down": "D2 G2 C3 F3 A3 D4",
                "all fourths": "E2 A2 D3 G3 C4 F4",
                "Nashville": "E3 A3 D4 G4 B3 E4",
                "baritone guitar": "B1 E2 A2 D3 F#3 B3",
                "seven-string": "B1 E2 A2 D3 G3 B3 E4",
                "eight-string": "F#1 B1 E2 A2 D3 G3 B3 E4",
                "tenor guitar": "C3 G3 D4 A4",
                "banjo": "G4 D3 G3 B3 D4",
                "banjo double C": "G4 C3 G3 C4 D4",
                "tenor banjo": "C3 G3 D4 A4",
                "mandolin": "G3 D4 A4 E5",
                "octave mandolin": "G2 D3 A3 E4",
                "cavaquinho": "D4 G4 B4 D5",
            }
        ),
        "ukulele": MappingProxyType(
            {
                "standard": "G4 C4 E4 A4",
                "low G": "G3 C4 E4 A4",
                "D tuning": "A4 D4 F#4 B4",
                "half step down": "F#4 B3 Eb4 Ab4",
                "slack key": "G4 C4 E4 G4",
            }
        ),
        "baritone ukulele": MappingProxyType(
            {
                "standard": "D3 G3 B3 E4",
                "high D": "D4 G3 B3 E4",
                "half step down": "Db3 Gb3 Bb3 Eb4",
                "open G": "D3 G3 B3 D4",
            }
        ),
        "bass": MappingProxyType(
            {
                "standard": "E1 A1 D2 G2",
                "drop D": "D1 A1 D2 G2",
                "half step down": "Eb1 Ab1 Db2 Gb2",
                "whole step down": "D1 G1 C2 F2",
            }
        ),
        "five-string bass": MappingProxyType(
            {
                "standard": "B0 E1 A1 D2 G2",
                "high C": "E1 A1 D2 G2 C3",
                "half step down": "Bb0 Eb1 Ab1 Db2 Gb2",
            }
        ),
    }
)
_LETTERS = re.compile(r"(?:[A-G][#♯b♭]?)+")


def parse_tuning(text: str, instrument: Instrument = GUITAR) -> tuple[int, ...]:
    """Read a tuning: `drop D`, `D A D G B E`, or `D2 A2 D3 G3 B3 E4`.

    Args:
        text: as typed, from the lowest row to the highest.
        instrument: whose names and standard tuning count; a guitar may have four to eight
            strings, other instruments as many as usual.

    Raises:
        ValueError: it isn't one; the sentence says what to write.
    """
    text = " ".join(text.split())
    names = NAMED[instrument.name]
    if text in names:
        return tuple(map(note_number, names[text].split()))
    notes = _notes(text)
    if notes is None:
        from difflib import get_close_matches

        lower = {name.lower(): name for name in names}
        near = get_close_matches(text.lower(), lower, n=1)
        advice = f"did you mean {lower[near[0]]}?" if near else f"write {_choices(instrument)}"
        raise ValueError(f"{text[:40]!r} isn't a tuning of a {instrument.name}; {advice}")
    _check_count(len(notes), instrument)
    if not any(note[-1].isdigit() for note in notes):
        found = tuple(_near_standard(notes, instrument))
    else:
        found = tuple(map(note_number, notes))
    return _checked(text, found)


def _notes(text: str) -> Sequence[str] | None:
    """What may be notes, one a string; None where the text is something else."""
    if re.fullmatch(r"[A-G][#♯b♭]?(-?[0-9]{1,2})?( [A-G][#♯b♭]?(-?[0-9]{1,2})?)+", text):
        return text.split()
    if _LETTERS.fullmatch(text) and len(text) > 1:
        return re.findall(r"[A-G][#♯b♭]?", text)
    return None


def _check_count(count: int, instrument: Instrument) -> None:
    usual = len(instrument.tuning)
    if instrument is not GUITAR and count != usual:
        example = " ".join(map(note_name, instrument.tuning))
        raise ValueError(f"a {instrument.name} has {usual} strings, not {count}; write {example}")
    if not FEWEST_STRINGS <= count <= MOST_STRINGS:
        raise ValueError(
            f"a tuning has {FEWEST_STRINGS} to {MOST_STRINGS} notes, not {count}; write one for "
            "each string, such as D2 A2 D3 G3 B3 E4"
        )


def _near_standard(letters: Sequence[str], instrument: Instrument) -> Iterator[int]:
    """Each letter in the octave nearest to what the standard tuning has on its string."""
    standard = _standard(len(letters), instrument)
    if standard is None:
        raise ValueError(
            f"{len(letters)} letters don't say which octaves; write the octave of each note, such "
            "as G4 D3 G3 B3 D4"
        )
    for letter, usual in zip(letters, standard, strict=True):
        up = (parse_pitch_name(letter).pitch_class - usual + 6) % 12 - 6
        if up == -6:
            low, high = (f"{letter}{_octave(letter, usual + by)}" for by in (-6, 6))
            raise ValueError(
                f"{letter} could be {low} or {high}, as far below {note_name(usual)} as above it; "
                "write the octave of each note"
            )
        yield usual + up


def _octave(letter: str, number: int) -> int:
    """The octave that makes a letter this note."""
    return (number - note_number(f"{letter}0")) // 12


def _standard(strings: int, instrument: Instrument) -> tuple[int, ...] | None:
    if strings == len(instrument.tuning):
        return instrument.tuning
    name = {7: "seven-string", 8: "eight-string"}.get(strings)
    return None if name is None else tuple(map(note_number, NAMED["guitar"][name].split()))


def _checked(text: str, notes: tuple[int, ...]) -> tuple[int, ...]:
    if not all(LOWEST_OPEN <= note <= HIGHEST_OPEN for note in notes):
        raise ValueError(f"{text!r} goes beyond open strings from A0 to C6; write other octaves")
    falls = sum(after < before for before, after in pairwise(notes))
    rises = sum(after > before for before, after in pairwise(notes))
    if falls > rises:
        raise ValueError(
            f"{text!r} starts with the high string; write the string of the lowest row first"
        )
    return notes


def _choices(instrument: Instrument) -> str:
    """What may be typed: names, letters or notes."""
    _, *names = NAMED[instrument.name]
    example = " ".join(map(note_name, instrument.tuning))
    return f"notes such as {example}, or a name such as {', '.join(names[:4])}"


def named_tunings() -> tuple[str, ...]:
    """Every name, each once."""
    return tuple(dict.fromkeys(name for names in NAMED.values() for name in names))
