"""Muted notes of a guitar, given to a track with the sound of a muted guitar.

Damped strokes and strings, and what the palm mutes, sound on General MIDI's muted guitar,
whatever the part's own sound: no other program dies away as fast in every soundfont. A muted
note that is also bent stays with the bent notes, since it needs a pitch wheel.
"""

from __future__ import annotations

from collections.abc import Sequence

from backing.score import Note, Track
from backing.theory.device_levels import MUTED_REVERB
from backing.theory.general_midi import MUTED_GUITAR


def parted(notes: Sequence[Note]) -> tuple[tuple[Note, ...], tuple[Note, ...]]:
    """Notes that ring, and those that are muted and not bent."""
    muted = tuple(note for note in notes if note.muted and not note.bends)
    if not muted:
        return tuple(notes), ()
    return tuple(note for note in notes if not note.muted or note.bends), muted


def muted_track(main: Track, notes: tuple[Note, ...]) -> Track:
    """The track of a part's muted notes, as loud as its `main` one and in the same place, but with
    less of the room, which would ring on.
    """
    changes = tuple(change for change in main.changes if change.what != "program")
    return main._replace(
        name=f"{main.name} muted",
        program=MUTED_GUITAR,
        notes=notes,
        bends=(),
        changes=changes,
        reverb=MUTED_REVERB,
    )
