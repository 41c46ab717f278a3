"""When low notes blur, and when a sharp ninth grates."""

from __future__ import annotations

import pytest

from backing.theory.chords import parse_chord
from backing.theory.clarity import CLEAR_FROM, grates, has_sharp_ninth, is_muddy, too_close
from backing.theory.fretboard import parse_fingering


def notes(text: str) -> list[int]:
    return [note for note in parse_fingering(text).pitches() if note is not None]


@pytest.mark.parametrize(
    ("text", "muddy"),
    [
        ("300001", True), ("535000", True), ("544000", True), ("310030", True), ("302010", True),
        ("320003", True), ("353435", False), ("x05500", False), ("x02022", False),
        ("3x233x", False), ("3x2210", False), ("x30000", False), ("x31333", False),
        ("x10011", False), ("x20102", True), ("xx0232", False), ("x1012x", False),
        ("55xxxx", False), ("3xxxxx", False),
    ],
)  # fmt: skip
def test_low_notes_need_room(text: str, muddy: bool) -> None:
    assert is_muddy(notes(text)) == muddy


def test_closer_intervals_need_a_higher_bass() -> None:
    """A search relies on it: a note more never makes a shape clear."""
    steps = sorted(CLEAR_FROM)
    assert steps == list(range(1, len(steps) + 1))
    assert [CLEAR_FROM[step] for step in steps] == sorted(CLEAR_FROM.values(), reverse=True)
    assert too_close(43) == {44, 45, 46, 47}
    assert too_close(46) == {47, 48, 49}
    assert too_close(48) == frozenset()


@pytest.mark.parametrize(
    ("text", "is_harsh"), [("x7678x", False), ("020103", False), ("020004", True), ("x35340", True)]
)
def test_a_sharp_ninth_is_above_the_third(text: str, is_harsh: bool) -> None:
    root = parse_chord("C" if text == "x35340" else "E").root.pitch_class
    assert grates(notes(text), root) == is_harsh


@pytest.mark.parametrize(
    ("symbol", "has"), [("E7#9", True), ("E7#5#9", True), ("Em7", False), ("E9", False)]
)
def test_which_chords_have_a_sharp_ninth(symbol: str, has: bool) -> None:
    assert has_sharp_ninth(parse_chord(symbol).intervals) == has
