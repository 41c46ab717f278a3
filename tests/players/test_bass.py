"""The bass: which note, in which octave, how long."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from backing.players.bass import HIGHEST, LOWEST, nearest
from backing.theory.pitch import note_number

EIGHTH = Fraction(1, 8)


def form(bars: str, line: str = "roots", head: str = "") -> str:
    return (
        f"{head}\nparts: {{click: off, guitar: off, bass: {{line: {line}}}}}\n"
        f'sections: {{tune: {{bars: "{bars}"}}}}\nform: [tune]\n'
    )


def line_of(song):
    return [(note.start_whole, note.end_whole, note.pitch) for note in song.notes("bass")]


def test_roots_are_held_to_the_next_chord_or_bar_line(played):
    assert line_of(played(form("| A D | / / / / | E |"))) == [
        (0, Fraction(1, 2), note_number("A1")),
        (Fraction(1, 2), 1, note_number("D2")),
        (1, 2, note_number("D2")),
        (2, 3, note_number("E2")),
    ]


def test_beats_strike_each_beat(played):
    song = played(form("| A | 2/4 D |", "beats"))
    assert [start for start, _, _ in line_of(song)] == [Fraction(beat, 4) for beat in range(6)]
    assert all(end - start == Fraction(1, 4) for start, end, _ in line_of(song))


def test_beats_are_dotted_quarters_in_compound_time_and_chords_between_them_are_struck(played):
    assert [start for start, _, _ in line_of(played(form("| A |", "beats", "meter: 6/8")))] == [
        0,
        Fraction(3, 8),
    ]
    between = played(form("| A / D / / / |", "beats", "meter: 6/8"))
    assert [start for start, _, _ in line_of(between)] == [0, Fraction(1, 4), Fraction(3, 8)]


def test_a_slash_bass_takes_the_place_of_the_root(played):
    assert [pitch % 12 for _, _, pitch in line_of(played(form("| A/C# | C/G |")))] == [1, 7]


def test_the_capo_raises_what_sounds(played):
    song = played(form("| A | G/B |", head="capo: 3"))
    assert [pitch % 12 for _, _, pitch in line_of(song)] == [0, 2]


def test_the_range_is_a_bass_guitars_and_leaps_are_small():
    # Every class after every pitch of the range: a leap over a fifth only where the
    # range ends before a nearer octave comes.
    assert (note_number("E1"), note_number("G3")) == (LOWEST, HIGHEST)
    for before in range(LOWEST, HIGHEST + 1):
        for pitch_class in range(12):
            pitch = nearest(pitch_class, before)
            assert pitch % 12 == pitch_class
            assert LOWEST <= pitch <= HIGHEST
            if abs(pitch - before) > 7:
                toward = -12 if pitch > before else 12
                assert not LOWEST <= pitch + toward <= HIGHEST
    assert all(nearest(pitch_class, None) < LOWEST + 12 for pitch_class in range(12))


@pytest.mark.parametrize("step", [5, 7], ids=["fourths", "fifths"])
def test_a_line_that_goes_round_the_keys_stays_low(step):
    pitch, line = None, []
    for index in range(120):
        pitch = nearest(index * step % 12, pitch)
        line.append(pitch)
    assert max(line) < note_number("E3")
    assert sum(line) / len(line) < note_number("E2")
    assert max(abs(one - other) for one, other in pairwise(line)) <= 7


def test_a_push_comes_an_eighth_early_and_is_tied_over_the_beat(played):
    assert line_of(played(form("| A D(push) | E |"))) == [
        (0, Fraction(1, 2) - EIGHTH, note_number("A1")),
        (Fraction(1, 2) - EIGHTH, 1, note_number("D2")),
        (1, 2, note_number("E2")),
    ]


@pytest.mark.parametrize("line", ["roots", "beats"])
def test_a_push_crosses_the_bar_line(played, line):
    notes = line_of(played(form("| A | D(push) |", line)))
    early = next(note for note in notes if note[2] == note_number("D2"))
    assert early[0] == 1 - EIGHTH
    assert 1 not in [start for start, _, _ in notes]
    assert early[1] == (2 if line == "roots" else Fraction(5, 4))


def test_a_push_at_the_songs_first_bar_falls_on_the_bar_line(played):
    assert line_of(played(form("| A(push) |"))) == [(0, 1, note_number("A1"))]
    counted = played(form("| A(push) |", head="count-in: 1"))
    assert line_of(counted) == [(1, 2, note_number("A1"))]


@pytest.mark.parametrize("line", ["roots", "beats"])
def test_a_stop_is_short_and_silence_follows_to_the_next_chord(played, line):
    notes = line_of(played(form("| A(stop) | / / / / | D |", line)))
    assert notes[0] == (0, EIGHTH, note_number("A1"))
    assert notes[1][0] == 2


def test_a_stop_on_a_chord_shorter_than_an_eighth_ends_with_it(played):
    song = played(form("| A(stop) | D |", head="meter: 1/16"))
    assert line_of(song)[0][:2] == (0, Fraction(1, 16))


@pytest.mark.parametrize("line", ["roots", "beats"])
def test_a_ring_is_struck_once_and_held_to_the_next_chord(played, line):
    notes = line_of(played(form("| A(ring) | / / / / | D |", line)))
    assert notes[0] == (0, 2, note_number("A1"))
    assert notes[1][0] == 2


def test_the_last_chord_rings_on_past_the_end_only_where_it_is_marked(played):
    ringing = played(form("| A | D(ring) |"))
    assert line_of(ringing)[-1][1] == 2 + ringing.timeline.ring_out_whole
    # Two seconds at 120 beats a minute are a whole note.
    assert ringing.timeline.ring_out_whole == 1
    assert line_of(played(form("| A | D |")))[-1][1] == 2


@pytest.mark.parametrize("line", ["roots", "beats"])
def test_no_chord_is_rest(played, line):
    notes = line_of(played(form("| A | N.C. | / / / / | D |", line)))
    assert [note for note in notes if note[1] > 1 and note[0] < 3] == []
    assert notes[-1][2] == note_number("D2")


def test_a_section_without_bass_is_silent_and_a_held_note_ends_where_it_starts(played):
    song = played(
        """
parts: {click: off, guitar: off}
sections:
  low: {bars: "| A(ring) |"}
  none: {bars: "| A | D |", parts: {bass: off}}
form: [low, none, low]
"""
    )
    assert [note[:2] for note in line_of(song)] == [(0, 1), (3, 4 + song.timeline.ring_out_whole)]


def test_a_pushed_chord_plays_with_the_parts_of_its_own_section(played):
    text = """
parts: {click: off, guitar: off}
sections:
  low: {bars: "| A(push) |"}
  none: {bars: "| D(push) |", parts: {bass: off}}
form: [low, none, low]
"""
    # A for its bar less the eighth that D takes, silence, and A again an eighth early.
    assert [note[:2] for note in line_of(played(text))] == [
        (0, Fraction(7, 8)),
        (Fraction(15, 8), 3),
    ]


def test_one_note_sounds_at_a_time(played):
    song = played(form("| A D(push) | E(stop) | % | G7(ring) | N.C. | C/G F | Bb(push) |", "beats"))
    assert all(one[1] <= other[0] for one, other in pairwise(line_of(song)))
    assert all(start < end for start, end, _ in line_of(song))
