"""How a message names the pitches that may be played."""

from __future__ import annotations

from backing.theory.pitch import spelled


def class_names(classes: int) -> str:
    """The names of pitch classes, given as bits, with sharps."""
    return ", ".join(str(spelled(tone, flats=False)) for tone in range(12) if classes >> tone & 1)
