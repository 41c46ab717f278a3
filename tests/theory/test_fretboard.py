"""Tunings, fingerings, and a fingering for any chord."""

from __future__ import annotations

import pytest

from backing.theory.chords import CHANGES, QUALITIES, Chord, parse_chord
from backing.theory.fretboard import (
    MOVABLE_SHAPES,
    OPEN_SHAPES,
    STANDARD_TUNING,
    Fingering,
    fingering_for,
    parse_fingering,
    parse_tuning,
)

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
TUNINGS = {
    "standard": STANDARD_TUNING,
    "drop D": parse_tuning("D2 A2 D3 G3 B3 E4"),
    "D A D G A D": parse_tuning("D2 A2 D3 G3 A3 D4"),
    "half a step down": parse_tuning("Eb2 Ab2 Db3 Gb3 Bb3 Eb4"),
    "open G": parse_tuning("D2 G2 D3 G3 B3 D4"),
}


def sounding(shape: Fingering, tuning: tuple[int, ...] = STANDARD_TUNING) -> list[int]:
    return [note for note in shape.pitches(tuning) if note is not None]


def check(chord: Chord, shape: Fingering, tuning: tuple[int, ...] = STANDARD_TUNING) -> None:
    notes = sounding(shape, tuning)
    assert {note % 12 for note in notes} <= chord.pitch_classes, (str(chord), str(shape))
    assert min(notes) % 12 == chord.bass_class, (str(chord), str(shape))


@pytest.mark.parametrize(("name", "text"), [*OPEN_SHAPES.items(), *MOVABLE_SHAPES.items()])
def test_every_shape_of_the_tables(name: str, text: str) -> None:
    chord, shape = parse_chord(name), parse_fingering(text)
    check(chord, shape)
    missing = chord.pitch_classes - {note % 12 for note in sounding(shape)}
    may_go = {7, 2} if "13" in name else {7}
    assert {(tone - chord.root.pitch_class) % 12 for tone in missing} <= may_go
    assert str(shape) == text


@pytest.mark.parametrize(("name", "text"), OPEN_SHAPES.items())
def test_open_shapes_are_found(name: str, text: str) -> None:
    assert str(fingering_for(parse_chord(name))) == text


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("F", "133211"),
        ("F#m", "244222"),
        ("Bm", "x24432"),
        ("C#m", "x46654"),
        ("B", "x24442"),
        ("Bb", "x13331"),
        ("G#m", "466444"),
        ("F#7", "242322"),
        ("C#m7b5", "x4545x"),
        ("G#dim7", "4x343x"),
        ("E5", "022xxx"),
        ("A#", "x13331"),
        ("B9", "x21222"),
        ("A9sus4", "x00000"),
    ],
)
def test_movable_shapes_go_where_they_lie_lowest(name: str, text: str) -> None:
    assert str(fingering_for(parse_chord(name))) == text


EVERY_QUALITY = [
    names[0].replace("{m}", "m").replace("{M}", "maj").replace("{o}", "dim").replace("{+}", "aug")
    for _, *names in QUALITIES
] + ["7" + change for change in CHANGES]


@pytest.mark.parametrize("tuning", TUNINGS)
def test_any_chord_in_any_tuning(tuning: str) -> None:
    """Nothing foreign, the bass lowest, and no tone missing that a guitarist would miss."""
    notes = TUNINGS[tuning]
    for number, quality in enumerate(EVERY_QUALITY):
        # Each quality on a few roots here; the slow search is the same on all of them.
        for root in ROOTS[number % 4 :: 4]:
            chord = parse_chord(root + quality)
            shape = fingering_for(chord, notes)
            check(chord, shape, notes)
            heard = {(note - chord.root.pitch_class) % 12 for note in sounding(shape, notes)}
            if len(chord.intervals) <= 5:
                assert set(chord.intervals) - heard <= {7}, (str(chord), str(shape))
            fretted = [fret for fret in shape.frets if fret]
            assert not fretted or max(fretted) - min(fretted) <= 4, (str(chord), str(shape))


@pytest.mark.parametrize("bass", ROOTS)
def test_any_slash_bass(bass: str) -> None:
    for name in ("C", "F#m", "Bb7"):
        chord = parse_chord(f"{name}/{bass}")
        check(chord, fingering_for(chord))


def test_half_a_step_down_the_barre_shapes_move_up() -> None:
    lowered = tuple(note - 1 for note in STANDARD_TUNING)
    assert str(fingering_for(parse_chord("E"), lowered)) == "133211"
    assert str(fingering_for(parse_chord("A"), lowered)) == "x13331"


def test_drop_d_leaves_shapes_on_the_other_strings_alone() -> None:
    drop_d = TUNINGS["drop D"]
    assert str(fingering_for(parse_chord("A"), drop_d)) == "x02220"
    assert fingering_for(parse_chord("E"), drop_d).pitches(drop_d)[0] != 38


@pytest.mark.parametrize(
    ("text", "frets"),
    [
        ("x02220", (None, 0, 2, 2, 2, 0)),
        ("022100", (0, 2, 2, 1, 0, 0)),
        ("X32010", (None, 3, 2, 0, 1, 0)),
        ("x-10-12-12-11-10", (None, 10, 12, 12, 11, 10)),
        ("9-x-9-10-9-x", (9, None, 9, 10, 9, None)),
    ],
)
def test_fingerings_are_read_and_printed(text: str, frets: tuple[int | None, ...]) -> None:
    shape = parse_fingering(text)
    assert shape.frets == frets
    assert str(shape) == text.lower()
    assert parse_fingering(str(shape)) == shape


def test_short_shapes_may_have_dashes_too() -> None:
    assert str(parse_fingering("x-0-2-2-2-0")) == "x02220"


def test_fingers() -> None:
    assert parse_fingering("x02220", "x01230").fingers == (0, 0, 1, 2, 3, 0)
    assert parse_fingering("x02220").fingers == ()


@pytest.mark.parametrize(
    ("text", "fingers", "advice"),
    [
        ("", "", "low string first"),
        ("x0222", "", "6 strings, not 5"),
        ("x022200", "", "6 strings, not 7"),
        ("x-10-12", "", "6 strings, not 3"),
        ("xxxxxx", "", "no string of xxxxxx sounds"),
        ("x0222y", "", "is no shape"),
        ("x--2-2-2-0", "", "is no shape"),
        ("x-25-2-2-2-0", "", "past fret 24"),
        ("x02220", "x0123", "6 strings, as in x01230"),
        ("x02220", "x01235", "names no fingers"),
    ],
)
def test_what_is_no_fingering(text: str, fingers: str, advice: str) -> None:
    with pytest.raises(ValueError, match=advice):
        parse_fingering(text, fingers)


@pytest.mark.parametrize(
    ("frets", "fingers"),
    [((-1, 0, 0, 0, 0, 0), ()), ((0,) * 6, (5, 0, 0, 0, 0, 0)), ((0,) * 5, ())],
)
def test_a_fingering_checks_itself(frets: tuple[int, ...], fingers: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match=r"fret|finger|strings"):
        Fingering(frets, fingers)


def test_pitches_follow_tuning_and_capo() -> None:
    shape = parse_fingering("x02220")
    assert shape.pitches() == (None, 45, 52, 57, 61, 64)
    assert shape.pitches(capo=3) == (None, 48, 55, 60, 64, 67)
    assert shape.pitches(TUNINGS["D A D G A D"]) == (None, 45, 52, 57, 59, 62)


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("D2 A2 D3 G3 B3", "six notes, not 5"),
        ("", "six notes, not 0"),
        ("E4 B3 G3 D3 A2 E2", "low string first"),
        ("E2 A2 D3 G3 B3 E", "write a letter and an octave"),
    ],
)
def test_what_is_no_tuning(text: str, advice: str) -> None:
    with pytest.raises(ValueError, match=advice):
        parse_tuning(text)
