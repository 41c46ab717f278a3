"""Keys: reading, signatures, transposition."""

from __future__ import annotations

import pytest

from backing.theory.keys import Key, parse_key
from backing.theory.pitch import PitchName

MAJORS = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
MINORS = ("Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#")


@pytest.mark.parametrize(("tonic", "signature"), [*zip(MAJORS, range(-7, 8), strict=True)])
def test_major_keys(tonic: str, signature: int) -> None:
    for text in (tonic, f"{tonic} major", f"{tonic} maj", f" {tonic} Major "):
        key = parse_key(text)
        assert (str(key), key.minor, key.signature) == (tonic, False, signature)
        assert key.flats == (signature <= 0)


@pytest.mark.parametrize(("tonic", "signature"), [*zip(MINORS, range(-7, 8), strict=True)])
def test_minor_keys(tonic: str, signature: int) -> None:
    for text in (f"{tonic}m", f"{tonic} minor", f"{tonic}min", f"{tonic} Minor"):
        key = parse_key(text)
        assert (str(key), key.minor, key.signature) == (f"{tonic}m", True, signature)
        assert key.flats == (signature <= 0)


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("G# major", "G# major would need 8 sharps; write Ab"),
        ("D#", "write Eb"),
        ("A#", "write Bb"),
        ("E#", "write F"),
        ("B#", "write C"),
        ("Fb", "Fb major would need 8 flats; write E"),
        ("Fbm", "write Em"),
        ("Cbm", "write Bm"),
        ("Gbm", "write F#m"),
        ("Dbm", "Db minor would need 8 flats; write C#m"),
        ("E#m", "write Fm"),
        ("B# minor", "write Cm"),
    ],
)
def test_keys_beyond_seven_accidentals(text: str, advice: str) -> None:
    with pytest.raises(ValueError, match=f"{advice}$"):
        parse_key(text)


@pytest.mark.parametrize("text", ["", "H", "a", "am", "AM", "AB", "A m m", "A dorian", "Am7", "m"])
def test_what_is_no_key(text: str) -> None:
    with pytest.raises(ValueError, match="isn't a key; write a letter"):
        parse_key(text)


@pytest.mark.parametrize(
    ("text", "semitones", "there"),
    [
        ("A", 3, "C"),
        ("A", 1, "Bb"),
        ("C", 1, "Db"),
        ("C", 11, "B"),
        ("C", 6, "Gb"),
        ("D", 4, "F#"),
        ("F", 1, "Gb"),
        ("F#m", 1, "Gm"),
        ("Am", 6, "Ebm"),
        ("Em", -1, "D#m"),
        ("Dm", 1, "Ebm"),
        ("Em", 4, "G#m"),
        ("Cb", 0, "Cb"),
        ("C#", 12, "C#"),
        ("C#", -24, "C#"),
        ("F#", 0, "F#"),
    ],
)
def test_transposed(text: str, semitones: int, there: str) -> None:
    assert str(parse_key(text).transposed(semitones)) == there


@pytest.mark.parametrize("text", [*MAJORS, *(f"{tonic}m" for tonic in MINORS)])
def test_every_transposition_is_a_key_of_that_pitch_with_fewest_accidentals(text: str) -> None:
    key = parse_key(text)
    for semitones in range(1, 12):
        there = key.transposed(semitones)
        assert there.tonic.pitch_class == (key.tonic.pitch_class + semitones) % 12
        assert there.minor == key.minor
        assert abs(there.signature) <= 6


def test_a_key_checks_itself() -> None:
    with pytest.raises(ValueError, match="write Ab"):
        Key(PitchName("G", 1))
