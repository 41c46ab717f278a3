"""Shape boxes as they are drawn: which frets are shown, and where the barres are."""

from __future__ import annotations

from typing import Any

from backing.chart.metrics import symbol
from backing.chart.records import Shape
from backing.theory.boxes import barres, first_fret, frets_shown
from backing.theory.chords import parse_chord

#: The sizes of a box's name, and how wide a name can be at the larger size.
LARGE, SMALL, LONG = 12.5, 9.0, 44.0
STRING_GAP = 6.2  # from string to string
FAR = 35.0  # the room on both sides of the strings if a fret of two digits stands beside them


def box(shape: Shape, left_handed: bool = False) -> dict[str, Any]:
    """A shape for the page; strings count from the left, so the low one is first.

    Args:
        left_handed: mirrors it.
    """
    frets, fingers = shape.fingering.frets, shape.fingers
    base = first_fret(frets)
    last = len(frets) - 1
    place = [last - string if left_handed else string for string in range(last + 1)]
    across_strings = []
    for finger, across, low, high in barres(frets, fingers):
        ends = sorted((place[low], place[high]))
        across_strings.append((across - base + 1, *ends, finger))
    name = symbol(parse_chord(shape.symbol))
    is_long = name.width(LARGE) > LONG
    across_all = last * STRING_GAP
    strings = []
    for string, fret in enumerate(frets):
        at = -1 if fret is None else 0 if not fret else fret - base + 1
        named = str(fingers[string]) if fret and fingers[string] else ""
        strings.append((place[string], at, named))
    return {
        "name": tuple(name),
        "long": is_long,
        # A box of few strings is as wide as its name: the name stays on one line.
        "wide": max(
            name.width(SMALL) + 4 if is_long else name.width(LARGE) + 3,
            across_all + FAR if base > 9 else 0.0,
        ),
        "played-as": tuple(symbol(parse_chord(shape.played_as))) if shape.played_as else (),
        "base": base,
        "frets": frets_shown(frets),
        "strings": sorted(strings),
        "barres": across_strings,
    }
