"""How long the first search for a chord's fingerings takes, over 12 roots x 60 symbols.

The same on four strings (a ukulele), five (a banjo) and eight, as a ratio to six strings.

    python tests/bench/fingerings.py

Nothing found before is used again: each search starts with empty caches. Beside it
stands a search by brute force, with none of the rules but tones and bass, of a few of
the same chords over the same frets; no figure is asserted.
"""

from __future__ import annotations

import statistics
import time
from itertools import product

from backing.theory import familiar, fingerings, hand
from backing.theory.chords import Chord, parse_chord
from backing.theory.fretboard import STANDARD_TUNING
from backing.theory.tunings import parse_tuning

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
SYMBOLS = (
    "maj m dim aug 5 6 m6 6/9 m6/9 7 m7 maj7 mMaj7 dim7 m7b5 aug7 maj7#5 9 m9 maj9 mMaj9 aug9 "
    "11 m11 maj11 13 m13 maj13 add9 m(add9) add11 m(add11) sus2 sus4 7sus4 9sus4 13sus4 "
    "maj7sus4 (b5) 7b5 m7#5 7b9 7#9 7#11 maj7#11 7b13 7b5b9 7b5#9 7#5b9 7#5#9 7(b9,#11) "
    "7b9b13 9b5 9#11 13b9 13#11 maj9#11 maj7b5 m11b5 7add13 "
).split()
OTHERS = ("G4 C4 E4 A4", "G4 D3 G3 B3 D4", "B1 E2 A2 D3 G3 B3 E4", "F#1 B1 E2 A2 D3 G3 B3 E4")
BY_FORCE = ("C", "Ebm7", "F#m7b5", "A9", "Bb13", "G7#9")  # each takes about as long as all of ours


def main() -> None:
    """Print the table."""
    chords = [parse_chord(root + symbol) for symbol in SYMBOLS for root in ROOTS]
    fingerings.fingerings(chords[0])  # the familiar shapes are read once
    ours = {str(chord): _searched(chord) for chord in chords}
    some = [parse_chord(name) for name in BY_FORCE]
    ratio = statistics.median(_by_force(chord) / _searched(chord) for chord in some)
    slowest = max(ours, key=lambda name: ours[name])
    print(f"{len(ours)} first searches: {statistics.mean(ours.values()) * 1000:.2f} ms on average")
    print(f"the slowest, {slowest}: {ours[slowest] * 1000:.1f} ms")
    print(
        f"trying every combination takes {ratio:.0f} times as long (median of {len(some)} chords)"
    )
    for text in OTHERS:
        other = statistics.mean(_searched(chord, parse_tuning(text)) for chord in chords[::7])
        six = statistics.mean(_searched(chord) for chord in chords[::7])
        print(f"on {text}: {other / six:.2f} times as long as on six strings")


def _searched(chord: Chord, tuning: tuple[int, ...] = STANDARD_TUNING) -> float:
    for cached in (fingerings._ranked, familiar.familiar_shapes, hand.fingers_on):
        cached.cache_clear()
    start = time.process_time()
    fingerings.fingerings(chord, tuning)
    return time.process_time() - start


def _by_force(chord: Chord) -> float:
    """Every combination of frets, open and silent strings, in each of the same positions."""
    start = time.process_time()
    found = set()
    for position in range(1, 10):
        window = (None, 0, *range(position, position + 4))
        for frets in product(window, repeat=len(STANDARD_TUNING)):
            notes = [
                note + fret
                for note, fret in zip(STANDARD_TUNING, frets, strict=True)
                if fret is not None
            ]
            tones = {note % 12 for note in notes}
            whole = len(notes) > 2 and tones == chord.pitch_classes
            if whole and min(notes) % 12 == chord.bass_class:
                found.add(frets)
    return time.process_time() - start


if __name__ == "__main__":
    main()
