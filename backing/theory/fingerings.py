"""Chord fingerings for any chord in any tuning, found by search and ranked as a player would.

`hand` says what a hand can hold, and the first twelve frets are searched. On six strings or more
the lowest note is the root or the slash bass; on fewer it may be any tone of the chord, since
strings needn't rise and a band's bass has the root. A banjo's short fifth string is open or silent.

Tones are left out in this order: the fifth, but not of a power chord; the ninth of a chord of
six tones; the eleventh of a chord of seven; the root over a slash bass. All others name the
chord and are left out only if no hand could hold them in that tuning; where there are too few
strings for them, the root goes first.

A shape that is taught as it stands (see `familiar`) ranks first, and one that is moved up the neck
a little higher than others. On six strings or more, shapes whose low notes blur, or whose sharp
ninth grates (see `clarity`), rank lower.

Frets count from the capo, so a capo changes nothing here.
"""

from __future__ import annotations

import math
from bisect import insort
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import TypeAlias

from backing.theory.chords import Chord
from backing.theory.clarity import grates, has_sharp_ninth, is_muddy
from backing.theory.familiar import familiar_shapes, taught_shape
from backing.theory.fretboard import STANDARD_TUNING, STRINGS_WITH_BASS, Fingering
from backing.theory.hand import REACHES, Frets, effort, fingers_on, move_cost, position
from backing.theory.shape_search import Search, find_shapes, up_the_neck
from backing.theory.shells import FULL, SHELL, shells

KEPT = 40  # fingerings kept of each chord
_LAST_FRET = 12
_EVERYWHERE = range(1, _LAST_FRET + 1)  # for strings tuned alike, which may hold only the bass
_CHOICES = 8  # of each chord, when a whole song is compared

# What a fingering costs in the ranking besides its difficulty, in the same units.
_UNFAMILIAR, _MOVED = 1000, 4  # taken off for a familiar shape, and for one moved up the neck
_SILENT, _THIN = 2, 4  # each string not struck, and fewer than four struck (but not power chords)
_FULL = 4  # strings
_MUDDY, _GRATING = 6, 12  # see `clarity`
_FIFTH, _TRIADS_FIFTH, _EXTENSION, _ROOT, _NAME = 1, 6, 2, 4, 100  # tones left out

#: Fingerings, each with its cost, the best first.
_Ranked: TypeAlias = "tuple[tuple[int, Fingering], ...]"


def best(
    chord: Chord, tuning: tuple[int, ...] = STANDARD_TUNING, before: Fingering | None = None
) -> Fingering:
    """The fingering to take: the first of `fingerings`, or the easiest to reach from `before`.

    A taught shape is always taken, wherever the hand comes from.
    """
    taught = taught_shape(chord, tuning)
    if taught:
        return Fingering(taught)
    ranked = _ranked(chord, tuning)
    if before is None:
        return ranked[0][1]
    return min(ranked, key=lambda choice: choice[0] + move_cost(before, choice[1]))[1]


def fingerings(chord: Chord, tuning: tuple[int, ...] = STANDARD_TUNING) -> tuple[Fingering, ...]:
    """The playable fingerings, best first: at least one, at most 40.

    `tuning` is four to eight note numbers, lowest row first. Ranked by familiarity, then by the
    sum of difficulty, strings not struck, tones left out, frets up the neck, and lack of clarity.
    """
    return tuple(shape for _, shape in _ranked(chord, tuning))


def voiced(
    chords: Sequence[Chord],
    tuning: tuple[int, ...] = STANDARD_TUNING,
    written: Mapping[str, Fingering] | None = None,
    voicing: str = FULL,
) -> tuple[Fingering, ...]:
    """A fingering for each chord of a song, the same for the same chord symbol throughout.

    `written` shapes, by symbol, are taken as they are, and taught ones too. Each other
    chord starts with its best and then, chord by chord until nothing changes, takes the one
    of its first 8 with the smallest sum, over all its appearances, of rank and of moves from
    and to its neighbors. Every change lowers the song's sum or, at the same sum, takes a
    better ranked one, so this ends; it may not find the smallest sum of all.

    With `voicing` "shell" the choice is among a chord's `shells`, if it has any, and moves along
    the neck count for more.
    """
    symbols = [str(chord) for chord in chords]
    taken: dict[str, Fingering] = {}
    open_to: dict[str, _Ranked] = {}
    for symbol, chord in dict(zip(symbols, chords, strict=True)).items():
        known = (written or {}).get(symbol)
        choices = () if known else _choices(chord, tuning, voicing)
        taken[symbol] = known or choices[0][1]
        if len(choices) > 1:
            open_to[symbol] = choices
    times = Counter(symbols)
    moves = Counter(pair for pair in pairwise(symbols) if pair[0] != pair[1])
    cost_of = _slide_cost if voicing == SHELL else move_cost

    def weight(symbol: str, rank: int, shape: Fingering) -> int:
        total = times[symbol] * rank
        for (one, other), count in moves.items():
            if one == symbol:
                total += count * cost_of(shape, taken[other])
            elif other == symbol:
                total += count * cost_of(taken[one], shape)
        return total

    changed = True
    while changed:
        changed = False
        for symbol, choices in open_to.items():
            weights = [weight(symbol, rank, shape) for rank, shape in choices]
            shape = choices[weights.index(min(weights))][1]
            changed = changed or shape != taken[symbol]
            taken[symbol] = shape
    return tuple(taken[symbol] for symbol in symbols)


def _choices(chord: Chord, tuning: tuple[int, ...], voicing: str) -> _Ranked:
    """The fingerings that a song may choose from, each with its cost; at least one."""
    found = shells(chord, tuning) if voicing == SHELL else ()
    if found:
        return found
    taught = taught_shape(chord, tuning)
    return ((0, Fingering(taught)),) if taught else _ranked(chord, tuning)[:_CHOICES]


def _slide_cost(before: Fingering, after: Fingering) -> int:
    """What a change of shells costs: the frets that the hand moves along the neck, doubled."""
    return 2 * abs(position(after.frets) - position(before.frets))


@lru_cache(maxsize=1024)
def _ranked(chord: Chord, tuning: tuple[int, ...]) -> _Ranked:
    """The fingerings that are kept, each with its cost."""
    weights = _tone_weights(chord, len(tuning))
    all_tones = sum(1 << tone for tone in weights)
    names = sum(1 << tone for tone, weight in weights.items() if weight >= _NAME)
    missing = {
        tones: sum(weight for tone, weight in weights.items() if not tones >> tone & 1)
        for tones in _subsets(all_tones)
    }
    silent_weights = _silent_weights(len(weights), len(tuning))
    usual = taught_shape(chord, tuning)
    familiar = {
        frets: _UNFAMILIAR if frets == usual else _MOVED
        for frets, _ in familiar_shapes(chord, tuning)
    }
    near = range(1, _LAST_FRET + 1 - REACHES[len(tuning)])
    lowest = 1 << chord.bass_class if len(tuning) >= STRINGS_WITH_BASS else all_tones
    for needed, strings, positions in ((names, 3, near), (0, 1, near), (0, 1, _EVERYWHERE)):
        ranking = _Ranking(chord, tuning, missing, silent_weights, familiar)
        search = Search(tuning, all_tones, lowest, needed, strings, _MUDDY)
        find_shapes(search, (0, *positions), ranking)
        if ranking.kept:
            break
    return tuple((weight, Fingering(frets)) for weight, _, _, _, frets in ranking.kept)


class _Ranking:
    """The best shapes that were found so far, at most 40, and what any more shapes must cost."""

    def __init__(
        self,
        chord: Chord,
        tuning: tuple[int, ...],
        missing: Mapping[int, int],
        silent_weights: Sequence[int],
        familiar: Mapping[Frets, int],
    ) -> None:
        self.kept: list[tuple[int, int, int, list[int], Frets]] = []
        self._tuning = tuning
        self._missing = missing
        self._silent_weights = silent_weights
        self._familiar = familiar
        self._known = {frets[:end] for frets in familiar for end in range(1, len(frets) + 1)}
        self._most = math.inf
        self._has_bass = len(tuning) >= STRINGS_WITH_BASS
        self._root = chord.root.pitch_class
        self._has_sharp_ninth = has_sharp_ninth(chord.intervals)

    def is_useless(self, frets: Frets, tones: int, silent: int, least_effort: int) -> bool:
        """Whether no shape that starts with these frets can be kept.

        Args:
            frets: of the lowest strings, or of all.
            tones: all that such a shape may have, as bits.
            silent: how many strings it leaves silent at least.
            least_effort: what it takes at least, `hand.effort`, frets up the neck and mud together.
        """
        least = _UNFAMILIAR + self._missing[tones] + self._silent_weights[silent] + least_effort
        return least > self._most and frets not in self._known

    def offer(self, frets: Frets, tones: int) -> None:
        """Keep a shape if a hand can hold it and it is among the best."""
        fingers = fingers_on(frets)
        if fingers is None:
            return
        silent, hard = frets.count(None), effort(frets, fingers)
        weight = hard + self._missing[tones] + self._silent_weights[silent]
        weight += up_the_neck(position(frets)) + _UNFAMILIAR - self._familiar.get(frets, 0)
        if weight <= self._most:
            weight += self._unclear(frets)
        if weight <= self._most:
            order = [-1 if fret is None else fret for fret in frets]
            insort(self.kept, (weight, hard, silent, order, frets))
            del self.kept[KEPT:]
            if len(self.kept) == KEPT:
                self._most = self.kept[-1][0]

    def _unclear(self, frets: Frets) -> int:
        """What it costs that a shape blurs or grates."""
        if not self._has_bass:
            return 0
        pairs = zip(self._tuning, frets, strict=True)
        notes = [note + fret for note, fret in pairs if fret is not None]
        harsh = self._has_sharp_ninth and grates(notes, self._root)
        return _MUDDY * is_muddy(notes) + _GRATING * harsh


def _silent_weights(tones: int, strings: int) -> list[int]:
    """What a shape costs with 0, 1, 2... strings not struck, for a chord of `tones` tones."""
    thin = _THIN if tones > 2 else 0
    return [_SILENT * silent + (strings - silent < _FULL) * thin for silent in range(strings)]


def _tone_weights(chord: Chord, strings: int) -> dict[int, int]:
    """What leaving out each pitch class costs."""
    intervals = chord.intervals
    weights = {}
    for step in intervals:
        weight = _NAME + (step > 0 and strings < STRINGS_WITH_BASS)
        if step == 7 and len(intervals) > 2:
            weight = _FIFTH if len(intervals) > 3 else _TRIADS_FIFTH
        elif (step == 2 and len(intervals) >= 6) or (step == 5 and len(intervals) >= 7):
            weight = _EXTENSION
        elif step == 0 and chord.bass_class != chord.root.pitch_class:
            weight = _ROOT
        weights[(chord.root.pitch_class + step) % 12] = weight
    return {**weights, chord.bass_class: _NAME}


def _subsets(tones: int) -> Iterator[int]:
    subset = tones
    while subset:
        yield subset
        subset = (subset - 1) & tones
