"""The search for a chord's shapes: string by string, dropping early what can't be held or kept.

A shape lies in one position: its lowest fretted note is at that fret, and open strings sound
anywhere. From its lowest string up, each string gets a tone of the chord or is silent. A start
that no hand can finish is dropped at once, and so is one that already costs more than everything
kept: effort, silent strings and tones out of reach only add up. So nothing worth keeping is missed.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple, Protocol, TypeAlias

from backing.theory.clarity import too_close
from backing.theory.fretboard import MOST_STRINGS, STRINGS_WITH_BASS, has_short_string
from backing.theory.hand import FAR, REACHES, Frets
from backing.theory.hold import (
    ABOVE,
    ALL_OPEN,
    FAR_ABOVE,
    IN_POSITION,
    LOW,
    OPEN,
    SILENT,
    Hold,
    hold_after,
)

_SILENT_OF_EIGHT = 2  # a stroke takes six strings: those below double the bass
_NEAR = 2  # the highest position that costs nothing: each above it costs 1
_HELD = 1 << 12  # beside the bits of the tones: a string is held at the position's fret


class Search(NamedTuple):
    """What is looked for. Tones are bits: 1 << pitch class.

    Shapes of `tones` with `needed` among them, at least `strings` struck, and one of `lowest`
    sounding lowest: on fewer than six strings, on the lowest row that is struck. A shape whose low
    notes blur (see `clarity`) costs `muddy` more.
    """

    tuning: tuple[int, ...]
    tones: int
    lowest: int
    needed: int
    strings: int
    muddy: int


class Ranking(Protocol):
    """Takes the shapes that are found, and knows which can't be among those it keeps."""

    def is_useless(self, frets: Frets, tones: int, silent: int, least_effort: int) -> bool:
        """Whether no shape that starts with these frets can be kept.

        Args:
            frets: of the lowest strings, or of all.
            tones: all that such a shape may have, as bits.
            silent: how many strings it leaves silent at least.
            least_effort: what it takes at least, `hand.effort`, `up_the_neck` and mud together.
        """

    def offer(self, frets: Frets, tones: int) -> None:
        """Take a shape: a fret or None for each string, and the tones that sound."""


def up_the_neck(fret: int) -> int:
    """What a shape costs for its position."""
    return max(0, fret - _NEAR)


def find_shapes(search: Search, positions: Iterable[int], ranking: Ranking) -> None:
    """Offer the shapes of all positions, each once, except for those that are useless.

    Checks everything but the fingers: the tones needed, how many strings are struck, the lowest
    note, silent strings where a finger damps them. Some may be shapes that no hand can hold.
    """
    for fret in positions:
        place = _place(search, fret)
        for first in range(len(search.tuning) + 1 - search.strings):
            for choice in place.choices[first]:
                if choice.bits & search.lowest:
                    _find_upward(search, place, first, choice, ranking)


class _Choice(NamedTuple):
    """A fret for a string: the bit of its tone, perhaps `_HELD`, and what `hold` calls it."""

    fret: int
    bits: int
    string: int


class _Place(NamedTuple):
    """A position: what a shape there costs, each string's choices, the bits that are wanted.

    `within_reach` has the bits of a string and those above it, `hold` the hand before the first;
    `silent` is how many strings aren't struck at least.
    """

    cost: int
    choices: list[list[_Choice]]
    within_reach: list[int]
    wanted: int
    hold: Hold
    silent: int


def _place(search: Search, fret: int) -> _Place:
    tuning = search.tuning
    window = [(0, 0, OPEN)]
    if fret:
        window.append((fret, _HELD, LOW))
        for higher in range(fret + 1, fret + REACHES[len(tuning)] + 1):
            window.append((higher, 0, FAR_ABOVE if higher == fret + FAR else ABOVE))
    choices = [
        [
            _Choice(at, 1 << (note + at) % 12 | held, string)
            for at, held, string in window
            if search.tones >> (note + at) % 12 & 1
        ]
        for note in tuning
    ]
    if has_short_string(tuning):
        choices[0] = [choice for choice in choices[0] if choice.fret == 0]
    within_reach = [0] * (len(tuning) + 1)
    for row in reversed(range(len(tuning))):
        within_reach[row] = within_reach[row + 1]
        for choice in choices[row]:
            within_reach[row] |= choice.bits
    wanted, hold = (search.needed | _HELD, IN_POSITION) if fret else (search.needed, ALL_OPEN)
    silent = _SILENT_OF_EIGHT if len(tuning) == MOST_STRINGS else 0
    return _Place(up_the_neck(fret), choices, within_reach, wanted, hold, silent)


#: The lowest strings of a shape: frets, bits, how many are silent, what the hand does, and what it
#: costs that they blur. (Plain tuples, since a search makes hundreds of them.)
_Start: TypeAlias = "tuple[Frets, int, int, Hold, int]"


def _find_upward(
    search: Search, place: _Place, first: int, choice: _Choice, ranking: Ranking
) -> None:
    """Offer the shapes whose lowest string struck is `first`, with this choice."""
    strings = len(search.tuning)
    floor = search.tuning[first] + choice.fret if strings >= STRINGS_WITH_BASS else 0
    frets = (*(None,) * first, choice.fret)
    hold = hold_after(place.hold, choice.string)
    pending: list[_Start] = [(frets, choice.bits, first, hold, 0)]
    while pending:
        start = pending.pop()
        frets, bits, silent, *_ = start
        if frets[-1] is not None and not place.wanted & ~bits:
            _offer(search, place, start, ranking)
        room = strings - len(frets) - max(0, place.silent - silent)
        if room:
            pending += _with_silent(search, place, start, ranking)
            pending += _with_struck(search, place, start, floor, room - 1, ranking)


def _offer(search: Search, place: _Place, start: _Start, ranking: Ranking) -> None:
    """Offer a start as a shape, with the strings above it silent."""
    frets, bits, silent, hold, muddy = start
    if len(frets) - silent < search.strings:
        return
    tones, above = bits & search.tones, len(search.tuning) - len(frets)
    whole = (*frets, *(None,) * above)
    if not above or not ranking.is_useless(
        whole, tones, silent + above, place.cost + muddy + hold.effort
    ):
        ranking.offer(whole, tones)


def _with_silent(
    search: Search, place: _Place, start: _Start, ranking: Ranking
) -> tuple[_Start, ...]:
    """The start with its next string silent, if a finger damps it and a string above sounds."""
    frets, bits, silent, hold, muddy = start
    reachable = bits | place.within_reach[len(frets) + 1]
    ends = len(frets) + 1 == len(search.tuning)
    if ends or not frets[-1] or not hold.fits or place.wanted & ~reachable:
        return ()
    longer, after = (*frets, None), hold_after(hold, SILENT)
    fewest, least = max(silent + 1, place.silent), place.cost + muddy + after.effort
    if ranking.is_useless(longer, reachable & search.tones, fewest, least):
        return ()
    return ((longer, bits, silent + 1, after, muddy),)


def _with_struck(
    search: Search, place: _Place, start: _Start, floor: int, room: int, ranking: Ranking
) -> list[_Start]:
    """The start with each choice for its next string, from the note `floor` up.

    `room` is how many strings above that may be struck.
    """
    frets, bits, silent, hold, muddy = start
    at, tones, needed = len(frets), search.tones, search.needed
    cost, wanted, above = place.cost, place.wanted, place.within_reach[at + 1] if room else 0
    blurring = too_close(floor)
    lowest_fret, alike, fewest = floor - search.tuning[at], frets[-2:], max(silent, place.silent)
    longer: list[_Start] = []
    for fret, more, string in place.choices[at]:
        sounding = bits | more
        reachable = sounding | above
        if wanted & ~reachable or fret < lowest_fret or (needed & ~sounding).bit_count() > room:
            continue
        after = hold_after(hold, string)
        if not after.fits and alike != (fret, fret):
            continue
        struck = (*frets, fret)
        mud = search.muddy if muddy or search.tuning[at] + fret in blurring else 0
        if not ranking.is_useless(struck, reachable & tones, fewest, cost + mud + after.effort):
            longer.append((struck, sounding, silent, after, mud))
    return longer
