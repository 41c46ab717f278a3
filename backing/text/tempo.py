"""Tempos and their changes in words."""

from __future__ import annotations

from fractions import Fraction

#: Note values, in fractions of a whole note, as musicians name them.
_NOTE_NAMES = {
    Fraction(1): "whole note",
    Fraction(1, 2): "half note",
    Fraction(1, 4): "quarter note",
    Fraction(1, 8): "eighth note",
    Fraction(1, 16): "sixteenth note",
    Fraction(3, 4): "dotted half note",
    Fraction(3, 8): "dotted quarter note",
    Fraction(3, 16): "dotted eighth note",
}


def note_value_name(whole: Fraction) -> str:
    """A note value, in fractions of a whole note, by its name: dotted quarter note."""
    return _NOTE_NAMES.get(whole, f"{whole} note")


def beats_per_minute(bpm: Fraction) -> str:
    """A tempo's number, to six digits: 92, 100.5."""
    return f"{float(bpm):.6g}"


def equation(beat: str, bpm: str) -> str:
    """A tempo as it is printed: quarter note = 92."""
    return f"{beat} = {bpm}"


def over(bars: int, from_first: bool) -> str:
    """The stretch that a change of tempo takes: over the last 2 bars."""
    which = "first" if from_first else "last"
    return f"over the {which} {'bar' if bars == 1 else f'{bars} bars'}"


def direction(faster: bool) -> str:
    """Which way a tempo changes."""
    return "speeding up to" if faster else "slowing to"
