"""Where a line is fretted: the positions that move the hand least.

A hand that doesn't move has as many frets as its reach, from the index to the little finger, and
the open strings. Our own measure, after common practice: positions near the nut come first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

#: What a place costs: each fret that the hand moves, and each fret up the neck.
_MOVE, _UP = 4, 1


class Place(NamedTuple):
    """A string, counted as in a tuning from 0, the lowest row first, and its fret."""

    string: int
    fret: int


def places(
    pitches: Sequence[int], tuning: Sequence[int], frets: int, reach: int
) -> tuple[Place, ...]:
    """A place for each pitch of a line, in order.

    Args:
        pitches: note numbers, each within the instrument's range.
        tuning: open strings' note numbers, lowest row first.
        frets: how many the instrument has.
        reach: how many frets a hand covers from the index to the little finger.
    """
    best = {1: _Way(0, None, None)}
    for pitch in pitches:
        following: dict[int, _Way] = {}
        for string, fret in _choices(pitch, tuning, frets):
            for hand, way in best.items():
                now = _moved(hand, fret, reach)
                total = way.cost + _MOVE * abs(now - hand) + _UP * fret
                if now not in following or total < following[now].cost:
                    following[now] = _Way(total, Place(string, fret), way)
        best = following
    return tuple(reversed(list(_back(min(best.values(), key=lambda way: way.cost)))))


class _Way(NamedTuple):
    """The cheapest way to a place of the hand: its cost, its last note, and the way before."""

    cost: int
    place: Place | None
    before: _Way | None


def _back(way: _Way | None) -> Iterator[Place]:
    """The places along a way, from its end."""
    while way is not None and way.place is not None:
        yield way.place
        way = way.before


def _choices(pitch: int, tuning: Sequence[int], frets: int) -> list[tuple[int, int]]:
    return [
        (string, pitch - note) for string, note in enumerate(tuning) if 0 <= pitch - note <= frets
    ]


def _moved(hand: int, fret: int, reach: int) -> int:
    """The fret of the index after a fret is held: the nearest place from which it is reached."""
    if not fret or hand <= fret <= hand + reach:
        return hand
    return fret if fret < hand else fret - reach
