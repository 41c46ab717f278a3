"""Chords, and bars of them, some semitones up, spelled for the key that this leads to."""

from functools import lru_cache

from backing.form.layout import LaidBar
from backing.theory.chords import Chord
from backing.theory.keys import Key


def moved_bars(bars: tuple[LaidBar, ...], semitones: int, key: Key | None) -> tuple[LaidBar, ...]:
    """Bars with their chords renamed some semitones up."""
    if not semitones:
        return bars
    moved = []
    for bar in bars:
        cells = [
            laid._replace(cell=laid.cell._replace(chord=renamed(laid.cell.chord, semitones, key)))
            for laid in bar.cells
        ]
        moved.append(bar._replace(cells=tuple(cells)))
    return tuple(moved)


@lru_cache(maxsize=1024)
def renamed(chord: Chord | None, semitones: int, key: Key | None) -> Chord | None:
    """A chord some semitones up, spelled for the key that this leads to."""
    if chord is None or not semitones:
        return chord
    if key is not None:
        return chord.moved(key, key.transposed(semitones))
    return chord.raised(semitones)
