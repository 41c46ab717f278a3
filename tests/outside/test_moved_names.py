"""Chord names in another key, against music21's scales and roman numerals.

music21 spells the root of a roman numeral strictly, with double signs if need be. A chart should
have that name where a musician would read it: E#, B#, Cb and Fb only in keys that have them, and no
double sharps or flats (common practice).
"""

from __future__ import annotations

from functools import cache
from random import Random

import pytest
from music21 import key as keys
from music21 import pitch as pitches
from music21 import roman

from backing.theory.chords import Chord, parse_chord
from backing.theory.keys import Key, parse_key

MAJOR = "C G D A E B F# C# F Bb Eb Ab Db Gb Cb".split()
MINOR = "A E B F# C# G# D# A# D G C F Bb Eb Ab".split()
#: Roman numerals and the quality that a chart writes.
FIGURES = {
    False: {
        "I": "", "ii": "m", "iii": "m7", "IV": "maj7", "V7": "7", "vi": "m", "viio": "dim",
        "V7/ii": "7", "V7/iii": "7", "V7/IV": "7", "V7/V": "7", "V7/vi": "7", "iv": "m",
        "bII": "maj7", "bIII": "", "bVI": "", "bVII": "", "#ivo": "dim", "viio/V": "dim7",
        "viio/ii": "dim7",
    },
    True: {
        "i": "m", "iio": "m7b5", "III": "", "iv": "m", "v": "m7", "V7": "7", "VI": "maj7",
        "VII": "", "viio": "dim7", "V7/iv": "7", "V7/III": "7", "V7/V": "7", "bII": "maj7",
        "IV": "7", "#ivo": "dim7",
    },
}  # fmt: skip
ODD = {"E#", "B#", "C-", "F-"}


@cache
def library_key(name: str, minor: bool) -> keys.Key:
    return keys.Key(name.replace("b", "-"), "minor" if minor else "major")


@cache
def scale(name: str, minor: bool) -> frozenset[str]:
    """The key's notes; of a minor one with both sixths and sevenths, melodic and natural."""
    key = library_key(name, minor)
    found = {pitch.name for pitch in key.pitches}
    if minor:
        found |= {pitch.transpose("A1").name for pitch in (key.pitches[5], key.pitches[6])}
    return frozenset(found)


@cache
def strict_root(figure: str, name: str, minor: bool) -> pitches.Pitch:
    return roman.RomanNumeral(figure, library_key(name, minor)).root()


def expected(figure: str, name: str, minor: bool) -> str:
    """A root by music21, by the name that sounds the same where its own is odd there."""
    strict = strict_root(figure, name, minor)
    own = strict.name in scale(name, minor)
    if abs(strict.alter) < 2 and (own or strict.name not in ODD):
        return strict.name
    return strict.simplifyEnharmonic().name


def typed(figure: str, name: str, minor: bool) -> Chord:
    root = expected(figure, name, minor).replace("-", "b")
    return parse_chord(root + FIGURES[minor][figure])


def key_of(name: str, minor: bool) -> Key:
    return parse_key(name + "m" * minor)


def progressions(minor: bool) -> list[list[str]]:
    draw = Random(21)
    figures = list(FIGURES[minor])
    return [draw.choices(figures, k=draw.randint(3, 8)) for _ in range(100)]


@pytest.mark.parametrize("minor", [False, True], ids=["major", "minor"])
def test_progressions_keep_their_roman_numerals(minor: bool) -> None:
    """A hundred progressions in all 15 keys, from the key without sharps or flats."""
    home, *others = MINOR if minor else MAJOR
    for progression in progressions(minor):
        for other in others:
            moved = [
                typed(figure, home, minor).moved(key_of(home, minor), key_of(other, minor))
                for figure in progression
            ]
            names = [str(chord.root).replace("b", "-") for chord in moved]
            assert names == [expected(figure, other, minor) for figure in progression], other


@pytest.mark.parametrize("minor", [False, True], ids=["major", "minor"])
@pytest.mark.parametrize("home", range(15))
def test_names_are_practical_from_any_key_to_any_other(home: int, minor: bool) -> None:
    names = MINOR if minor else MAJOR
    old = names[home]
    for new in names:
        for figure in FIGURES[minor]:
            chord = typed(figure, old, minor).moved(key_of(old, minor), key_of(new, minor))
            root = pitches.Pitch(str(chord.root).replace("b", "-"))
            strict = strict_root(figure, new, minor)
            assert root.pitchClass == strict.pitchClass
            assert abs(root.alter) < 2
            assert root.name not in ODD or root.name in scale(new, minor)
            if strict.name in scale(new, minor) and abs(strict.alter) < 2:
                assert root.name == strict.name, (figure, old, new)


@pytest.mark.parametrize(
    ("to", "names"), [("C", "C Ab7 Cm Ebm"), ("E", "E C7 Em Gm"), ("G", "G Eb7 Gm Bbm")]
)
def test_names_that_were_practical_themselves(to: str, names: str) -> None:
    """In Eb, B7 is easier to read than Cb7, and F#m than Gbm (common practice)."""
    chords = [parse_chord(name) for name in "Eb B7 Ebm F#m".split()]
    assert " ".join(str(one.moved(parse_key("Eb"), parse_key(to))) for one in chords) == names
