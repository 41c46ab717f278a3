"""The search for shapes drops starts early; trying everything must yield the same list."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from itertools import pairwise, product

import pytest

from backing.theory import fingerings as ranking_of
from backing.theory import hand, hold
from backing.theory.chords import Chord, parse_chord
from backing.theory.fingerings import best
from backing.theory.shape_search import Ranking, Search
from backing.theory.tunings import parse_tuning

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
SYMBOLS = (
    "maj m dim aug 5 6 m6 6/9 7 m7 maj7 mMaj7 dim7 m7b5 9 m9 maj9 11 m11 13 add9 sus2 sus4 7sus4 "
    "7b5 7#5#9 7b9b13 13#11 /E /Bb m/G 7/B m7/F#"
).split()
KNOWN = {
    4: "G4 C4 E4 A4", 5: "G4 D3 G3 B3 D4", 6: "E2 A2 D3 G3 B3 E4", 7: "B1 E2 A2 D3 G3 B3 E4",
    8: "F#1 B1 E2 A2 D3 G3 B3 E4",
}  # fmt: skip
CHORDS = {4: 40, 5: 24, 6: 12, 7: 5, 8: 3}  # fewer where there is more to try


def pieces(strings: int) -> Iterator[tuple[Chord, tuple[int, ...]]]:
    """Chords on a usual tuning, which has familiar shapes, and on random ones, sorted or not."""
    rng = random.Random(strings)
    for number in range(CHORDS[strings]):
        tuning = [rng.randint(28, 67) for _ in range(strings)]
        if number % 4:
            tuning.sort()
        yield (
            parse_chord(rng.choice(ROOTS) + rng.choice(SYMBOLS)),
            tuple(tuning) if number % 3 else parse_tuning(KNOWN[strings]),
        )


def everything(search: Search, positions: Iterable[int], ranking: Ranking) -> None:
    """Offer every combination of frets with the search's tones: no start is ever dropped."""
    strings = len(search.tuning)
    short = strings == 5 and search.tuning[0] == max(search.tuning)
    for fret in positions:
        window = (0, *range(fret, fret + hand.REACHES[strings] + 1)) if fret else (0,)
        choices: list[list[int | None]] = [
            [None, *(at for at in window if search.tones >> (note + at) % 12 & 1)]
            for note in search.tuning
        ]
        if short:
            choices[0] = [at for at in choices[0] if not at]
        for frets in product(*choices):
            struck = [string for string, at in enumerate(frets) if at is not None]
            notes = [search.tuning[string] + (frets[string] or 0) for string in struck]
            tones = 0
            for note in notes:
                tones |= 1 << note % 12
            if (
                search.strings <= len(struck) <= (6 if strings == 8 else strings)
                and min((at for at in frets if at), default=0) == fret
                and search.lowest >> notes[0] % 12 & 1
                and (strings < 6 or notes[0] == min(notes))
                and not search.needed & ~tones
                and all(
                    above - below == 1 or (above - below == 2 and frets[below])
                    for below, above in pairwise(struck)
                )
            ):
                ranking.offer(frets, tones)


@pytest.mark.parametrize("strings", KNOWN)
def test_the_search_yields_what_trying_everything_yields(
    strings: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    search = ranking_of._ranked.__wrapped__
    found = [search(named, tuning) for named, tuning in pieces(strings)]
    monkeypatch.setattr(ranking_of, "find_shapes", everything)
    monkeypatch.setattr(ranking_of._Ranking, "is_useless", lambda *_: False)
    for (named, tuning), shapes in zip(pieces(strings), found, strict=True):
        assert shapes == search(named, tuning), (str(named), tuning)


@pytest.mark.parametrize("strings", KNOWN)
def test_a_hold_is_a_lower_bound_of_every_shape_that_a_hand_can_hold(strings: int) -> None:
    rng, seen = random.Random(strings), 0
    while seen < 400:
        fret = rng.randint(1, 9)
        window = (None, 0, fret, *range(fret, fret + hand.REACHES[strings] + 1))
        frets = tuple(rng.choice(window) for _ in range(strings))
        fingers = hand.fingers_on(frets)
        if not any(frets) or fingers is None:
            continue
        seen += 1
        effort, low = hand.effort(frets, fingers), hand.position(frets)
        struck = [string for string, at in enumerate(frets) if at is not None]
        so_far = hold.IN_POSITION
        for string in range(struck[0], struck[-1] + 1):
            so_far = hold.hold_after(so_far, touch(frets[string], low))
            assert so_far.effort <= effort, (frets, string)
            run = frets[string] is not None and frets[string - 2 : string + 1].count(frets[string])
            assert so_far.fits or run == 3, (frets, string)


def touch(fret: int | None, low: int) -> int:
    if fret is None:
        return hold.SILENT
    if fret in (0, low):
        return hold.LOW if fret else hold.OPEN
    return hold.FAR_ABOVE if fret - low == hand.FAR else hold.ABOVE


def test_an_open_string_is_the_same_tone_at_fret_12() -> None:
    # B is open on the second string and at its fret 12, in reach of the ninth position.
    assert str(best(parse_chord("E7#5#9/B"), parse_tuning("D2 G2 D3 G3 B3 D4"))) == "9-9-10-0-9-0"
    assert str(best(parse_chord("Bbdim"), parse_tuning("E2 B2 E3 B3 E4 B4"))) == "x-11-9-11-0-x"
