"""The picked guitar: thumb and fingers, their strings, ringing, built-in patterns."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from backing.players.pick import built_in
from backing.theory.picks import PICKS
from backing.theory.rhythm import parse_meter

EIGHTH = Fraction(1, 8)
QUARTER = Fraction(1, 4)
SHAPES = """
shapes:
  A: x02220
  D: xx0232
  E: "022100"
  C: x32010
  A5: x022xx
  G5: 3xx0xx
"""


def form(bars: str, pick: str, head: str = "") -> str:
    printed = pick if pick in PICKS else f'{{step: 1/8, play: "{pick}"}}'
    return (
        f"{head}\nparts: {{click: off, bass: off, guitar: {{pick: {printed}}}}}\n"
        f'sections: {{tune: {{bars: "{bars}"}}}}\nform: [tune]\n{SHAPES}'
    )


def struck(song):
    """Each note's place in eighths and its string."""
    return [(note.start_whole / EIGHTH, note.string) for note in song.notes("guitar")]


def strings(song):
    return [string for _, string in struck(song)]


# Strings.


@pytest.mark.parametrize(
    ("chord", "expected"),
    [
        ("E", [6, 5, 3, 2, 1]),
        ("A", [5, 4, 3, 2, 1]),
        ("D", [4, 3, 3, 2, 1]),
        ("A5", [5, 4, 3, 3, 3]),  # the first two strings are mute: the nearest is the third
        ("G5", [6, 3, 3, 3, 3]),
    ],
)
def test_thumb_on_the_bass_strings_and_fingers_on_the_upper_three(played, chord, expected):
    assert strings(played(form(f"| {chord} |", "p p2 i m a - - -"))) == expected


def test_a_finger_whose_string_is_mute_takes_the_nearest_the_higher_of_two(played):
    text = form("| E |", "a m - - - - - -").replace('"022100"', "02210x")
    assert strings(played(text)) == [2, 2]
    text = form("| E |", "m - - - - - - -").replace('"022100"', "0221x0")
    assert strings(played(text)) == [1]


def test_fingers_together_sound_at_once_each_on_its_string(played):
    song = played(form("| D |", "(pa) - (p2i) - (pima) - - -"))
    assert sorted(struck(song)) == [
        *((0, 1), (0, 4)),
        (2, 3),  # thumb and index meet on one string
        *((4, 1), (4, 2), (4, 3), (4, 4)),
    ]


def test_the_notes_are_those_of_the_shape_with_the_capo(played):
    song = played(form("| A |", "p p2 i m a - - -", "capo: 2"))
    assert [note.pitch for note in song.notes("guitar")] == [47, 54, 59, 63, 66]


# Loudness.


def test_the_thumb_is_louder_than_the_fingers_by_a_tenth_to_a_half(played):
    # Common practice, from memory: the bass line stands out, and the fingers are still heard.
    song = played(form("| A | D |", "(pa) i p2 m p i (p2m) a"))
    thumb = {note.velocity for note in song.notes("guitar") if note.string in (5, 4)}
    fingers = {note.velocity for note in song.notes("guitar") if note.string in (2, 1)}
    assert min(thumb) / max(fingers) >= 1.1
    assert max(thumb) / min(fingers) <= 1.5


def test_notes_on_a_beat_are_louder_than_those_between(played):
    song = played(form("| A |", "i i m m a a p p"))
    velocities = [note.velocity for note in song.notes("guitar")]
    assert all(a > b for a, b in zip(velocities[::2], velocities[1::2], strict=True))


# Ringing.


def test_notes_ring_into_each_other_until_their_string_is_played_again(played):
    song = played(form("| A |", "p i m a p i - -"))
    ends = {
        (note.string, note.start_whole / EIGHTH): note.end_whole for note in song.notes("guitar")
    }
    assert ends == {
        (5, 0): 4 * EIGHTH,
        (3, 1): 5 * EIGHTH,
        **dict.fromkeys([(2, 2), (1, 3), (5, 4), (3, 5)], 1),
    }


def test_a_chord_ends_what_it_changes_and_leaves_the_rest(played):
    song = played(form("| A | E |", "p i m a - - - -"))
    ends = {note.string: note.end_whole for note in song.notes("guitar")[:4]}
    assert ends == {
        5: 1,  # A, which E stops at the second fret
        3: 1,
        2: 1,
        1: 1 + 3 * EIGHTH,  # the open string in both, until it is played again
    }


def test_nothing_is_picked_where_the_pattern_rests_at_a_new_chord(played):
    assert struck(played(form("| A | E |", "- - - - p - - -"))) == [(4, 5), (12, 6)]


# Marks.


def test_a_mark_is_a_pinch_of_thumb_and_fingers(played):
    song = played(form("| A(ring) | D(stop) | E |", "p i m a p i m a"))
    notes = song.notes("guitar")
    assert [(note.start_whole, note.string) for note in notes[:8]] == [
        *((0, string) for string in (5, 3, 2, 1)),
        *((1, string) for string in (4, 3, 2, 1)),
    ]
    assert {note.end_whole for note in notes[4:8]} == {1 + EIGHTH}
    assert notes[8].start_whole == 2


def test_a_pushed_chord_is_pinched_an_eighth_early_and_the_pattern_goes_on(played):
    song = played(form("| A | D(push) |", "p i m a p i m a"))
    assert [(at, string) for at, string in struck(song) if at >= 7] == [
        *((7, string) for string in (4, 3, 2, 1)),
        *((9, 3), (10, 2), (11, 1), (12, 4), (13, 3), (14, 2), (15, 1)),
    ]


def test_no_chord_is_rest(played):
    song = played(form("| A | N.C. | A |", "p i m a p i m a"))
    assert not [at for at, _ in struck(song) if 8 <= at < 16]
    assert max(note.end_whole for note in song.notes("guitar") if note.start_whole < 1) == 1


# Patterns.


def test_the_pattern_follows_swing_and_triplets_are_even(played):
    swung = played(form("| A |", "p i p2 m - - - -", "feel: swing"))
    assert [at for at, _ in struck(swung)] == [0, Fraction(4, 3), 2, Fraction(10, 3)]
    text = form("| A |", "p i m").replace("step: 1/8", "step: 1/8t")
    assert [at for at, _ in struck(played(text))] == [Fraction(2 * i, 3) for i in range(12)]


def test_each_built_in_pattern_has_bars_for_the_common_meters():
    assert all({"4/4", "3/4", "6/8"} <= set(picking.by_meter) for picking in PICKS.values())


@pytest.mark.parametrize("name", PICKS)
@pytest.mark.parametrize(
    "meter",
    [
        *("2/2", "3/2", "1/4", "2/4", "3/4", "4/4", "5/4", "6/4"),
        *("3/8", "5/8", "6/8", "7/8", "7/8 (3+2+2)", "8/8 (3+3+2)", "9/8", "12/8", "6/16"),
    ],
)
def test_a_built_in_pattern_fills_the_bars_of_any_meter(name, meter):
    meter = parse_meter(meter)
    pattern = built_in(name, meter, 6)
    for bar in pattern.bars:
        assert len(bar) * pattern.step_whole == meter.bar_whole
        assert bar[0] in {("p",), ("p2",)}
    if name == "alternating" and len(meter.beats) > 1:
        thumbs = [
            finger for bar in pattern.bars for (finger, *_) in filter(None, bar) if "p" in finger
        ]
        assert thumbs == (["p", "p2"] * len(thumbs))[: len(thumbs)]
        assert len(thumbs) > 1


@pytest.mark.parametrize(
    ("meter", "expected"),
    [
        ("4/4", [5, 3, 4, 2, 5, 3, 4, 2]),
        ("3/4", [5, 3, 2, 3, 2, 4, 3, 2, 3, 2]),
        ("6/8", [5, 3, 2, 4, 3, 2] * 2),
    ],
)
def test_the_bass_alternates_in_common_meters(played, meter, expected):
    bars = "| A |" if meter == "4/4" else "| A | A |"
    assert strings(played(form(bars, "alternating", f"meter: {meter}"))) == expected


@pytest.mark.parametrize(
    ("meter", "expected"),
    [
        ("4/4", [4, 2, 3, 1, 4, 2, 3, 1]),
        ("3/4", [4, 2, 1, 2, 1, 3, 2, 1, 2, 1]),
        ("6/8", [4, 2, 1, 3, 2, 1] * 2),
        ("5/4", [4, 2, 3, 1, 4, 2, 3, 1, 4, 2] * 2),
    ],
)
def test_on_four_strings_the_thumb_has_two_and_the_fingers_the_others(played, meter, expected):
    bars = "| F |" if meter == "4/4" else "| F | F |"
    head = f"instrument: ukulele\nmeter: {meter}"
    text = form(bars, "alternating", head).replace(SHAPES, "")
    assert strings(played(text)) == expected


@pytest.mark.parametrize("name", PICKS)
@pytest.mark.parametrize("meter", ["2/4", "3/4", "4/4", "5/4", "6/8", "9/8", "12/8"])
@pytest.mark.parametrize(
    ("tuning", "shape"),
    [
        ("G4 C4 E4 A4", "2010"),
        ("G4 D3 G3 B3 D4", "00000"),
        ("B1 E2 A2 D3 G3 B3 E4", "1133211"),
        ("F#1 B1 E2 A2 D3 G3 B3 E4", "x1133211"),
    ],
)
def test_no_built_in_pattern_plays_a_string_twice_in_a_row(played, name, meter, tuning, shape):
    text = form("| F | F |", name, f"meter: {meter}\ntuning: {tuning}").replace(
        SHAPES, f'\nshapes: {{F: "{shape}"}}\n'
    )
    notes = strings(played(text))
    assert len(notes) > 3
    assert all(one != other for one, other in pairwise(notes)), notes


def test_a_pattern_of_the_form_keeps_its_fingers_on_four_strings(played):
    text = form("| F |", "p i p2 m - - - -", "instrument: ukulele").replace(SHAPES, "")
    assert strings(played(text)) == [4, 3, 3, 2]


def test_a_form_may_have_its_own_pattern_of_a_built_in_name(played):
    text = form("| A |", "arpeggio") + 'picks: {arpeggio: {step: 1/4, play: "p - p2 -"}}\n'
    assert struck(played(text)) == [(0, 5), (4, 4)]


def test_a_section_may_pick_where_the_song_strums(played):
    song = played(
        """
parts: {click: off, bass: off, guitar: {strum: {step: 1/4, play: "D D D D"}}}
sections:
  tune: {bars: "| A |"}
  quiet: {bars: "| A |", parts: {guitar: {pick: {step: 1/4, play: "p i m a"}}}}
form: [tune, quiet, tune]
"""
        + SHAPES
    )
    assert [len(notes) for _, notes in song.strokes()] == [5, 4, 4, 4, 1, 1, 1, 1, 5, 4, 4, 4]
