"""How a message names pitches: with sharps, and with the octave where there is one."""

from __future__ import annotations

_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


def note_name(pitch: int) -> str:
    """A MIDI note number's name: 60 is C4."""
    return f"{_NAMES[pitch % 12]}{pitch // 12 - 1}"


def class_names(classes: int) -> str:
    """The names of pitch classes, given as bits."""
    return ", ".join(name for number, name in enumerate(_NAMES) if classes >> number & 1)
