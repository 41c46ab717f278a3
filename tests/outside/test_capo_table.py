"""Capo arithmetic against published tables, and against music21's transposition."""

from __future__ import annotations

import pytest
from music21.interval import Interval
from music21.pitch import Pitch

from backing.form import read_form_text
from backing.practice.capo_ranking import HIGHEST, places
from backing.practice.easier_shapes import played_chords
from backing.theory.chords import parse_chord
from backing.theory.easier import easier

#: The key of a song, the capo, and the key of the shapes: from a guitar teacher's printed
#: table "Key of Song / Capo On / Use Chords in" (super-mediocre.com), its rows
#: above our highest fret left out. Each also by common practice.
PUBLISHED = (
    ("Ab", 1, "G"), ("Ab", 4, "E"), ("Ab", 6, "D"), ("A", 0, "A"), ("A", 2, "G"),
    ("A", 7, "D"), ("Bb", 1, "A"), ("Bb", 3, "G"), ("B", 2, "A"), ("B", 4, "G"),
    ("C", 0, "C"), ("C", 3, "A"), ("C", 5, "G"), ("Db", 1, "C"), ("Db", 4, "A"),
    ("Db", 6, "G"), ("D", 0, "D"), ("D", 2, "C"), ("D", 7, "G"), ("Eb", 1, "D"),
    ("Eb", 3, "C"), ("E", 0, "E"), ("E", 2, "D"), ("E", 7, "A"), ("F", 1, "E"),
    ("F", 3, "D"), ("F", 5, "C"), ("Gb", 2, "E"), ("Gb", 4, "D"), ("Gb", 6, "C"),
    ("G", 0, "G"), ("G", 3, "E"), ("G", 5, "D"),
)  # fmt: skip

#: Keys that open chords suit, by common practice: most songs on the guitar are in these.
GUITAR_KEYS = {"C", "A", "G", "E", "D"}


def song(key: str, chords: str, capo: int = 0) -> str:
    return (
        f"title: Table\ntempo: 90\nkey: {key}\ncapo: {capo}\n"
        f'sections: {{all: {{bars: "| {" | ".join(chords.split())} |"}}}}\nform: [all]\n'
    )


def in_key(key: str) -> str:
    """The tonic, fourth, fifth and sixth chords of a major key."""
    tonic = parse_chord("C").root
    chords = [parse_chord(name).moved(tonic, parse_chord(key).root) for name in "C Am F G7".split()]
    return " ".join(map(str, chords))


@pytest.mark.parametrize(("sounding", "capo", "shapes"), PUBLISHED)
def test_the_key_of_the_shapes(sounding: str, capo: int, shapes: str) -> None:
    found = {
        place.capo: place for place in places(read_form_text(song(sounding, in_key(sounding))))
    }
    assert str(found[capo].key) == shapes


@pytest.mark.parametrize("sounding", sorted({key for key, _, _ in PUBLISHED}))
def test_the_first_place_has_the_shapes_of_a_guitar_key(sounding: str) -> None:
    first = places(read_form_text(song(sounding, in_key(sounding))))[0]
    assert str(first.key) in GUITAR_KEYS


@pytest.mark.parametrize("written", [0, 2, 5])
def test_every_chord_sounds_the_same_at_every_capo_by_music21(written: int) -> None:
    """Its roots, raised by the capo, and as heard on the strings that the shape sounds."""
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
            heard = shaped.fingering.pitches(capo=place.capo)
            of_chord = {(tone + place.capo) % 12 for tone in chord.pitch_classes}
            assert {Pitch(n).pitchClass for n in heard if n is not None} <= of_chord


@pytest.mark.parametrize(
    ("name", "shape"),
    [("F", "xx3211"), ("Bb", "xx0331"), ("Fm", "xx3111"), ("F#m", "xx4222"), ("Gm", "xx0333")],
)
def test_easier_shapes_that_teachers_use(name: str, shape: str) -> None:
    """The shapes on the upper four strings that beginners get first (common practice)."""
    assert str(easier(parse_chord(name)).fingering) == shape
