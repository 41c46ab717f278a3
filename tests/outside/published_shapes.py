"""Guitar chord shapes of an open data set: npm `@tombatossals/chords-db` 0.5.1 (MIT).

See data/README.md.
"""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from backing.theory.chords import Chord, parse_chord
from backing.theory.fretboard import Fingering, parse_fingering

DATA = Path(__file__).parent / "data" / "chord_shapes.json"

# Their suffixes that we write otherwise. `alt` holds root, third and flat fifth there.
OUR_QUALITY = {
    "major": "", "minor": "m", "69": "6/9", "m69": "m6/9", "7sg": "7", "alt": "(b5)",
    "mmaj7": "mMaj7", "mmaj7b5": "mMaj7b5", "mmaj9": "mMaj9", "mmaj11": "mMaj7add11",
}  # fmt: skip

# Suffixes whose every position agrees with the symbol.
CLEAN = ("major", "minor", "7", "m7", "maj7", "m6", "m7b5", "sus2", "sus4", "dim7")


class Entry(NamedTuple):
    suffix: str
    chord: Chord
    positions: tuple[Fingering, ...]


@lru_cache(maxsize=1)
def entries() -> tuple[Entry, ...]:
    found = []
    for key, chords in json.loads(DATA.read_text(encoding="utf-8")).items():
        for suffix, positions in chords.items():
            chord = parse_chord(key + OUR_QUALITY.get(suffix, suffix))
            shapes = tuple(parse_fingering(text) for text in positions.split())
            found.append(Entry(suffix, chord, shapes))
    return tuple(found)
