"""Shell voicings: their tones, where they are held, and how little the hand moves."""

from __future__ import annotations

from itertools import pairwise

import pytest

from backing.theory.chords import Chord, parse_chord
from backing.theory.clarity import is_muddy
from backing.theory.fingerings import voiced
from backing.theory.fretboard import STANDARD_TUNING, Fingering, parse_fingering
from backing.theory.hand import assign_fingers, position
from backing.theory.shells import SHELL, shells
from backing.theory.tunings import parse_tuning

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
# Each quality with the semitones above the root that its shell must have (common practice).
GUIDE_TONES = {
    "": {4, 7}, "m": {3, 7}, "dim": {3, 6}, "aug": {4, 8}, "sus4": {5, 7}, "sus2": {2, 7},
    "5": {7}, "6": {4, 9}, "m6": {3, 9}, "6/9": {4, 9}, "7": {4, 10}, "m7": {3, 10},
    "maj7": {4, 11}, "mMaj7": {3, 11}, "dim7": {3, 9}, "m7b5": {3, 10}, "7sus4": {5, 10},
    "9": {4, 10}, "m9": {3, 10}, "maj9": {4, 11}, "11": {5, 10}, "m11": {3, 10}, "13": {4, 10},
    "maj13": {4, 11}, "7b9": {4, 10}, "7#9": {4, 10}, "7#5": {4, 10}, "7#11": {4, 10},
    "13b9": {4, 10}, "7b5b9": {4, 10}, "add9": {4, 7}, "m(add9)": {3, 7},
}  # fmt: skip
OTHERS = {
    "drop D": parse_tuning("D2 A2 D3 G3 B3 E4"),
    "all fourths": parse_tuning("E2 A2 D3 G3 C4 F4"),
    "seven strings": parse_tuning("B1 E2 A2 D3 G3 B3 E4"),
    "eight strings": parse_tuning("F#1 B1 E2 A2 D3 G3 B3 E4"),
}


def is_wrong(named: Chord, shape: Fingering, guides: set[int], tuning: tuple[int, ...]) -> str:
    """What is wrong with a shell of a chord without a slash; "" if nothing is."""
    pitches = shape.pitches(tuning)
    notes = [note for note in pitches if note is not None]
    steps = [(note - named.root.pitch_class) % 12 for note in notes]
    strings = [string for string, note in enumerate(pitches) if note is not None]
    if steps[0] or notes[0] != min(notes):
        return "the root isn't lowest"
    if len(tuning) - strings[0] not in (5, 6):
        return "the root isn't on the sixth or fifth string"
    if not guides <= set(steps):
        return "a guide tone is missing"
    if set(steps) - set(named.intervals):
        return "a foreign tone"
    if len(steps) != len(set(steps)) or len(steps) > 4:
        return "a tone twice, or too many"
    if assign_fingers(shape) is None:
        return "no hand can hold it"
    return ""


@pytest.mark.parametrize("quality", GUIDE_TONES)
def test_shells_of_every_root(quality: str) -> None:
    for root in ROOTS:
        named = parse_chord(root + quality)
        found = shells(named, STANDARD_TUNING)
        assert found
        for _, shape in found:
            assert is_wrong(named, shape, GUIDE_TONES[quality], STANDARD_TUNING) == "", str(shape)
        notes = [note for note in found[0][1].pitches() if note is not None]
        assert not is_muddy(notes), (str(named), str(found[0][1]))


@pytest.mark.parametrize("tuning", OTHERS)
def test_shells_in_other_tunings(tuning: str) -> None:
    for quality in ("", "m7", "7", "maj7", "13", "7b9"):
        for root in ROOTS:
            named = parse_chord(root + quality)
            found = shells(named, OTHERS[tuning])
            assert found, str(named)
            for _, shape in found:
                assert is_wrong(named, shape, GUIDE_TONES[quality], OTHERS[tuning]) == ""


# Common practice: the first shells of any book on comping.
@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("G7", "3x34xx"), ("Cmaj7", "x324xx"), ("Dm7", "x535xx"), ("G13", "3x345x"),
        ("E7#9", "x7678x"), ("C6/9", "x3223x"), ("Cm6", "x312xx"), ("Bdim7", "x2313x"),
        ("B7b9", "x2121x"), ("Cmaj9", "x3243x"), ("Dm9", "x5355x"), ("F9", "1x12x3"),
    ],
)  # fmt: skip
def test_the_first_shell(name: str, text: str) -> None:
    assert str(shells(parse_chord(name), STANDARD_TUNING)[0][1]) == text


@pytest.mark.parametrize("name", ["C/E", "Am7/G", "D/C", "Dm7/G", "Bb/D", "G7/F", "F#m7b5/C"])
def test_a_slash_bass_is_lowest(name: str) -> None:
    named = parse_chord(name)
    for _, shape in shells(named, STANDARD_TUNING):
        notes = [note for note in shape.pitches() if note is not None]
        assert min(notes) % 12 == named.bass_class
        assert {note % 12 for note in notes} <= named.pitch_classes


# Common practice: the progressions that comping starts with. How far the hand moves, at most,
# and on the mean, in frets.
@pytest.mark.parametrize(
    ("symbols", "most", "mean"),
    [
        ("Dm7 G7 Cmaj7", 2, 1),
        ("Cm7 F7 Bbmaj7 Ebmaj7 Am7b5 D7 Gm6", 3, 1.5),
        ("Bbmaj7 G7b9 Cm7 F9 Dm7 G7 Cm7 F13", 3, 1.5),
        ("F7 Bb7 F7 F7 Bb7 Bdim7 F7 D7 Gm7 C7 F7 C7", 3, 1.5),
    ],
)
def test_small_moves(symbols: str, most: int, mean: float) -> None:
    song = [parse_chord(symbol) for symbol in symbols.split()]
    shapes = voiced(song, voicing=SHELL)
    moves = [abs(position(b.frets) - position(a.frets)) for a, b in pairwise(shapes)]
    assert max(moves) <= most, [str(shape) for shape in shapes]
    assert sum(moves) / len(moves) <= mean, [str(shape) for shape in shapes]


def test_written_shapes_win() -> None:
    song = [parse_chord("G7"), parse_chord("Cmaj7")]
    shapes = voiced(song, STANDARD_TUNING, {"G7": parse_fingering("320001")}, SHELL)
    assert [str(shape) for shape in shapes] == ["320001", "x324xx"]


def test_without_a_shell_the_chord_has_its_usual_shape() -> None:
    """Six strings of one pitch: nothing is above the bass in reach."""
    tuning = (40,) * 6
    named = parse_chord("C13")
    assert shells(named, tuning) == ()
    assert voiced([named], tuning, voicing=SHELL) == voiced([named], tuning)
