"""Capo arithmetic against the usual table, and against music21's transposition."""

from __future__ import annotations

import pytest
from music21.interval import Interval
from music21.pitch import Pitch

from backing.form import read_form_text
from backing.practice.capo_ranking import HIGHEST, places
from backing.practice.easier_shapes import played_chords
from backing.theory.chords import parse_chord
from backing.theory.easier import easier
from backing.theory.keys import parse_key

#: Keys that open chords suit, by common practice: most songs on the guitar are in these.
GUITAR_KEYS = ("C", "A", "G", "E", "D")
#: Semitones above C of the twelve major keys, in their usual spelling (common practice).
SEMITONES = {
    "C": 0, "Db": 1, "D": 2, "Eb": 3, "E": 4, "F": 5, "Gb": 6, "G": 7, "Ab": 8, "A": 9, "Bb": 10,
    "B": 11,
}  # fmt: skip
#: The key of a song, the capo and the key of the shapes, by arithmetic: a capo raises the shapes
#: by its fret in semitones. Capos above our highest fret are left out.
TABLE = [
    (sounding, capo, shapes)
    for sounding, semitones in SEMITONES.items()
    for shapes in GUITAR_KEYS
    if (capo := (semitones - SEMITONES[shapes]) % 12) <= HIGHEST
]


def song(key: str, chords: str, capo: int = 0) -> str:
    return (
        f"title: Table\ntempo: 90\nkey: {key}\ncapo: {capo}\n"
        f'sections: {{all: {{bars: "| {" | ".join(chords.split())} |"}}}}\nform: [all]\n'
    )


def in_key(key: str) -> str:
    """The tonic, fourth, fifth and sixth chords of a major key."""
    chords = [parse_chord(name) for name in "C Am F G7".split()]
    return " ".join(str(chord.moved(parse_key("C"), parse_key(key))) for chord in chords)


@pytest.mark.parametrize(("sounding", "capo", "shapes"), TABLE)
def test_the_key_of_the_shapes(sounding: str, capo: int, shapes: str) -> None:
    found = {
        place.capo: place for place in places(read_form_text(song(sounding, in_key(sounding))))
    }
    assert str(found[capo].key) == shapes


@pytest.mark.parametrize("sounding", SEMITONES)
def test_the_first_place_has_the_shapes_of_a_guitar_key(sounding: str) -> None:
    first = places(read_form_text(song(sounding, in_key(sounding))))[0]
    assert str(first.key) in GUITAR_KEYS


@pytest.mark.parametrize("written", [0, 2, 5])
def test_every_chord_sounds_the_same_at_every_capo_by_music21(written: int) -> None:
    """Its roots, raised by the capo, and the notes of the strings that the shape plays."""
    form = read_form_text(song("A", "A F#m7 D E7 C#m A/C# Bm", written))
    wanted = [
        Pitch(str(chord.root)).transpose(Interval(written)).pitchClass
        for chord in dict.fromkeys(played_chords(form))
    ]
    found = places(form)
    assert {place.capo for place in found} == set(range(HIGHEST + 1))
    for place in found:
        chords = [parse_chord(shaped.name) for shaped in place.chords]
        roots = [Pitch(str(chord.root).replace("b", "-")) for chord in chords]
        assert [p.transpose(Interval(place.capo)).pitchClass for p in roots] == wanted
        for chord, shaped in zip(chords, place.chords, strict=True):
            notes = shaped.fingering.pitches(capo=place.capo)
            of_chord = {(tone + place.capo) % 12 for tone in chord.pitch_classes}
            assert {Pitch(n).pitchClass for n in notes if n is not None} <= of_chord


@pytest.mark.parametrize(
    ("name", "shape"),
    [("F", "xx3211"), ("Bb", "xx0331"), ("Fm", "xx3111"), ("F#m", "xx4222"), ("Gm", "xx0333")],
)
def test_easier_shapes_that_teachers_use(name: str, shape: str) -> None:
    """The shapes on the upper four strings that beginners get first (common practice)."""
    assert str(easier(parse_chord(name)).fingering) == shape
