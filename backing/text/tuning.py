"""How the strings of an instrument read in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from backing.text.counts import ordinal
from backing.theory.keys import Key
from backing.theory.pitch import note_name


def tuned(tuning: Sequence[int], key: Key | None, spell: Callable[[str], str] = str) -> str:
    """The strings' notes: tuned D A D G B E, low to high.

    Of strings that don't rise, it says which is first.

    Args:
        tuning: note numbers, the lowest row first.
        key: of the song; in flat keys black keys have flats.
        spell: writes a note's name as it is shown.
    """
    flats = key is not None and key.signature < 0
    names = " ".join(spell(note_name(note, flats)).rstrip("-0123456789") for note in tuning)
    rises = list(tuning) == sorted(tuning)
    order = "low to high" if rises else f"{ordinal(len(tuning))} string to first"
    return f"tuned {names}, {order}"
