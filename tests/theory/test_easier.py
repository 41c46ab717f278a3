"""The easiest shapes: what they keep, what they leave out, and that they are easier."""

from __future__ import annotations

import math

import pytest

from backing.theory.chords import parse_chord
from backing.theory.easier import easier, strain
from backing.theory.familiar import GUITAR_SHAPES as FAMILIAR
from backing.theory.fingerings import best
from backing.theory.fretboard import STANDARD_TUNING, parse_fingering
from backing.theory.hand import assign_fingers, difficulty
from backing.theory.tunings import parse_tuning

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
SYMBOLS = (
    "maj m dim aug 5 6 m6 6/9 7 m7 maj7 mMaj7 dim7 m7b5 aug7 9 m9 maj9 11 m11 13 m13 maj13 "
    "add9 sus2 sus4 7sus4 7b9 7#9 7#11 7b5 (b5) maj7#11"
).split()
TUNINGS = {
    "standard": STANDARD_TUNING,
    "drop D": parse_tuning("D2 A2 D3 G3 B3 E4"),
    "D A D G A D": parse_tuning("D2 A2 D3 G3 A3 D4"),
    "open G": parse_tuning("D2 G2 D3 G3 B3 D4"),
}
FEWER = [parse_chord(root + ("" if s == "maj" else s)) for root in "CFB" for s in SYMBOLS]
CHORDS = [parse_chord(root + ("" if s == "maj" else s)) for root in ROOTS for s in SYMBOLS]


@pytest.mark.parametrize("tuning", TUNINGS.values(), ids=TUNINGS.keys())
def test_every_shape_can_be_held_and_leaves_out_only_what_names_nothing(
    tuning: tuple[int, ...],
) -> None:
    for chord in FEWER if tuning != STANDARD_TUNING else CHORDS:
        shape, left_out = easier(chord, tuning)
        assert assign_fingers(shape) is not None, (str(chord), str(shape))
        sounding = {note % 12 for note in shape.pitches(tuning) if note is not None}
        assert sounding <= chord.pitch_classes, (str(chord), str(shape))
        missing = {(tone - chord.root.pitch_class) % 12 for tone in chord.pitch_classes - sounding}
        size = len(chord.intervals)
        may_go = {7} if size > 2 else set()
        may_go |= {2} if size >= 6 else set()
        may_go |= {5} if size >= 7 else set()
        assert missing <= may_go, (str(chord), str(shape))
        for step, words in {7: "no fifth", 2: "no ninth", 5: "no eleventh"}.items():
            assert (words in left_out) == (step in missing), (str(chord), left_out)


def test_no_shape_is_harder_than_the_usual_one() -> None:
    for chord in CHORDS:
        shape, _ = easier(chord)
        assert strain(shape) <= strain(best(chord)), str(chord)


@pytest.mark.parametrize("slash", ["D/F#", "G/B", "A/C#", "C/G", "F/A", "Am/G", "Bb/D", "C7/Bb"])
def test_a_slash_bass_stays_lowest(slash: str) -> None:
    chord = parse_chord(slash)
    shape, left_out = easier(chord)
    lowest = min(note for note in shape.pitches() if note is not None)
    assert lowest % 12 == chord.bass_class
    assert "lowest" not in left_out


def test_open_shapes_that_every_student_learns_stay() -> None:
    """All of them but F, whose shape is a barre, and Em7, which has two."""
    for name in FAMILIAR:
        chord = parse_chord(name)
        if name not in ("F", "Em7"):
            assert easier(chord).fingering == best(chord), name


def test_f_loses_its_barre_but_stays_f() -> None:
    shape, left_out = easier(parse_chord("F"))
    assert (str(shape), left_out) == ("xx3211", "two strings not played")
    assert str(easier(parse_chord("Fmaj7")).fingering) == "xx3210"  # another chord, another shape


@pytest.mark.parametrize(
    ("name", "shape", "left_out"),
    [
        ("Bb", "xx0331", "two strings not played, D lowest, not Bb"),
        ("C#m", "xx2120", "two strings not played, E lowest, not C#"),
        ("Em7", "020000", ""),
        ("C7", "x32310", "no fifth (G)"),
        ("F#m", "xx4222", "two strings not played"),
        ("A", "x02220", ""),
        ("F5", "133xxx", ""),
    ],
)
def test_what_is_left_out_is_said(name: str, shape: str, left_out: str) -> None:
    assert easier(parse_chord(name)) == (parse_fingering(shape), left_out)


def test_the_strings_left_out_are_counted() -> None:
    counts = {"one": 1, "two": 2, "three": 3}
    for chord in CHORDS:
        shape, left_out = easier(chord)
        word = left_out.split(" string")[0] if " not played" in left_out else ""
        if word:
            assert counts[word] == shape.frets.count(None), (str(chord), left_out)
        else:
            assert shape.frets.count(None) <= best(chord).frets.count(None), str(chord)


def test_a_barre_strains_by_every_string_it_crosses() -> None:
    full, small, none = (parse_fingering(text) for text in ("133211", "xx3211", "x32010"))
    assert strain(full) == difficulty(full) + 5
    assert strain(small) == difficulty(small) + 1
    assert strain(none) == difficulty(none)
    assert strain(parse_fingering("1x9xx1")) == math.inf
