"""The Score as a whole: tracks, settings, markers, meters, chord names."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from part_tables import rows_of, words_of

from backing.form.parts import PARTS
from backing.midi.writer import to_bytes
from backing.players import bass, click, drum_beats, pad, play, player_of
from backing.players.part_settings import settings_of
from backing.theory.rhythm import parse_meter
from backing.verify import verify_bytes

PLAIN = """
sections: {tune: {bars: "| A | D |"}}
form: [tune]
"""


def tracks(song):
    return {track.part: track for track in song.score.tracks}


def test_click_bass_and_guitar_play_by_default(played):
    song = played(PLAIN)
    assert [(track.part, track.name, track.program) for track in song.score.tracks] == [
        ("click", "Click", None),
        ("bass", "Bass", 33),
        ("guitar", "Guitar", 25),
    ]
    assert [(track.volume, track.pan) for track in song.score.tracks] == [
        (100, 0),
        (100, 0),
        (100, -14),
    ]


def test_a_part_that_never_sounds_has_no_track(played):
    song = played("parts: {click: off, bass: off}" + PLAIN)
    assert list(tracks(song)) == ["guitar"]
    assert list(tracks(played('sections: {a: {bars: "| N.C. |"}}\nform: [a]\n'))) == ["click"]


def test_a_part_that_one_section_turns_on_has_a_track(played):
    song = played(
        """
parts: {bass: off}
sections:
  low: {bars: "| A |", parts: {bass: {line: beats}}}
  tune: {bars: "| A |"}
form: [tune, low]
"""
    )
    starts = [note.start_whole for note in song.notes("bass")]
    assert starts == [Fraction(1), Fraction(5, 4), Fraction(3, 2), Fraction(7, 4)]


def test_volume_pan_and_sound_are_taken_from_the_song(played):
    song = played("parts: {guitar: {volume: 70, pan: -20, sound: nylon}, bass: {pan: 10}}" + PLAIN)
    guitar, bass = tracks(song)["guitar"], tracks(song)["bass"]
    assert (guitar.program, guitar.volume, guitar.pan) == (24, 70, -20)
    assert (bass.program, bass.volume, bass.pan) == (33, 100, 10)
    assert tracks(played("parts: {guitar: {sound: clean}}" + PLAIN))["guitar"].program == 27


def test_every_row_of_the_table_plays(played):
    timeline = played("count-in: 1" + PLAIN).timeline
    for part in PARTS.values():
        assert player_of(part)(timeline, settings_of(part.name, True))
        assert -12 <= part.level_lu <= 3
        assert 0 <= part.reverb <= 127
        assert -64 <= part.pan <= 63
        assert all(0 <= program <= 127 for program in part.programs.values())
    assert len({part.title for part in PARTS.values()}) == len(PARTS)


EVERY_VALUE = [
    (part.name, key.name, value)
    for part in PARTS.values()
    for key in part.keys
    for value in rows_of(part)[key.name][0]
]


@pytest.mark.parametrize(("part", "key", "value"), EVERY_VALUE)
def test_every_word_and_pattern_of_a_part_plays(played, part, key, value):
    song = played(f"parts: {{{part}: {{{key}: {value}}}}}{PLAIN}")
    assert song.notes(part)
    report = verify_bytes(song.timeline.form, to_bytes(song.score))
    assert report.agrees, report.disagreements


def test_the_players_defaults_are_words_of_a_form():
    words = {key.name: words_of(key) for part in PARTS.values() for key in part.keys}
    assert click.DEFAULT_SOUND in words_of(PARTS["click"].keys[0])
    assert pad.DEFAULT_SOUND in PARTS["pad"].programs
    assert bass.DEFAULT_LINE in words["line"]
    assert drum_beats.DEFAULT_LEVEL in words["level"]


def test_markers_name_the_count_in_and_each_pass(played):
    song = played(
        """
count-in: 2
sections:
  verse: {bars: "| A | D |"}
  close: {bars: "| E |"}
form: [verse x2, close]
"""
    )
    assert [place for place, _ in song.score.markers] == [0, 2, 4, 6]
    assert [text for _, text in song.score.markers] == [
        "Count-in",
        *(one.label for one in song.timeline.passes),
    ]


def test_without_a_count_in_the_first_marker_is_the_first_pass(played):
    assert played(PLAIN).score.markers[0] == (0, played(PLAIN).timeline.passes[0].label)


def test_a_meter_is_stated_where_it_changes(played):
    song = played(
        'count-in: 1\nsections: {tune: {bars: "| A | 2/4 D | 4/4 E | A |"}}\nform: [tune x2]\n'
    )
    two, four = parse_meter("2/4"), parse_meter("4/4")
    assert song.score.meters == (
        (0, four),
        (2, two),
        (Fraction(5, 2), four),
        (Fraction(11, 2), two),
        (6, four),
    )


def test_chord_names_are_at_their_written_places_as_they_sound(played):
    song = played(
        """
key: A
capo: 3
sections: {tune: {bars: "| A D(push) | E7/G# N.C. | F#m7(ring) |"}}
form: [tune]
"""
    )
    assert song.score.chords == (
        (0, "C"),
        (Fraction(1, 2), "F"),
        (1, "G7/B"),
        (Fraction(3, 2), "N.C."),
        (2, "Am7"),
    )
    assert [str(change.key) for change in song.score.keys] == ["C"]


@pytest.mark.parametrize(
    ("written", "sounding"),
    [("A", "Bb"), ("G", "Ab"), ("D", "Eb"), ("C", "C#"), ("F", "F#"), ("Eb", "E")],
)
def test_without_a_key_chords_take_their_usual_names(played, written, sounding):
    song = played(f'capo: 1\nsections: {{tune: {{bars: "| {written} |"}}}}\nform: [tune]\n')
    assert song.score.keys == ()
    assert song.score.chords[0].text == sounding


def test_the_score_ends_after_the_ring_out_and_no_note_after_the_score(played):
    song = played('sections: {tune: {bars: "| A | D(ring) |"}}\nform: [tune]\n')
    assert song.score.end_whole == 2 + song.timeline.ring_out_whole
    for note in (note for track in song.score.tracks for note in track.notes):
        assert 0 <= note.start_whole < note.end_whole <= song.score.end_whole
        assert 1 <= note.velocity <= 127
        assert 0 <= note.pitch <= 127


def test_tempos_are_those_of_the_timeline(played):
    song = played("tempo: 92" + PLAIN)
    assert song.score.tempos == song.timeline.tempos
    assert song.score.tempos[0].quarter_bpm == 92


def test_the_same_timeline_gives_the_same_score(played):
    text = """
parts: {click: {subdivide: 1/8}, bass: {line: beats}}
sections: {tune: {bars: "| A D(push) | G7 / / E(stop) | F#m7 | A(ring) |"}}
form: [tune x3]
"""
    one, other = played(text), played(text)
    assert one.score == other.score == play(one.timeline)


# What holds of every form.

BARS = (
    *("4/4 A", "4/4 D(push)", "4/4 E7(stop)", "4/4 F#m7(ring)", "4/4 N.C.", "4/4 G/B D"),
    *("4/4 C(push stop) / / Am", "4/4 Bb(push ring)", "4/4 A / / N.C.", "2/4 D"),
    *("4/4 E D(push) A(stop) E", "7/8 G(push) / /", "1/16 A(push)", "6/8 Em / C(push) / / /"),
)
STRUMS = ("D> - U x D U - - x D U> - D x x U", "- U - U", "x x", "D - - - | U U x D> | - - - -")


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    sections=st.lists(
        st.lists(st.sampled_from(BARS), min_size=1, max_size=6), min_size=1, max_size=3
    ),
    silent=st.sampled_from(["{}", "{guitar: off}", "{bass: off}", "{click: off}"]),
    strum=st.sampled_from(STRUMS),
    step=st.sampled_from(["1/4", "1/8", "1/8t", "1/16"]),
    line=st.sampled_from(["roots", "beats"]),
    tempo=st.sampled_from([30, 97, 160, 500]),
    capo=st.sampled_from([0, 3]),
)
def test_the_parts_of_any_form_are_playable_and_true_to_the_chords(
    played, sections, silent, strum, step, line, tempo, capo
):
    written = "".join(
        f'  s{index}: {{bars: "| {" | ".join(bars)} |", parts: {silent if index == 1 else "{}"}}}\n'
        for index, bars in enumerate(sections)
    )
    entries = ", ".join(f"s{index} x2" for index in range(len(sections)))
    song = played(
        f"tempo: {tempo}\ncapo: {capo}\n"
        f'parts: {{bass: {{line: {line}}}, guitar: {{strum: {{step: {step}, play: "{strum}"}}}}}}\n'
        f"sections:\n{written}form: [{entries}]\n"
    )
    off = {part: silent == f"{{{part}: off}}" for part in ("bass", "guitar")}
    guitar, low = song.notes("guitar"), song.notes("bass")
    for string in range(1, 7):
        assert_one_at_a_time([note for note in guitar if note.string == string])
    assert_one_at_a_time(low)
    for span in song.timeline.spans:
        last = span.end_whole == song.timeline.end_whole
        end = song.score.end_whole if last else span.end_whole
        for part, notes in (("guitar", guitar), ("bass", low)):
            heard = [
                note
                for note in notes
                if note.start_whole < end and note.end_whole > span.start_whole
            ]
            struck = [note for note in heard if note.start_whole >= span.start_whole]
            if span.chord is None or (off[part] and span.playing.section == "s1"):
                assert not heard
                continue
            allowed = {span.chord.bass_class} if part == "bass" else span.chord.pitch_classes
            assert {(note.pitch - capo) % 12 for note in heard} <= allowed
            if span.marks or part == "bass":
                assert struck[0].start_whole == span.start_whole
            if "stop" in span.marks:
                assert max(note.end_whole for note in heard) <= span.start_whole + Fraction(1, 8)
            elif part == "bass":
                assert max(note.end_whole for note in heard) == (
                    end if not last or "ring" in span.marks else song.timeline.end_whole
                )
            if span.marks & {"ring", "stop"}:
                strings = [note.string for note in struck]
                assert len(strings) == len(set(strings))


def assert_one_at_a_time(notes):
    assert all(note.start_whole < note.end_whole for note in notes)
    assert all(one.end_whole <= other.start_whole for one, other in pairwise(notes))
