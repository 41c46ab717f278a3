"""How long the first search for a chord's fingerings takes on instruments with 4 to 8 strings.

    python tests/bench/fingerings.py

Every seventh chord of 12 roots x 60 symbols, each the fastest of three searches. Nothing found
before is used again: each search starts with empty caches. Beside it stands a search that
tries every combination of a few chords' tones in the same positions and checks nothing but tones
and bass; no figure is asserted.
"""

from __future__ import annotations

import statistics
import time
from itertools import product

from backing.theory import familiar, fingerings, hand
from backing.theory.chords import Chord, parse_chord
from backing.theory.fretboard import STRINGS_WITH_BASS
from backing.theory.tunings import parse_tuning

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
SYMBOLS = (
    "maj m dim aug 5 6 m6 6/9 m6/9 7 m7 maj7 mMaj7 dim7 m7b5 aug7 maj7#5 9 m9 maj9 mMaj9 aug9 "
    "11 m11 maj11 13 m13 maj13 add9 m(add9) add11 m(add11) sus2 sus4 7sus4 9sus4 13sus4 "
    "maj7sus4 (b5) 7b5 m7#5 7b9 7#9 7#11 maj7#11 7b13 7b5b9 7b5#9 7#5b9 7#5#9 7(b9,#11) "
    "7b9b13 9b5 9#11 13b9 13#11 maj9#11 maj7b5 m11b5 7add13 "
).split()
INSTRUMENTS = {
    "guitar": "E2 A2 D3 G3 B3 E4", "ukulele": "G4 C4 E4 A4", "banjo": "G4 D3 G3 B3 D4",
    "seven strings": "B1 E2 A2 D3 G3 B3 E4", "eight strings": "F#1 B1 E2 A2 D3 G3 B3 E4",
}  # fmt: skip
BY_FORCE = ("C", "Ebm7", "F#m7b5", "A9", "Bb13", "G7#9")


def main() -> None:
    """Print the table."""
    chords = [parse_chord(root + symbol) for symbol in SYMBOLS for root in ROOTS][::7]
    some = [parse_chord(name) for name in BY_FORCE]
    fingerings.fingerings(chords[0])  # the familiar shapes are read once
    print(
        f"{len(chords)} chords        mean   ratio    slowest   trying everything, of {len(some)}"
    )
    guitar = 0.0
    for name, text in INSTRUMENTS.items():
        tuning = parse_tuning(text)
        ours = [_searched(chord, tuning) for chord in chords]
        mean = statistics.mean(ours)
        guitar = guitar or mean
        ratio, combinations = _against_force(some, tuning)
        print(
            f"{name:14} {mean * 1000:7.2f} ms {mean / guitar:6.2f} {max(ours) * 1000:7.1f} ms"
            f"   {ratio:5.0f} times as long, {combinations:7,} combinations"
        )


def _against_force(chords: list[Chord], tuning: tuple[int, ...]) -> tuple[float, int]:
    """How many times as long trying everything takes (the median), and how much it tries."""
    ratios, tried = [], 0
    for chord in chords:
        start = time.process_time()
        tried += _by_force(chord, tuning)
        ratios.append((time.process_time() - start) / _searched(chord, tuning))
    return statistics.median(ratios), tried // len(chords)


def _searched(chord: Chord, tuning: tuple[int, ...]) -> float:
    def first() -> float:
        for cached in (fingerings._ranked, familiar.familiar_shapes, hand.fingers_on):
            cached.cache_clear()
        start = time.process_time()
        fingerings.fingerings(chord, tuning)
        return time.process_time() - start

    return min(first() for _ in range(3))


def _by_force(chord: Chord, tuning: tuple[int, ...]) -> int:
    """Try every combination of the chord's tones and silent strings; how many there are."""
    reach, tried = hand.REACHES[len(tuning)], 0
    found = set()
    for position in range(1, 13 - reach):
        window = (0, *range(position, position + reach + 1))
        choices = [
            [None, *(fret for fret in window if (note + fret) % 12 in chord.pitch_classes)]
            for note in tuning
        ]
        for frets in product(*choices):
            tried += 1
            notes = [
                note + fret for note, fret in zip(tuning, frets, strict=True) if fret is not None
            ]
            whole = len(notes) > 2 and {note % 12 for note in notes} == chord.pitch_classes
            any_bass = len(tuning) < STRINGS_WITH_BASS
            if whole and (any_bass or min(notes) % 12 == chord.bass_class):
                found.add(frets)
    return tried


if __name__ == "__main__":
    main()
