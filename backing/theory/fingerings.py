"""Chord fingerings for any chord in any tuning, found by search and ranked as a guitarist would.

`hand` says what a hand can hold. The lowest note is the root or the slash bass, and the first
twelve frets are searched.

Tones are left out in this order: the fifth, but not of a power chord; the ninth of a chord of
six tones; the eleventh of a chord of seven; the root over a slash bass. All others name the
chord and are left out only if no hand could hold them in that tuning.

Frets count from the capo, so a capo changes nothing here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from heapq import nsmallest
from itertools import pairwise
from typing import NamedTuple

from backing.theory.chords import Chord, parse_chord
from backing.theory.fretboard import STANDARD_TUNING, STRINGS, Fingering, parse_fingering
from backing.theory.hand import REACH, Frets, effort, fingers_on, move_cost, position

#: Shapes that every student learns (common practice), preferred among what the search finds.
#: In standard tuning they rank first (the first of two). Moved up the neck, with the index across
#: what were open strings, they are the barre chords, which rank a little higher than others. In
#: other tunings both do, if their strings are tuned as usual relative to each other.
FAMILIAR = {
    "C": "x32010", "A": "x02220", "G": "320003", "E": "022100", "D": "xx0232", "F": "133211",
    "Am": "x02210", "Em": "022000", "Dm": "xx0231",
    "A7": "x02020", "B7": "x21202", "C7": "x32310", "D7": "xx0212", "E7": "020100", "G7": "320001",
    "Am7": "x02010", "Bm7": "x20202", "Dm7": "xx0211", "Em7": "022030 020000",
    "Amaj7": "x02120", "Cmaj7": "x32000", "Dmaj7": "xx0222", "Emaj7": "021100", "Fmaj7": "xx3210",
    "Gmaj7": "320002", "Asus2": "x02200", "Dsus2": "xx0230", "Asus4": "x02230", "Dsus4": "xx0233",
    "Esus4": "022200", "A7sus4": "x02030", "E7sus4": "020200", "A5": "x022xx", "E5": "022xxx",
    "D5": "xx023x", "Am6": "x02212", "E9": "020102", "B9": "x21222", "Cadd9": "x32033",
    "Am7b5": "x0101x", "Ddim7": "xx0101", "D/F#": "200232", "G/B": "x20003", "C/G": "332010",
}  # fmt: skip

KEPT = 40  # fingerings kept of each chord
_POSITIONS = range(1, 10)  # of the index, so the twelfth fret is the last
_EVERYWHERE = range(1, 13)  # for strings tuned alike, which may hold only the bass
_CHOICES = 8  # of each chord, when a whole song is compared

# What a fingering costs in the ranking besides its difficulty, in the same units.
_UNFAMILIAR, _MOVED = 1000, 4  # taken off for a familiar shape, and for one moved up the neck
_SILENT, _THIN = 2, 4  # each string not struck, and fewer than four struck (but not power chords)
_NEAR = 2  # the highest position that costs nothing: each above it costs 1
_GROWL, _LOW, _FOURTH = 2, 48, 5  # less than a fourth above a bass below C3
_FIFTH, _TRIADS_FIFTH, _EXTENSION, _ROOT, _NAME = 1, 6, 2, 4, 100  # tones left out


def best(
    chord: Chord, tuning: tuple[int, ...] = STANDARD_TUNING, before: Fingering | None = None
) -> Fingering:
    """The fingering to take: the first of `fingerings`, or the easiest to reach from `before`.

    A familiar shape is always taken, wherever the hand comes from.
    """
    familiar = _open_shape(chord, tuning)
    if familiar:
        return familiar
    ranked = _ranked(chord, tuning)
    if before is None:
        return ranked[0][1]
    return min(ranked, key=lambda choice: choice[0] + move_cost(before, choice[1]))[1]


def fingerings(chord: Chord, tuning: tuple[int, ...] = STANDARD_TUNING) -> tuple[Fingering, ...]:
    """The playable fingerings, best first: at least one, at most 40.

    `tuning` is six note numbers, low string first. Ranked by familiarity, then by the
    sum of difficulty, strings not struck, tones left out, frets up the neck and growl.
    """
    return tuple(shape for _, shape in _ranked(chord, tuning))


def voiced(
    chords: Sequence[Chord],
    tuning: tuple[int, ...] = STANDARD_TUNING,
    written: Mapping[str, Fingering] | None = None,
) -> tuple[Fingering, ...]:
    """A fingering for each chord of a song, the same for the same chord symbol throughout.

    `written` shapes, by symbol, are taken as they are, and familiar ones too. Each other
    chord starts with its best and then, chord by chord until nothing changes, takes the one
    of its first 8 with the smallest sum, over all its appearances, of rank and of moves from
    and to its neighbors. Every change lowers the song's sum or, at the same sum, takes a
    better ranked one, so this ends; it may not find the smallest sum of all.
    """
    symbols = [str(chord) for chord in chords]
    taken: dict[str, Fingering] = {}
    open_to: dict[str, tuple[tuple[int, Fingering], ...]] = {}
    for symbol, chord in dict(zip(symbols, chords, strict=True)).items():
        known = (written or {}).get(symbol) or _open_shape(chord, tuning)
        if known is None:
            open_to[symbol] = _ranked(chord, tuning)[:_CHOICES]
            known = open_to[symbol][0][1]
        taken[symbol] = known
    times = Counter(symbols)
    moves = Counter(pair for pair in pairwise(symbols) if pair[0] != pair[1])

    def weight(symbol: str, rank: int, shape: Fingering) -> int:
        total = times[symbol] * rank
        for (one, other), count in moves.items():
            if one == symbol:
                total += count * move_cost(shape, taken[other])
            elif other == symbol:
                total += count * move_cost(taken[one], shape)
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


class _Search(NamedTuple):
    """What is looked for. Tones are bits: 1 << pitch class.

    Shapes of `tones` with `needed` among them, `strings` struck at least, `bass` the lowest.
    """

    tuning: tuple[int, ...]
    tones: int
    bass: int
    needed: int
    strings: int


@lru_cache(maxsize=1024)
def _ranked(chord: Chord, tuning: tuple[int, ...]) -> tuple[tuple[int, Fingering], ...]:
    """The fingerings that are kept, each with its cost."""
    weights = _tone_weights(chord)
    all_tones = sum(1 << tone for tone in weights)
    names = sum(1 << tone for tone, weight in weights.items() if weight >= _NAME)
    missing = {
        tones: sum(weight for tone, weight in weights.items() if not tones >> tone & 1)
        for tones in _subsets(all_tones)
    }
    silent_weights, familiar = _silent_weights(len(weights)), _familiar(chord, tuning)
    for needed, strings, positions in (
        (names, 3, _POSITIONS), (0, 1, _POSITIONS), (0, 1, _EVERYWHERE),
    ):  # fmt: skip
        search = _Search(tuning, all_tones, 1 << chord.bass_class, needed, strings)
        found = []
        for frets, tones in _found(search, positions):
            fingers = fingers_on(frets)
            if fingers is not None:
                silent, hard = frets.count(None), effort(frets, fingers)
                weight = hard + missing[tones] + silent_weights[silent] + _growl(frets, tuning)
                weight += max(0, position(frets) - _NEAR) + _UNFAMILIAR - familiar.get(frets, 0)
                order = [-1 if fret is None else fret for fret in frets]
                found.append((weight, hard, silent, order, frets))
        if found:
            break
    return tuple((weight, Fingering(frets)) for weight, _, _, _, frets in nsmallest(KEPT, found))


def _silent_weights(tones: int) -> list[int]:
    """What a shape costs with 0, 1, 2... strings not struck, for a chord of `tones` tones."""
    thin = _THIN if tones > 2 else 0
    return [_SILENT * silent + (silent > 2) * thin for silent in range(STRINGS)]


def _growl(frets: Frets, tuning: tuple[int, ...]) -> int:
    notes = [note + fret for note, fret in zip(tuning, frets, strict=True) if fret is not None]
    second = min((note for note in notes if note > notes[0]), default=notes[0] + _FOURTH)
    return _GROWL if notes[0] < _LOW and second - notes[0] < _FOURTH else 0


def _tone_weights(chord: Chord) -> dict[int, int]:
    """What leaving out each pitch class costs."""
    intervals = chord.intervals
    weights = {}
    for step in intervals:
        weight = _NAME
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


@lru_cache(maxsize=1)
def _familiar_shapes() -> tuple[tuple[Chord, Frets], ...]:
    return tuple(
        (parse_chord(name), parse_fingering(text).frets)
        for name, texts in FAMILIAR.items()
        for text in texts.split()
    )


def _open_shape(chord: Chord, tuning: tuple[int, ...]) -> Fingering | None:
    """The chord's familiar shape, in standard tuning: no search needed."""
    exact = (frets for frets, off in _familiar(chord, tuning).items() if off == _UNFAMILIAR)
    frets = next(exact, None)
    return Fingering(frets) if frets else None


@lru_cache(maxsize=1024)
def _familiar(chord: Chord, tuning: tuple[int, ...]) -> dict[Frets, int]:
    """What is taken off the cost of familiar shapes."""
    found: dict[Frets, int] = {}
    for other, frets in _familiar_shapes():
        if _steps(other) != _steps(chord):
            continue
        raised = {
            note - usual
            for note, usual, fret in zip(tuning, STANDARD_TUNING, frets, strict=True)
            if fret is not None
        }
        if len(raised) == 1:
            up = (chord.root.pitch_class - other.root.pitch_class - raised.pop()) % 12
            moved = tuple(None if fret is None else fret + up for fret in frets)
            first = not up and tuning == STANDARD_TUNING and _UNFAMILIAR not in found.values()
            found.setdefault(moved, _UNFAMILIAR if first else _MOVED)
    return found


def _steps(chord: Chord) -> tuple[tuple[int, ...], int]:
    """What stays the same when a chord is moved."""
    return chord.intervals, (chord.bass_class - chord.root.pitch_class) % 12


class _Place(NamedTuple):
    """A position of the index: its fret, each string's choices, and the tones still within reach.

    A choice is a fret and its tone's bit; `within_reach` has the tones of a string and those
    above it.
    """

    fret: int
    choices: list[list[tuple[int, int]]]
    within_reach: list[int]


def _found(search: _Search, positions: Iterable[int]) -> Iterator[tuple[Frets, int]]:
    """Shapes of chord tones in one position, each once, with the tones that sound.

    Checks everything but the fingers: the tones needed, how many strings are struck, the bass
    lowest, silent strings where a finger damps them.
    """
    for fret in (0, *positions):
        place = _place(search, fret)
        for lowest in range(STRINGS + 1 - search.strings):
            for bass_fret, bit in place.choices[lowest]:
                if bit == search.bass:
                    yield from _upward(search, place, lowest, bass_fret)


def _place(search: _Search, fret: int) -> _Place:
    window = (0, *range(fret, fret + REACH + 1)) if fret else (0,)
    choices = [
        [(f, 1 << (note + f) % 12) for f in window if search.tones >> (note + f) % 12 & 1]
        for note in search.tuning
    ]
    within_reach = [0] * (STRINGS + 1)
    for string in reversed(range(STRINGS)):
        within_reach[string] = within_reach[string + 1] | sum(bit for _, bit in choices[string])
    return _Place(fret, choices, within_reach)


def _upward(
    search: _Search, place: _Place, lowest: int, bass_fret: int
) -> Iterator[tuple[Frets, int]]:
    """The shapes on a bass note, string by string upward; one fret at least is the position's."""
    tuning, _, bass, needed, strings = search
    at_fret, choices, within_reach = place
    floor = tuning[lowest] + bass_fret
    pending: list[tuple[Frets, int, bool]] = [
        ((*(None,) * lowest, bass_fret), bass, bass_fret == at_fret)
    ]
    while pending:
        frets, tones, there = pending.pop()
        at, last = len(frets), frets[-1]
        enough = tones & needed == needed and at - frets.count(None) >= strings
        if there and enough and last is not None:
            yield (*frets, *(None,) * (STRINGS - at)), tones
        if at == STRINGS or (tones | within_reach[at]) & needed != needed:
            continue
        if last:
            pending.append(((*frets, None), tones, there))
        for fret, bit in choices[at]:
            if tuning[at] + fret >= floor:
                pending.append(((*frets, fret), tones | bit, there or fret == at_fret))
