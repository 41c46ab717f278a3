"""The guitarist: one guitar over changes between strum, pick and riff, in every form."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from soundness import check_sound

from backing.form import read_form
from backing.midi.writer import to_bytes
from backing.players import play
from backing.players.human import humanize
from backing.theory.chords import parse_chord
from backing.theory.fingerings import voiced
from backing.timeline import unroll

FORMS = Path(__file__).resolve().parent.parent.parent / "forms"
GUITARS = ("guitar", "lead")
WAYS = (
    "{strum: {step: 1/8, play: 'D> x U x D U x> U'}}",
    "{strum: {step: 1/16, play: 'D U D U'}}",
    "{pick: alternating}",
    "{pick: {step: 1/8, play: '(pa) i m (p2a) - (ima)'}}",
    "{riff: run}",
    "{riff: bends}",
    "off",
)
RIFFS = """
riffs:
  run:
    step: 1/16
    tab: |
      |0---3p0-----2h3-|----------------|
      |----------------|1---x-----1-1-1-|
      |--2---2---2---2-|0---------------|
      |----------------|----------------|
      |3---------------|3/5-----5\\\\3-----|
      |--------0-------|----------------|
  bends:
    step: 1/8
    tab: |
      |7b----5-|
      |--5~--5-|
      |7b---7/9|
      |--5---7-|
      |--------|
      |0-------|
""".replace("\\\\", "\\")


def assert_one_note_a_string(score):
    """No string of a guitar sounds two notes, over all its tracks."""
    by_string = defaultdict(list)
    for track in score.tracks:
        if track.part in GUITARS:
            for note in track.notes:
                by_string[track.part, note.string].append(note)
    for key, notes in by_string.items():
        notes.sort(key=lambda note: note.start_whole)
        assert 1 <= key[1] <= 6
        for one, other in pairwise(notes):
            assert one.start_whole < one.end_whole <= other.start_whole, (key, one, other)
    return by_string


@pytest.mark.parametrize("path", sorted(FORMS.glob("*.yaml")), ids=lambda path: path.stem)
def test_no_string_sounds_two_notes_in_any_demo(path):
    form = read_form(path)
    score = play(unroll(form))
    assert assert_one_note_a_string(score)
    for track in humanize(score, 100).tracks:
        assert all(note.start_whole < note.end_whole for note in track.notes)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    sections=st.lists(
        st.tuples(
            st.sampled_from(WAYS),
            st.sampled_from(WAYS),
            st.lists(
                st.sampled_from(
                    ("A", "D(push)", "E7(stop)", "C/G(push ring)", "N.C.", "A D(push) E A", "F#m7")
                ),
                min_size=1,
                max_size=3,
            ),
        ),
        min_size=2,
        max_size=4,
    ),
    tempo=st.sampled_from((30, 120, 500)),
    feel=st.sampled_from(("straight", "swing")),
)
def test_no_string_sounds_two_notes_however_a_song_changes(played, sections, tempo, feel):
    written = "".join(
        f'  s{index}: {{bars: "| {" | ".join(bars)} |", parts: {{guitar: {one}, lead: {two}}}}}\n'
        for index, (one, two, bars) in enumerate(sections)
    )
    entries = ", ".join(f"s{index} x2" for index in range(len(sections)))
    song = played(f"tempo: {tempo}\nfeel: {feel}\n{RIFFS}sections:\n{written}form: [{entries}]\n")
    assert_one_note_a_string(song.score)
    assert check_sound(to_bytes(song.score)) == []


def test_a_riff_plays_whole_between_any_sections(played):
    text = (
        "parts: {click: off, bass: off, guitar: {strum: {step: 1/8, play: 'D U D U D U D U'}}}\n"
        'sections: {a: {bars: "| A(push) |"}, b: {bars: "| A(push) | N.C. |", parts: {guitar: '
        f"{{riff: run}}}}}}}}\n{RIFFS}"
    )
    alone = played(f"form: [b]\n{text}").notes("guitar")
    starts = [(note.start_whole + 1, note.string, note.pitch) for note in alone]
    within = [
        (note.start_whole, note.string, note.pitch)
        for note in played(f"form: [a, b, a]\n{text}").notes("guitar")
    ]
    assert set(starts) <= set(within)
    others = {place for place, *_ in set(within) - set(starts) if 1 <= place < 3}
    assert min(others) == Fraction(23, 8)  # the chord after it, pushed
    assert len([note for note in within if note[0] < 1]) > 8


def test_the_strum_before_a_riff_ends_where_the_riff_starts(played):
    song = played(
        'sections: {a: {bars: "| A(ring) |"}, b: {bars: "| D(push) |", parts: {guitar: '
        f"{{riff: bends}}}}}}}}\nparts: {{click: off, bass: off}}\nform: [a, b]\n{RIFFS}"
    )
    assert {note.end_whole for note in song.notes("guitar") if note.start_whole < 1} == {1}


def test_a_part_that_is_off_rests_even_if_it_has_a_riff(played):
    song = played(
        "parts: {click: off, bass: off, lead: {riff: run}, guitar: off}\n"
        'sections: {a: {bars: "| A |"}, b: {bars: "| A |", parts: {lead: off}}}\n'
        f"form: [a, b]\n{RIFFS}"
    )
    assert max(note.end_whole for note in song.notes("lead")) == 1


def test_the_lead_is_silent_until_a_form_says_it_plays(played):
    plain = 'sections: {a: {bars: "| A | D |"}}\nform: [a]\n'
    assert not played(plain).notes("lead")
    on = played("parts: {lead: on}\n" + plain)
    assert on.notes("lead") == on.notes("guitar")


def test_the_writers_fingers_are_kept_for_the_chart(played):
    song = played(
        "shapes: {A: {frets: x02220, fingers: x01110}}\n"
        'sections: {a: {bars: "| A | D |"}}\nform: [a]\n'
    )
    form = song.timeline.form
    chosen, other = voiced([parse_chord("A"), parse_chord("D")], form.tuning, form.shapes)
    assert chosen is form.shapes["A"]
    assert chosen.fingers == (0, 0, 1, 1, 1, 0)
    assert other.fingers == ()
