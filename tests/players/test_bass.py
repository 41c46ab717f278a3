"""The bass: which note, in which octave, how long."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backing.form import read_form_text
from backing.players.bass_pitches import nearest, range_of
from backing.players.degrees import own_scale, semitones
from backing.practice import Version, play_version
from backing.theory.bass_lines import BASS_LINES
from backing.theory.chords import parse_chord
from backing.theory.instruments import BASS_TUNING
from backing.theory.pitch import note_name, note_number

EIGHTH = Fraction(1, 8)

RANGE = range_of(BASS_TUNING)
LOWEST, HIGHEST = RANGE


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


def test_the_line_is_in_a_bass_guitars_range_and_leaps_are_small():
    # Every class after every pitch of the range: a leap over a fifth only where the
    # range ends before a nearer octave comes.
    assert (note_number("E1"), note_number("G3")) == (LOWEST, HIGHEST)
    for before in range(LOWEST, HIGHEST + 1):
        for pitch_class in range(12):
            pitch = nearest(pitch_class, before, RANGE)
            assert pitch % 12 == pitch_class
            assert LOWEST <= pitch <= HIGHEST
            if abs(pitch - before) > 7:
                toward = -12 if pitch > before else 12
                assert not LOWEST <= pitch + toward <= HIGHEST
    assert all(nearest(pitch_class, None, RANGE) < LOWEST + 12 for pitch_class in range(12))


@pytest.mark.parametrize("step", [5, 7], ids=["fourths", "fifths"])
def test_a_line_through_all_the_keys_stays_low(step):
    pitch, line = None, []
    for index in range(120):
        pitch = nearest(index * step % 12, pitch, RANGE)
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


# Root and fifth.


def places(song):
    return [(start, note_name(pitch)) for start, _, pitch in line_of(song)]


@pytest.mark.parametrize(
    ("meter", "expected"),
    [
        ("4/4", [(0, "G1"), (Fraction(1, 2), "D2")]),
        ("2/4", [(0, "G1"), (Fraction(1, 4), "D2")]),
        ("3/4", [(0, "G1"), (Fraction(1, 2), "D2")]),
        ("5/4", [(0, "G1"), (Fraction(3, 4), "D2")]),
        ("5/4 (2+3)", [(0, "G1"), (Fraction(1, 2), "D2")]),
        ("6/8", [(0, "G1"), (Fraction(3, 8), "D2")]),
        ("12/8", [(0, "G1"), (Fraction(3, 4), "D2")]),
        ("9/8", [(0, "G1"), (Fraction(3, 4), "D2")]),
        ("7/8", [(0, "G1"), (Fraction(1, 2), "D2")]),
        ("3/8", [(0, "G1")]),
        ("1/4", [(0, "G1")]),
    ],
)
def test_the_fifth_answers_the_root_in_the_second_half_of_the_bar(played, meter, expected):
    head = f"meter: {meter}\ntempo: {{bpm: 100, beat: 1/8}}"
    assert places(played(form("| G |", "root-fifth", head))) == expected


def test_the_fifth_is_below_the_root_where_the_range_allows(played):
    for root in ("A", "Bb", "B", "C", "Db", "D", "Eb"):
        (_, _, low), (_, _, fifth) = line_of(played(form(f"| {root} |", "root-fifth")))
        assert fifth == low - 5
    for root in ("E", "F", "F#", "G", "G#"):
        (_, _, low), (_, _, fifth) = line_of(played(form(f"| {root} |", "root-fifth")))
        assert fifth == low + 7


def test_the_fifth_is_the_chords_own_and_over_it_the_root_answers(played):
    for symbol, expected in [("Bm7b5", "F"), ("Caug", "G#"), ("C/E", "G"), ("C/G", "C")]:
        _, (_, name) = places(played(form(f"| {symbol} |", "root-fifth")))
        assert name[:-1] == expected


def test_a_chord_in_the_middle_of_a_bar_starts_on_its_own_root(played):
    song = played(form("| C F | G |", "root-fifth"))
    assert [name[:-1] for _, name in places(song)] == ["C", "F", "G", "D"]


# Passing notes between a fifth and the next chord.


def test_a_passing_note_takes_the_last_beat_before_a_change(played):
    song = played(form("| C | F | G | Am | C |", "root-fifth"))
    assert [name for _, name in places(song)] == [
        *("C2", "G1", "E1"),
        *("F1", "C2", "A1"),
        *("G1", "D2", "B1"),
        *("A1", "E1", "B1"),
        *("C2", "G1"),
    ]
    assert [start for start, _ in places(song)[:3]] == [0, Fraction(1, 2), Fraction(3, 4)]


@pytest.mark.parametrize(
    ("meter", "place"),
    [
        ("4/4", "3/4"), ("12/8", "9/8"), ("5/4", "1"), ("5/4 (2+3)", "1"), ("3/4", "5/8"),
        ("2/4", "3/8"), ("6/8", "5/8"), ("9/8", "1"), ("7/8", "3/4"), ("2/2", "3/4"),
    ],
)  # fmt: skip
def test_a_passing_note_shares_the_last_beat_with_a_fifth_that_has_only_that(played, meter, place):
    song = played(form("| C | F |", "root-fifth", f"meter: {meter}\ntempo: {{bpm: 60, beat: 1/8}}"))
    (start, end, pitch) = line_of(song)[2]
    assert (start, end) == (Fraction(place), song.timeline.bars[1].start_whole)
    assert note_name(pitch) == "E1"


@pytest.mark.parametrize(
    ("head", "passes"),
    [
        ("tempo: 240", True),
        ("tempo: 240.1", False),
        ("meter: 3/4\ntempo: 120", True),
        ("meter: 3/4\ntempo: 120.1", False),
        ("meter: 6/8\ntempo: 80", True),
        ("meter: 6/8\ntempo: 80.1", False),
        ("meter: 3/4\ntempo: 120\nfeel: swing", True),  # as written, whatever the feel
    ],
)
def test_a_passing_note_lasts_a_quarter_of_a_second_at_least(played, head, passes):
    assert len(line_of(played(form("| C | F |", "root-fifth", head)))) == 4 + passes


@pytest.mark.parametrize(
    ("bars", "notes"),
    [
        ("| C | C |", 4),  # the same chord
        ("| C | Cm/C |", 4),  # another one with the same bass
        ("| C | F(push) |", 4),  # what comes early needs no help
        ("| C | N.C. |", 2),
        ("| C(ring) | F |", 3),
        ("| C F | C F |", 4),  # chords without a fifth
        ("| C / / F | C |", 5),  # no beat between the fifth and the change
        ("| C | / / / / | F |", 7),  # one, before the change
    ],
)
def test_only_a_chord_that_leads_from_its_fifth_to_a_new_bass_passes(played, bars, notes):
    assert len(line_of(played(form(bars, "root-fifth")))) == notes


def test_passing_notes_are_steps_to_the_next_bass_from_a_scale_of_the_chords(played):
    count = 0
    for bars in (
        "| A | D | E7 | A | F#m | Bm7 | E | C#m |",
        "| Gm | Cm7 | F7 | Bb | Ebmaj7 | D/F# |",
    ):
        song = played(form(bars, "root-fifth").replace("[tune]", "[tune x2]"))
        notes = song.notes("bass")
        by_start = {note.start_whole: note.pitch for note in notes}
        for before, span in pairwise(song.timeline.spans):
            last = next(note for note in notes if note.end_whole == span.start_whole)
            assert last.end_whole - last.start_whole == Fraction(1, 4)
            assert abs(last.pitch - by_start[span.start_whole]) in (1, 2)
            scales = {
                (one.chord.root.pitch_class + step) % 12
                for one in (before, span)
                for step in (*own_scale(one.chord.intervals), 10, 11)
            }
            assert last.pitch % 12 in scales
            count += 1
    assert count == 26


def test_practice_at_another_speed_has_the_same_passing_notes():
    form_ = read_form_text(
        "title: Trial\ntempo: 260\nparts: {bass: {line: root-fifth}}\n"
        'sections: {tune: {bars: "| C | F | G | C |"}}\nform: [tune]\n'
    )
    notes = [
        len(track.notes)
        for speed in (1, Fraction(1, 2))
        for track in play_version(form_, Version(speeds=(Fraction(speed),))).score.tracks
        if track.part == "bass"
    ]
    assert notes == [8, 8]


# Written lines.


@pytest.mark.parametrize(
    ("symbol", "degrees"),
    [
        ("C", {"1": 0, "2": 2, "3": 4, "4": 5, "5": 7, "6": 9, "7": 10, "8": 12, "9": 14}),
        ("C", {"10": 16, "11": 17, "12": 19, "13": 21}),
        ("Cm", {"3": 3, "b3": 3, "#3": 5, "6": 9, "7": 10, "10": 15}),
        ("C7", {"7": 10, "b7": 10, "#7": 12, "b3": 3}),
        ("Cmaj7", {"7": 11, "b7": 10}),
        ("Cdim7", {"3": 3, "5": 6, "7": 9}),
        ("Cm7b5", {"5": 6, "7": 10}),
        ("Caug", {"5": 8, "#5": 8, "b5": 6}),
        ("C7#11", {"4": 6, "5": 7, "#4": 6}),
        ("C7b9", {"2": 1, "9": 13}),
        ("C7#9", {"2": 3, "3": 4}),
        ("C7b13", {"5": 7, "6": 8, "13": 20}),
        ("Csus4", {"3": 5}),
        ("Csus2", {"3": 2}),
        ("C5", {"3": 7}),
        ("C6", {"6": 9, "7": 10}),
    ],
)
def test_a_plain_degree_counts_in_the_chords_scale_and_one_with_a_sign_in_the_major_scale(
    symbol, degrees
):
    intervals = parse_chord(symbol).intervals
    assert {degree: semitones(intervals, degree) for degree in degrees} == degrees


def test_a_written_line_plays_its_degrees_and_holds(played):
    line = '{step: 1/8, play: "1 - - 5 - - 8 5"}'
    song = played(form("| A | Dm |", line))
    assert line_of(song)[:4] == [
        (0, Fraction(3, 8), note_number("A1")),
        (Fraction(3, 8), Fraction(3, 4), note_number("E2")),
        (Fraction(3, 4), Fraction(7, 8), note_number("A2")),
        (Fraction(7, 8), 1, note_number("E2")),
    ]
    assert [name for _, name in places(song)[4:]] == ["D2", "A2", "D3", "A2"]


def test_a_written_line_follows_the_rules_of_patterns(played):
    line = '{step: 1/4, play: "1 - 5 - | 1 3 5 8"}'
    song = played(form("| C | C | 2/4 C | 4/4 C |", line))
    assert [start for start, _ in places(song)] == [
        *(0, Fraction(1, 2)),
        *(1, Fraction(5, 4), Fraction(3, 2), Fraction(7, 4)),
        *(2,),
        *(Fraction(5, 2), Fraction(11, 4), 3, Fraction(13, 4)),
    ]


def test_a_new_chord_is_struck_on_its_bass_even_where_the_line_has_another_degree(played):
    line = '{step: 1/4, play: "5 - - 3"}'
    song = played(form("| C F | G/B |", line))
    assert [name[:-1] for _, name in places(song)] == ["C", "F", "A", "B", "B"]


def test_one_and_eight_are_the_slash_bass_and_other_degrees_the_chords(played):
    song = played(form("| C/E |", '{step: 1/4, play: "1 5 8 1"}'))
    assert [name for _, name in places(song)] == ["E1", "G2", "E2", "E1"]


def test_a_written_line_stays_in_range(played):
    song = played(form("| C | F# | B | Eb | G/B |", '{step: 1/8, play: "1 13 8 b2 12 #7 10 5"}'))
    assert all(LOWEST <= pitch <= HIGHEST for _, _, pitch in line_of(song))


def test_a_written_line_is_swung_and_pushes_come_before_it(played):
    song = played(form("| C | F(push) |", '{step: 1/8, play: "1 3 5 6 1 3 5 6"}', "feel: swing"))
    starts = [start for start, _ in places(song)]
    assert starts[:4] == [0, Fraction(1, 6), Fraction(1, 4), Fraction(5, 12)]
    # The pushed chord takes the place of bar 1's last eighth and of bar 2's first.
    assert starts[7:9] == [Fraction(11, 12), Fraction(7, 6)]
    assert places(song)[7][1][:-1] == "F"


# Walking, measured over songs in every kind of harmony. The ranges are common practice.

CORPUS = {
    "turnaround": ("4/4", "| Cmaj7 Am7 | Dm7 G7 | Em7 A7 | Dm7 G7 |"),
    "blues": ("4/4", "| E7 | A7 | E7 | % | A7 | % | E7 | C#7 | F#m7 | B7 | E7 C#7 | F#m7 B7 |"),
    "fifths": ("4/4", "| Cm7 | F7 | Bbmaj7 | Ebmaj7 | Am7b5 | D7b9 | Gm | % |"),
    "folk": ("4/4", "| G | C | G | D/F# | Em | Am7 | D7 | G |"),
    "one chord": ("4/4", "| Dm7 | / / / / | / / / / | / / / / |"),
    "half steps": ("4/4", "| C | Db7 | C | B7 | Bb | A7 | Ab | G7 |"),
    "waltz": ("3/4", "| G | Em | Am7 | D7 | G | % | C | D7 |"),
    "six": ("6/8", "| G | Em | Am7 | D7 | G C | G |"),
    "twelve": ("12/8", "| C | E7 | Am | F Fm | C/G | G7 | C F | C G7 |"),
    "five": ("5/4", "| Em / / A / | % | Cmaj7 | Bm7 |"),
    "seven": ("7/8", "| Em | % | Cmaj7 | D |"),
}


@pytest.fixture(scope="module", params=CORPUS)
def walk(request, played):
    """A song walked: its timeline, notes, and notes by chord."""
    meter, bars = CORPUS[request.param]
    head = f"meter: {meter}\ntempo: {{bpm: 240, beat: 1/8}}"
    text = form(bars, "walking", head).replace("form: [tune]", "form: [tune x3]")
    song = played(text)
    notes = song.notes("bass")
    by_span = [
        (span, [note for note in notes if span.start_whole <= note.start_whole < span.end_whole])
        for span in song.timeline.spans
    ]
    return song.timeline, notes, by_span


def test_a_walking_bass_plays_a_note_a_beat_within_its_range(walk):
    timeline, notes, _ = walk
    beats = [bar.start_whole + beat for bar in timeline.bars for beat in bar.meter.beat_starts]
    assert [note.start_whole for note in notes] == beats
    assert all(one.end_whole == other.start_whole for one, other in pairwise(notes))
    assert all(note_number("E1") <= note.pitch <= note_number("G3") for note in notes)


def test_a_walking_bass_starts_each_chord_on_its_bass(walk):
    _, _, by_span = walk
    for span, (first, *_) in by_span:
        assert first.pitch % 12 == span.chord.bass_class


def test_a_walking_bass_comes_to_each_root_by_a_half_or_whole_step(walk):
    _, _, by_span = walk
    for (_, notes), (_, (root, *_)) in pairwise(by_span):
        if len(notes) > 1:
            assert 1 <= abs(root.pitch - notes[-1].pitch) <= 2


def test_a_walking_bass_has_chord_tones_where_the_bar_is_strong(walk):
    timeline, _, by_span = walk
    strong = {
        bar.start_whole + bar.meter.beat_starts[beat]
        for bar in timeline.bars
        for beat in {0, 2 if len(bar.meter.beats) == 4 else 0}
    }
    for span, notes in by_span:
        for note in notes[:-1]:
            if note.start_whole in strong:
                assert note.pitch % 12 in span.chord.pitch_classes


def test_a_walking_bass_moves_mostly_by_step_and_never_repeats_a_note(walk):
    _, notes, _ = walk
    moves = [abs(one.pitch - other.pitch) for one, other in pairwise(notes)]
    assert min(moves) >= 1
    assert max(moves) <= 7
    assert sum(move <= 2 for move in moves) >= 0.5 * len(moves)
    assert sum(move <= 5 for move in moves) >= 0.9 * len(moves)


def test_a_walking_bass_keeps_to_the_scales_of_the_chords_it_joins(walk):
    _, _, by_span = walk
    for span, notes in by_span:
        root = span.chord.root.pitch_class
        scale = {(root + step) % 12 for step in (*own_scale(span.chord.intervals), 10, 11)}
        for note in notes[:-1]:
            assert note.pitch % 12 in scale | span.chord.pitch_classes


E2, C3 = note_number("E2"), note_number("C3")


def test_a_walking_bass_moves_in_its_octave(walk):
    _, notes, by_span = walk
    assert E2 - 2 <= sum(note.pitch for note in notes) / len(notes) <= C3
    assert sum(E2 - 4 <= note.pitch <= C3 + 4 for note in notes) >= 0.9 * len(notes)
    for _, (first, *_) in by_span:
        assert note_number("B1") <= first.pitch <= note_number("F3")


def test_long_walks_have_their_middle_between_e2_and_c3(played):
    walks = [
        played(form(bars, "walking", f"meter: {meter}\ntempo: {{bpm: 240, beat: 1/8}}"))
        for meter, bars in CORPUS.values()
    ]
    pitches = [note.pitch for song in walks for note in song.notes("bass")]
    assert len(pitches) >= 250
    assert E2 <= sum(pitches) / len(pitches) <= C3


def test_a_walking_bass_comes_from_below_and_above_by_the_scale_and_by_half_steps(played):
    approaches = Counter()
    for meter, bars in CORPUS.values():
        head = f"meter: {meter}\ntempo: {{bpm: 240, beat: 1/8}}"
        song = played(form(bars, "walking", head).replace("form: [tune]", "form: [tune x3]"))
        pitches = {note.start_whole: note.pitch for note in song.notes("bass")}
        ends = {note.end_whole: note.pitch for note in song.notes("bass")}
        for before, span in pairwise(song.timeline.spans):
            last, root = ends[span.start_whole], pitches[span.start_whole]
            if last != pitches[before.start_whole]:
                scale = own_scale(before.chord.intervals)
                inside = (last - before.chord.root.pitch_class) % 12 in scale
                approaches["below" if last < root else "above", inside] += 1
    total = approaches.total()
    assert total >= 150
    assert all(approaches[way, True] >= 0.2 * total for way in ("below", "above"))
    assert all(approaches[way, False] >= 0.1 * total for way in ("below", "above"))


@pytest.mark.parametrize(
    ("instrument", "middle"),
    [
        ("instrument: bass", "G#2"),
        ("instrument: five-string bass", "G#2"),
        ("instrument: five-string bass\ntuning: high C", "G#2"),
        ("instrument: bass\ntuning: drop D", "G#2"),
        ("instrument: bass\ntuning: B1 E2 A2 D3", "A#2"),
        ("instrument: bass\ntuning: B0 E1 A1 D2", "D#2"),
    ],
)
def test_a_walks_register_fits_the_bass_that_plays_it(played, instrument, middle):
    song = played(form(CORPUS["fifths"][1], "walking", instrument).replace("[tune]", "[tune x3]"))
    reach = range_of(song.timeline.form.bass_tuning)
    notes = song.notes("bass")
    assert reach.walk_middle == note_number(middle)
    assert all(reach.lowest <= note.pitch <= reach.highest for note in notes)
    mean = sum(note.pitch for note in notes) / len(notes)
    assert abs(mean - note_number(middle)) <= 3


def test_other_lines_stay_low_after_a_walk(played):
    text = """
parts: {click: off, guitar: off}
sections:
  held: {bars: "| C | Am | F | G |"}
  walk: {bars: "| C | Am | F | G |", parts: {bass: {line: walking}}}
form: [held, walk, held]
"""
    notes = played(text).notes("bass")
    pitches = [note.pitch for note in notes]
    assert pitches[:4] == pitches[20:] == [note_number(name) for name in ("C2", "A1", "F1", "G1")]
    assert sum(pitches[4:20]) / 16 >= E2


def test_a_turnaround_that_comes_back_is_walked_in_several_ways(played):
    song = played(form("| C | Am | Dm | G |", "walking").replace("[tune]", "[tune x8]"))
    pitches = [note.pitch for note in song.notes("bass")]
    bars = [tuple(pitches[i : i + 16]) for i in range(0, 112, 16)]
    assert len(set(bars)) >= 4


def test_a_chord_played_again_is_not_walked_the_same_way(played):
    song = played(form("| C | C | C | C |", "walking"))
    bars = [[n.pitch for n in song.notes("bass")[i : i + 4]] for i in (0, 4, 8)]
    assert bars[0] != bars[1]


def test_a_walk_leads_into_a_pushed_chord_where_it_sounds(played):
    song = played(form("| C | F(push) | G |", "walking"))
    notes = song.notes("bass")
    pushed = next(i for i, note in enumerate(notes) if note.start_whole == Fraction(7, 8))
    assert notes[pushed].pitch % 12 == 5
    assert notes[pushed - 1].start_whole == Fraction(3, 4)
    assert 1 <= abs(notes[pushed].pitch - notes[pushed - 1].pitch) <= 2
    assert notes[pushed + 1].start_whole == Fraction(5, 4)


def test_a_walk_with_no_next_chord_ends_on_a_chord_tone(played):
    for bars in ("| C | F | N.C. |", "| C | F |"):
        notes = [n for n in played(form(bars, "walking")).notes("bass") if n.start_whole >= 1]
        assert notes[-1].pitch % 12 in {5, 9, 0}


def test_a_walk_waits_after_marks(played):
    notes = line_of(played(form("| C(ring) | F(stop) | G |", "walking")))
    assert [start for start, _, _ in notes[:2]] == [0, 1]
    assert notes[1][1] == 1 + EIGHTH
    assert notes[2][0] == 2


# What holds of every line.


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    bars=st.lists(
        st.sampled_from(
            [
                *(
                    "4/4 A",
                    "4/4 D(push)",
                    "4/4 E7(stop)",
                    "4/4 F#m7(ring)",
                    "4/4 N.C.",
                    "4/4 G/B D",
                ),
                *("4/4 C(push stop) / / Am", "4/4 A / / N.C.", "2/4 D", "4/4 E D(push) A(stop) E"),
                *("7/8 G(push) / /", "1/16 A(push)", "6/8 Em / C(push) / / /", "5/4 C13 / / F5 /"),
            ]
        ),
        min_size=1,
        max_size=8,
    ),
    line=st.sampled_from(
        [
            *BASS_LINES,
            '{step: 1/8, play: "1 - 3 5 6 - b7 8"}',
            '{step: 1/8t, play: "8 #4 13 - | 5 1 b2"}',
        ]
    ),
    capo=st.sampled_from([0, 5]),
    feel=st.sampled_from(["straight", "swing"]),
)
def test_every_line_is_one_voice_in_range_that_starts_each_chord(played, bars, line, capo, feel):
    head = f"feel: {feel}\ncapo: {capo}"
    text = form("| " + " | ".join(bars) + " |", line, head)
    song = played(text.replace("form: [tune]", "form: [tune x2]"))
    notes = song.notes("bass")
    assert all(note.start_whole < note.end_whole for note in notes)
    assert all(one.end_whole <= other.start_whole for one, other in pairwise(notes))
    assert all(LOWEST <= note.pitch <= HIGHEST for note in notes)
    starts = {note.start_whole: note.pitch for note in notes}
    for span in song.timeline.spans:
        if span.chord is not None:
            assert (starts[span.start_whole] - capo) % 12 == span.chord.bass_class
        else:
            assert not [s for s in starts if span.start_whole <= s < span.end_whole]
