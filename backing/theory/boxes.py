"""How a shape's box is drawn, on every page: its first fret, and its barres."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

#: Shapes up to this fret are shown from the nut.
FROM_THE_NUT = 4
#: A box shows at least this many frets.
FEWEST_FRETS = 4


class Barre(NamedTuple):
    """A finger across several strings at a fret; strings from 0, low first."""

    finger: int
    fret: int
    low: int
    high: int


def first_fret(frets: Sequence[int | None]) -> int:
    """The first fret that a box shows: 1, or the shape's lowest if it is up the neck."""
    held = [fret for fret in frets if fret]
    return 1 if max(held, default=0) <= FROM_THE_NUT else min(held)


def frets_shown(frets: Sequence[int | None]) -> int:
    """How many frets a box shows, from `first_fret` on."""
    return max(FEWEST_FRETS, max((fret or 0 for fret in frets), default=0) - first_fret(frets) + 1)


def barres(frets: Sequence[int | None], fingers: Sequence[int]) -> Iterator[Barre]:
    """Where one finger holds several strings at one fret, by finger and by fret."""
    for finger in range(1, 5):
        for fret in sorted({f for f, on in zip(frets, fingers, strict=True) if f and on == finger}):
            held = [s for s, on in enumerate(fingers) if on == finger and frets[s] == fret]
            if len(held) > 1:
                yield Barre(finger, fret, held[0], held[-1])
