"""Strums with the thumb on one string and with short strokes: played, and proven."""

from __future__ import annotations

from fractions import Fraction

import pytest

from backing.form import read_form_text
from backing.form.patterns import PatternError, read_strum
from backing.midi.writer import to_bytes
from backing.practice import play_version
from backing.practice.versions import PLAIN
from backing.theory.pitch import note_number
from backing.verify import verify_bytes

EIGHTH = Fraction(1, 8)


def form(play: str, bars: str = "| A |", human: int = 0) -> str:
    return (
        f"title: Trial\ntempo: 100\ncount-in: 0\nhuman: {human}\n"
        f'strums: {{own: {{step: 1/8, play: "{play}"}}}}\n'
        "parts: {click: off, bass: off, guitar: {strum: own}}\nshapes: {A: x02220, D: xx0232}\n"
        f'sections: {{tune: {{bars: "{bars}"}}}}\nform: [tune]\n'
    )


def test_the_thumb_plucks_the_bass_string_or_the_next_one(played):
    strokes = played(form("p - p2 - p - p2 -", "| A D |")).strokes()
    pitches = [[note.pitch for note in notes] for _, notes in strokes]
    assert pitches == [[note_number(name)] for name in ("A2", "E3", "D3", "A3")]
    assert [start / EIGHTH for start, _ in strokes] == [0, 2, 4, 6]


def test_a_short_stroke_is_stopped_halfway_to_the_next_one_or_the_next_chord(played):
    (one, two, three) = played(form("D. - U - D>. - - -", "| A |")).strokes()
    assert {note.end_whole / EIGHTH for note in one[1]} == {1}
    assert all(note.end_whole / EIGHTH >= 4 for note in two[1])
    assert {note.end_whole / EIGHTH for note in three[1]} == {6}
    (one, two) = played(form("D - - - D. - - -", "| A / / D |")).strokes()
    assert {note.end_whole / EIGHTH for note in two[1]} == {5}


def test_a_short_stroke_stops_every_string(played):
    first, _ = played(form("p - U. - - - - -")).strokes()
    assert [note.end_whole / EIGHTH for note in first[1]] == [5]


def test_an_accent_and_a_dot_go_together(played):
    (accented, plain) = played(form("D>. - - - D. - - -")).strokes()
    assert accented[1][0].velocity > plain[1][0].velocity


@pytest.mark.parametrize(
    ("play", "offset"), [("D .D", 2), ("p>", 0), ("x.", 0), ("-.", 0), ("D.>", 0), ("p3", 0)]
)
def test_other_signs_are_refused(play: str, offset: int) -> None:
    with pytest.raises(PatternError, match="isn't a stroke; write D") as refused:
        read_strum(play)
    assert refused.value.offset == offset


@pytest.mark.parametrize("human", [0, 100])
@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("D. - U - D - U -", "D - U - D - U -"),
        ("D - U - D - U.", "D - U - D - U"),
        ("p - D - p2 - D -", "p2 - D - p2 - D -"),
        ("p - D - p2 - D -", "D - D - p2 - D -"),
        ("p. - D - p2 - D -", "p - D - p2 - D -"),
    ],
)
def test_the_proof_finds_what_is_played_otherwise(right: str, wrong: str, human: int) -> None:
    bars = "| A | D |"
    forms = [read_form_text(form(play, bars, human)) for play in (right, wrong)]
    files = [to_bytes(play_version(each, PLAIN).score) for each in forms]
    for asked, of_asked in enumerate(forms):
        for made, data in enumerate(files):
            agrees = verify_bytes(of_asked, data).disagreements == ()
            assert agrees == (asked == made), (asked, made)
