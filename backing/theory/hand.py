"""The fretting hand: which fingers hold a shape, how hard it is, and how far to the next one.

A fingering is playable when

- its fretted notes lie within four frets, or five on a short neck with four strings; open
  strings anywhere;
- four fingers hold it. The index may lie across all strings of the lowest fret (a
  barre, one finger; no open string under it or on its treble side), the ring finger
  across neighboring strings of the highest fret up to the highest string struck (with other
  fingers only at lower frets);
- the strings struck lie side by side. One between them may be silent only where the
  string below it is fretted, so that the same finger's tip damps it; under a barre that
  has to be a finger above the barre's own fret.

No thumb over the neck.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType
from typing import TypeAlias

from backing.theory.fretboard import FEWEST_STRINGS, MOST_STRINGS, Fingering

Frets: TypeAlias = "tuple[int | None, ...]"

#: A reach that is hard to hold, in frets from the index to the little finger.
FAR = 3
#: Frets from the index to the little finger, by the number of strings. Instruments with four
#: strings on which chords are held, such as ukuleles and mandolins, have short ones.
REACHES: Mapping[int, int] = MappingProxyType(
    {count: 3 if count > FEWEST_STRINGS else 4 for count in range(FEWEST_STRINGS, MOST_STRINGS + 1)}
)


def assign_fingers(fingering: Fingering) -> tuple[int, ...] | None:
    """A finger for each string, 1 (index) to 4 (little), 0 for none; None if unplayable.

    Several strings with one finger are a barre. This module's docstring says what is playable.
    """
    return fingers_on(fingering.frets)


def difficulty(fingering: Fingering) -> float:
    """How hard a fingering is to hold, in fingers; infinite if it is unplayable.

    It adds up: 1 for each finger used; 2 for the index across three strings or more, 1 across
    two, and 1 more at the first fret; 3 for the ring finger laid flat; 2 for a reach of four
    frets, 1 more in the first three positions; 1 for a reach of three frets with all four
    fingers down; 1 for each string damped between others; 1 for each open string between two
    fretted ones, which fingers must arch over. (Our own measure, after common practice.)
    """
    fingers = fingering.fingers or assign_fingers(fingering)
    return math.inf if fingers is None else effort(fingering.frets, fingers)


def fingers_moved(before: Fingering, after: Fingering) -> int:
    """How many fingers land in new places: the changes that a student has to practice.

    A barre at the same fret stays, whatever strings it covers. In a shape that no hand can
    hold, each fretted string counts as a finger.
    """
    return len(_places(after) - _places(before))


def move_cost(before: Fingering, after: Fingering) -> int:
    """What a change of shape costs, in the units of `difficulty`.

    It adds up: 1 for each finger that lands in a new place, and 1 for every two frets that the
    index moves along the neck. Fingers that stay down and open strings are free.
    """
    first, second = position(before.frets), position(after.frets)
    shift = abs(second - first) // 2 if first and second else 0
    return fingers_moved(before, after) + shift


@lru_cache(maxsize=4096)
def fingers_on(frets: Frets) -> tuple[int, ...] | None:
    """`assign_fingers`, of bare frets."""
    held = sorted([(fret, string) for string, fret in enumerate(frets) if fret])
    struck = [string for string, fret in enumerate(frets) if fret is not None]
    if not _silent_are_damped(frets, struck):
        return None
    if not held:
        return (0,) * len(frets)
    if held[-1][0] - held[0][0] > REACHES[len(frets)]:
        return None
    return _fingers_for(frets, held, struck[-1])


def _fingers_for(
    frets: Frets, held: Sequence[tuple[int, int]], last: int
) -> tuple[int, ...] | None:
    """Fingers for frets in reach: one for each string, a barre, or the ring finger laid flat.

    `last` is the highest string struck.
    """
    low = held[0][0]
    if len(held) == 1 and len(frets) == FEWEST_STRINGS and low <= FAR:
        return _one_each(len(frets), held, low, low)  # a finger for each fret, as in a ukulele's C
    lowest = [string for fret, string in held if fret == low]
    barre = len(lowest) > 1 and _lies_flat(frets, lowest[0], lowest[-1], low)
    side_by_side = lowest == list(range(lowest[0], last + 1))
    if len(held) <= 4 and not (barre and (side_by_side or len(held) == 4)):
        return _one_each(len(frets), held, 1, low)
    if barre and len(held) - len(lowest) <= 3:
        return _with_barre(len(frets), held, lowest)
    return _with_flat_ring_finger(frets, held, last)


def _silent_are_damped(frets: Frets, struck: Sequence[int]) -> bool:
    """Whether the string below each silent one, between those struck, is fretted."""
    if None not in frets[struck[0] : struck[-1]]:
        return True
    return all(
        frets[string] is not None or frets[string - 1] for string in range(struck[0], struck[-1])
    )


def _lies_flat(frets: Frets, first: int, last: int, low: int) -> bool:
    """Whether the index can lie at `low` from string `first` to the edge of the neck."""
    for string in range(first, len(frets)):
        fret = frets[string]
        if fret == 0:
            return False
        if fret is None and string < last and (frets[string - 1] or 0) <= low:
            return False
    return True


def _one_each(
    strings: int, held: Sequence[tuple[int, int]], finger: int, low: int
) -> tuple[int, ...]:
    """One finger for each string from `finger` on, and one for each fret as far as they reach."""
    fingers = [0] * strings
    for left, (fret, string) in zip(range(len(held) - 1, -1, -1), held, strict=True):
        finger = max(finger, min(1 + fret - low, 4 - left))
        fingers[string] = finger
        finger += 1
    return tuple(fingers)


def _with_barre(
    strings: int, held: Sequence[tuple[int, int]], lowest: Sequence[int]
) -> tuple[int, ...]:
    """The index across the lowest fret's strings, and one finger for each of the others."""
    fingers = list(_one_each(strings, held[len(lowest) :], 2, held[0][0]))
    for string in lowest:
        fingers[string] = 1
    return tuple(fingers)


def _with_flat_ring_finger(
    frets: Frets, held: Sequence[tuple[int, int]], last: int
) -> tuple[int, ...] | None:
    """The ring finger across the last strings, the index and perhaps the middle below it."""
    low, high = held[0][0], held[-1][0]
    first = last
    while first > 0 and frets[first - 1] == high and frets[last] == high:
        first -= 1
    rest = [(fret, string) for fret, string in held if string < first]
    index = [string for fret, string in rest if fret == low]
    room = 0 if low == high else 1 + max(1, len(index))  # the index's strings and the middle's
    if first == last or len(rest) > room:
        return None
    if len(index) > 1 and not _lies_flat(frets, index[0], index[-1], low):
        return None
    fingers = [0] * len(frets)
    for _, string in rest:
        fingers[string] = 1 if string in index else 2
    fingers[first : last + 1] = [3] * (last + 1 - first)
    return tuple(fingers)


def effort(frets: Frets, fingers: tuple[int, ...]) -> int:
    """`difficulty`, of bare frets held with these fingers."""
    used = {finger for finger in fingers if finger}
    if not used:
        return 0
    held = [fret for fret in frets if fret]
    low, reach = min(held), max(held) - min(held)
    across = index_across(fingers)
    barre = min(across, 2) + (low == 1) if across else 0
    ring = 3 if fingers.count(3) > 1 or fingers.count(2) > 1 or fingers.count(4) > 1 else 0
    stretch = 2 + (low <= 3) if reach >= FAR else int(reach == 2 and len(used) == 4)
    struck = [string for string, fret in enumerate(frets) if fret is not None]
    damped = struck[-1] - struck[0] + 1 - len(struck)
    return len(used) + barre + ring + stretch + damped + arched(frets)


def index_across(fingers: Sequence[int]) -> int:
    """How many strings the index lies across besides its own."""
    flat = [string for string, finger in enumerate(fingers) if finger == 1]
    return flat[-1] - flat[0] if flat else 0


def arched(frets: Frets) -> int:
    """How many open strings lie between two fretted ones, so that fingers must arch over them."""
    if 0 not in frets[1:-1]:
        return 0
    return sum(
        frets[string] == 0 and bool(frets[string - 1] and frets[string + 1])
        for string in range(1, len(frets) - 1)
    )


def position(frets: Frets) -> int:
    """The lowest fret held; 0 where all strings are open."""
    return min((fret for fret in frets if fret), default=0)


@lru_cache(maxsize=4096)
def _places(shape: Fingering) -> frozenset[tuple[int, int, int]]:
    """Each finger with its fret and, unless it is the index in a barre, its string."""
    fingers = shape.fingers or assign_fingers(shape) or tuple(range(1, len(shape.frets) + 1))
    flat = fingers.count(1) > 1
    return frozenset(
        (finger, fret, -1 if finger == 1 and flat else string)
        for string, (finger, fret) in enumerate(zip(fingers, shape.frets, strict=True))
        if fret
    )
