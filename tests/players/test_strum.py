"""The strummed guitar: strings, strokes, ringing, patterns."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from backing.players import play
from backing.theory.general_midi import MUTED_GUITAR
from backing.theory.pitch import note_number

EIGHTH = Fraction(1, 8)
SHAPES = """
shapes:
  A: x02220
  D: xx0232
  E: "022100"
  Em: "022000"
  C: x32010
"""
ONCE = '{step: 1/4, play: "D - - -"}'
QUARTERS = '{step: 1/4, play: "D D D D"}'


def form(bars: str, strum: str = QUARTERS, head: str = "") -> str:
    return (
        f"{head}\nparts: {{click: off, bass: off, guitar: {{strum: {strum}}}}}\n"
        f'sections: {{tune: {{bars: "{bars}"}}}}\nform: [tune]\n{SHAPES}'
    )


def starts(song):
    return [start for start, _ in song.strokes()]


def by_string(notes):
    return {note.string: note for note in notes}


def pitches(*names):
    return [note_number(name) for name in names]


# Strokes.


def test_a_downstroke_runs_from_the_low_strings_to_the_high(played):
    ((start, notes),) = played(form("| A |", ONCE)).strokes()
    assert start == 0
    assert [note.string for note in notes] == [5, 4, 3, 2, 1]
    assert [note.pitch for note in notes] == pitches("A2", "E3", "A3", "C#4", "E4")


def test_an_upstroke_runs_back_over_the_upper_four_strings(played):
    song = played(form("| A | C |", '{step: 1/4, play: "D - U -"}'))
    up_a, up_c = song.strokes()[1][1], song.strokes()[3][1]
    assert [note.string for note in up_a] == [1, 2, 3, 4]
    assert [note.pitch for note in up_c] == pitches("E4", "C4", "G3", "E3")


def test_the_upper_strings_are_those_that_sound(played):
    text = form("| G |", '{step: 1/4, play: "U - - -"}').replace("  A: x02220", "  G: 3200xx")
    ((_, notes),) = played(text).strokes()
    assert [note.string for note in notes] == [3, 4, 5]


def test_an_upstroke_leaves_the_bass_string_to_the_downstrokes(played):
    song = played(form("| D | A5 |", '{step: 1/4, play: "D - U -"}', head=""))
    (_, down_d), (_, up_d), (_, down_a), (_, up_a) = song.strokes()
    assert [note.string for note in down_d] == [4, 3, 2, 1]
    assert [note.string for note in up_d] == [1, 2, 3]
    assert [note.string for note in down_a] == [5, 4, 3]
    assert [note.string for note in up_a] == [3, 4]


@pytest.mark.parametrize("tempo", [40, 66, 120, 200])
def test_a_stroke_takes_a_few_milliseconds_a_string_at_any_tempo(played, tempo):
    # Common practice, from memory: 10-20 ms a string, 30-80 ms a stroke.
    song = played(form("| E | E |", head=f"count-in: 1\ntempo: {tempo}")).swept()
    for number, (_, notes) in enumerate(song.strokes()):
        times = [song.seconds(note.start_whole) for note in notes]
        assert len(times) == (4 if number % 4 else 6)
        assert all(
            Fraction(10, 1000) <= late - early <= Fraction(20, 1000)
            for early, late in pairwise(times)
        )
        assert Fraction(30, 1000) <= times[-1] - times[0] <= Fraction(80, 1000)


def test_a_stroke_keeps_to_its_milliseconds_as_the_tempo_changes(played):
    text = """
count-in: 1
parts: {click: off, bass: off}
sections:
  slow: {bars: "| E |", tempo: 60}
  fast: {bars: "| E |", tempo: 180}
form: [slow, fast]
"""
    song = played(text + SHAPES).swept()
    for _, notes in song.strokes():
        times = [song.seconds(note.start_whole) for note in notes]
        assert all(
            Fraction(10, 1000) <= late - early <= Fraction(16, 1000)
            for early, late in pairwise(times)
        )


@pytest.mark.parametrize("slower", [400, 200, 100, 40])
def test_a_stroke_over_a_change_of_tempo_does_not_drag(played, slower):
    """A chord pushed by a swung eighth, 15 ms before the tempo drops."""
    song = played(
        'tempo: {bpm: 500, beat: 1/2}\nfeel: {swing: 3/1}\nsections:\n  fast: {bars: "| E | E |"}\n'
        f'  slow: {{bars: "| G(push) | E |", tempo: {slower}}}\nform: [fast, slow]\n'
    )
    pushed = Fraction(2) - EIGHTH / 2
    notes = [n for n in song.notes("guitar") if pushed <= n.start_whole < 2 + EIGHTH][:6]
    first, *_, last = (song.seconds(note.start_whole) for note in notes)
    assert (notes[0].start_whole, notes[0].pitch) == (pushed, note_number("G2"))
    assert last - first <= 6 * Fraction(16, 1000)


@pytest.mark.parametrize("tempo", [50, 120])
def test_a_louder_stroke_is_quicker(played, tempo):
    # Softer strokes take longer: Câmara et al., Empirical Musicology Review (2024).
    song = played(form("| E |", '{step: 1/4, play: "D> D U> U"}', f"tempo: {tempo}")).swept()
    took = []
    for _, notes in song.strokes():
        times = [song.seconds(note.start_whole) for note in notes]
        took.append((times[-1] - times[0]) / (len(times) - 1))
    accented, plain, accented_up, plain_up = took
    assert accented < plain < plain_up
    assert accented_up < plain_up


@pytest.mark.parametrize("tempo", [300, 400, 500])
def test_a_stroke_takes_at_most_a_third_of_a_step(played, tempo):
    song = played(form("| E | E |", '{step: 1/16, play: "D - D x"}', f"tempo: {tempo}")).swept()
    notes = song.notes("guitar")
    weak, up = [4, 3, 2, 1], [1, 2, 3, 4]
    strokes = [[6, 5, *weak], weak, up, *3 * [weak, weak, up]]
    assert [note.string for note in notes] == 2 * [string for one in strokes for string in one]
    for _ in range(2):
        for strings in strokes:
            first, *_, last = notes[: len(strings)]
            assert last.start_whole - first.start_whole <= Fraction(1, 48)
            notes = notes[len(strings) :]
    assert all(note.start_whole < note.end_whole for note in song.notes("guitar"))


def test_accents_are_louder_and_upstrokes_and_damped_ones_softer(played):
    """A damped stroke sounds on another program, and is softer there at the same velocity."""
    song = played(form("| A |", '{step: 1/4, play: "D> D U x"}'))
    accented, down, up, damped = [notes[0].velocity for _, notes in song.strokes()]
    assert accented > down > up > damped
    song = played(form("| A |", '{step: 1/4, play: "U> U x> x"}'))
    velocities = [notes[0].velocity for _, notes in song.strokes()]
    assert velocities[0] > velocities[1] > velocities[3]
    assert velocities[2] > velocities[3]


def test_a_bars_first_downstroke_leans_on_the_bass_and_the_others_have_the_upper_strings(played):
    song = played(form("| E | E |", '{step: 1/4, play: "D> D U x"}'))
    strokes = [notes for _, notes in song.strokes()]
    assert [len(notes) for notes in strokes] == 2 * [6, 4, 4, 4]
    for first, down, up, damped in (strokes[:4], strokes[4:]):
        for notes in (first, up, damped):
            velocities = [note.velocity for note in notes]
            assert velocities == sorted(velocities, reverse=True)
            assert len(set(velocities)) == len(velocities)
        assert first[0].string == 6
        assert [note.string for note in down] == [4, 3, 2, 1]
        assert len({note.velocity for note in down}) == 1


def test_a_chords_first_downstroke_in_a_bar_is_a_full_one(played):
    song = played(form("| E C | E(push) | / |", '{step: 1/4, play: "U D D D | - U D - | - - - D"}'))
    full = [
        start
        for start, notes in song.strokes()
        if notes[0].string > notes[-1].string and len(notes) > 4
    ]
    assert full == [
        Fraction(1, 4), Fraction(1, 2),  # E and C of bar 1
        Fraction(7, 8), Fraction(3, 2), Fraction(11, 4),  # the push, and each bar's first
    ]  # fmt: skip


def test_strokes_on_a_beat_are_louder(played):
    song = played(form("| A |", '{step: 1/8, play: "D D U U x x - -"}'))
    velocities = [notes[0].velocity for _, notes in song.strokes()]
    for on_beat, between in zip(velocities[::2], velocities[1::2], strict=True):
        assert on_beat > between


@pytest.mark.parametrize(
    ("meter", "step", "tokens", "upward"),
    [
        ("4/4", "1/4", 4, []),
        ("4/4", "1/8", 8, [1, 3, 5, 7]),
        ("4/4", "1/8t", 12, [1, 4, 7, 10]),
        ("4/4", "1/16", 16, [1, 3, 5, 7, 9, 11, 13, 15]),
        ("6/8", "1/8", 6, [1, 4]),
        ("7/8", "1/8", 7, [1, 3, 5]),
    ],
)
def test_damped_strokes_go_as_the_arm_goes(played, meter, step, tokens, upward):
    play_ = " ".join("x" * tokens)
    tempo = "tempo: {bpm: 40, beat: 1/4}"
    strokes = played(
        form("| E |", f'{{step: {step}, play: "{play_}"}}', f"meter: {meter}\n{tempo}")
    ).strokes()
    assert len(strokes) == tokens
    assert [index for index, (_, notes) in enumerate(strokes) if notes[0].string == 1] == upward


def test_a_damped_stroke_is_short_and_stills_every_string(played):
    song = played(form("| A D |", '{step: 1/4, play: "D x - x"}'))
    _, (_, damped), (_, damped_later) = song.strokes()
    assert [note.string for note in damped] == [5, 4, 3, 2]
    assert [note.string for note in damped_later] == [4, 3, 2, 1]
    for note in damped:
        length_s = song.seconds(note.end_whole) - song.seconds(note.start_whole)
        assert Fraction(80, 1000) <= length_s <= Fraction(100, 1000)
        assert 56 <= note.velocity <= 66
    for note in song.strokes()[0][1]:
        assert note.end_whole == Fraction(1, 4)


def test_damped_strokes_sound_on_the_muted_guitar_as_loud_and_where_the_part_is(played):
    text = (
        form("| A | A |", '{step: 1/4, play: "D x D x"}')
        .replace("guitar: {", "guitar: {sound: nylon, volume: 70, pan: -20, ")
        .replace(
            "form: [tune]",
            "form: [tune, {section: tune, parts: {guitar: {sound: clean, volume: 50, pan: 9}}}]",
        )
    )
    ringing, muted = played(text).score.tracks
    assert (ringing.name, muted.name) == ("Guitar", "Guitar muted")
    assert (ringing.program, muted.program) == (24, MUTED_GUITAR)
    assert (muted.volume, muted.pan) == (ringing.volume, ringing.pan) == (70, -20)
    assert [change.what for change in ringing.changes] == ["program", "volume", "pan"]
    assert muted.changes == ringing.changes[1:]
    quarters = [(note.start_whole % 1) // Fraction(1, 4) for note in muted.notes]
    assert quarters == 4 * (4 * [1] + 4 * [3])


def test_a_guitar_that_is_only_damped_keeps_its_own_track(played):
    text = form("| A |", '{step: 1/4, play: "x x x x"}')
    ringing, muted = played(text).score.tracks
    assert (ringing.name, ringing.notes, muted.name) == ("Guitar", (), "Guitar muted")


# Ringing.


def test_a_string_rings_until_it_is_struck_again(played):
    song = played(form("| E |", '{step: 1/4, play: "D - U -"}'))
    (_, down), (_, up) = song.strokes()
    down, up = by_string(down), by_string(up)
    for string in (1, 2, 3, 4):
        assert down[string].end_whole == up[string].start_whole
    for string in (5, 6):
        assert down[string].end_whole == 1
    assert {note.end_whole for note in up.values()} == {1}


def test_a_new_chord_ends_the_strings_it_changes_and_leaves_the_others(played):
    late = '{step: 1/4, play: "D - - - | - - D -"}'
    song = played(form("| E | Em |", late))
    (_, first), (struck, second) = song.strokes()
    assert struck == Fraction(3, 2)
    first, second = by_string(first), by_string(second)
    assert first[3].end_whole == 1
    assert all(first[string].end_whole == second[string].start_whole for string in (1, 2, 4, 5, 6))


def test_a_string_that_the_new_chord_mutes_ends(played):
    song = played(form("| E | C |", '{step: 1/4, play: "D - - - | - - D -"}'))
    first = by_string(song.strokes()[0][1])
    assert first[6].end_whole == 1
    assert first[1].end_whole == Fraction(3, 2)  # the open E is in both


def test_the_song_ends_at_its_last_bar_line_or_rings_on_where_marked(played):
    assert {note.end_whole for note in played(form("| A |", ONCE)).notes("guitar")} == {1}
    ringing = played(form("| A(ring) |", ONCE))
    assert ringing.timeline.ring_out_whole > 0
    assert {note.end_whole for note in ringing.notes("guitar")} == {
        1 + ringing.timeline.ring_out_whole
    }


# Marks.


def test_a_stop_is_struck_short_and_silence_follows_to_the_next_chord(played):
    song = played(form("| A(stop) | / / / / | D |"))
    assert starts(song) == [0, 2, Fraction(9, 4), Fraction(5, 2), Fraction(11, 4)]
    assert {note.end_whole for note in song.strokes()[0][1]} == {EIGHTH}


def test_a_ring_is_struck_once_and_held_to_the_next_chord(played):
    song = played(form("| A(ring) | / / / / | D |"))
    assert starts(song) == [0, 2, Fraction(9, 4), Fraction(5, 2), Fraction(11, 4)]
    (_, ringing), (_, after) = song.strokes()[:2]
    assert {note.string: note.end_whole for note in ringing} == {
        5: 2,  # muted in D
        4: 2,
        3: by_string(after)[3].start_whole,  # A is in both, at the second fret
        2: 2,
        1: 2,
    }


def test_a_push_is_struck_an_eighth_early_and_tied_over_its_beat(played):
    song = played(form("| A D(push) | E |"))
    assert starts(song) == [
        0,
        Fraction(1, 4),
        Fraction(3, 8),
        Fraction(3, 4),
        1,
        Fraction(5, 4),
        Fraction(3, 2),
        Fraction(7, 4),
    ]
    assert [note.string for note in song.strokes()[2][1]] == [4, 3, 2, 1]


def test_a_push_over_the_bar_line_takes_the_place_of_the_strokes_it_covers(played):
    sixteenths = '{step: 1/16, play: "D U D U D U D U D U D U D U D U"}'
    song = played(form("| A | D(push) |", sixteenths, "tempo: 60"))
    around = [start for start in starts(song) if Fraction(3, 4) < start < Fraction(5, 4)]
    assert around == [
        Fraction(13, 16),
        Fraction(14, 16),
        Fraction(17, 16),
        Fraction(18, 16),
        Fraction(19, 16),
    ]
    pushed = dict(song.strokes())[Fraction(7, 8)]
    assert [note.pitch for note in pushed] == pitches("D3", "A3", "D4", "F#4")
    # A ends where D comes in: no string of it sounds into the new chord.
    assert all(
        note.end_whole <= Fraction(7, 8) + Fraction(1, 32)
        for note in song.notes("guitar")
        if note.start_whole < Fraction(7, 8)
    )


def test_a_push_at_the_first_bar_falls_on_the_bar_line(played):
    assert starts(played(form("| A(push) |", head="count-in: 1"))) == [
        1,
        Fraction(5, 4),
        Fraction(3, 2),
        Fraction(7, 4),
    ]


def test_a_pushed_stop_is_short_from_where_it_sounds(played):
    song = played(form("| A | D(push stop) | A |"))
    start, notes = song.strokes()[4]
    assert start == Fraction(7, 8)
    assert {note.end_whole for note in notes} == {1}
    assert starts(song)[5] == 2


def test_no_chord_is_rest(played):
    song = played(form("| A | N.C. | / / / / | D |"))
    assert [start for start in starts(song) if 1 <= start < 3] == []
    assert max(note.end_whole for note in song.notes("guitar") if note.start_whole < 1) == 1


def test_a_section_without_guitar_is_silent_from_its_start(played):
    text = """
parts: {click: off, bass: off}
sections:
  loud: {bars: "| A(ring) |"}
  quiet: {bars: "| A | D |", parts: {guitar: off}}
form: [loud, quiet, loud]
"""
    song = played(text + SHAPES)
    assert starts(song) == [0, 3]
    assert {note.end_whole for note in song.strokes()[0][1]} == {1}


def test_a_pushed_chord_plays_with_the_parts_of_its_own_section(played):
    text = """
parts: {click: off, bass: off, guitar: {strum: {step: 1/4, play: "D D D D"}}}
sections:
  loud: {bars: "| A(push) |"}
  quiet: {bars: "| D(push) |", parts: {guitar: off}}
form: [loud, quiet, loud]
"""
    song = played(text + SHAPES)
    quarters = [Fraction(1, 4), Fraction(1, 2), Fraction(3, 4)]
    assert starts(song) == [0, *quarters, Fraction(15, 8), *(2 + quarter for quarter in quarters)]
    assert max(note.end_whole for note in song.notes("guitar") if note.start_whole < 1) == Fraction(
        7, 8
    )


# Patterns.


def test_a_shorter_bar_plays_the_patterns_beginning_and_a_longer_one_repeats_it(played):
    song = played(form("| A | 2/4 A | 5/4 A |", '{step: 1/4, play: "D - U U"}'))
    assert starts(song) == [
        *(Fraction(0), Fraction(1, 2), Fraction(3, 4)),
        *(Fraction(1),),
        *(Fraction(3, 2), Fraction(2), Fraction(9, 4), Fraction(5, 2)),
    ]


def test_each_bar_takes_the_patterns_next_bar(played):
    song = played(form("| A | A | A |", '{step: 1/4, play: "D - - - | - D - D"}'))
    assert starts(song) == [0, Fraction(5, 4), Fraction(7, 4), 2]


def test_one_line_as_long_as_several_bars_is_those_bars(played):
    song = played(form("| A | A | A |", '{step: 1/4, play: "D - - - - D - D"}'))
    assert starts(song) == [0, Fraction(5, 4), Fraction(7, 4), 2]


def test_one_line_is_cut_at_the_bars_even_where_no_step_begins(played):
    song = played(form("| A | A |", '{step: 1/4, play: "D D D"}', "meter: 3/8"))
    assert starts(song) == [0, Fraction(1, 4), Fraction(1, 2)]


def test_a_line_that_is_not_a_whole_number_of_bars_starts_again_in_each_bar(played):
    song = played(form("| A | A |", '{step: 1/4, play: "D - D D - D"}'))
    assert starts(song) == [0, Fraction(1, 2), Fraction(3, 4), 1, Fraction(3, 2), Fraction(7, 4)]


def test_a_line_is_measured_by_the_sections_own_meter(played):
    text = """
meter: 4/4
parts: {click: off, bass: off, guitar: {strum: {step: 1/4, play: "D - - - D D"}}}
sections: {waltz: {meter: 3/4, bars: "| A | A | A |"}}
form: [waltz]
"""
    assert starts(played(text + SHAPES)) == [0, 1, Fraction(5, 4), Fraction(3, 2)]


def test_a_pattern_starts_again_with_each_pass(played):
    text = """
strums: {two: {step: 1/4, play: "D - - - | D D D D"}}
parts: {click: off, bass: off, guitar: {strum: two}}
sections: {tune: {bars: "| A | A | A |"}}
form: [tune x2]
"""
    bars = [start // 1 for start in starts(played(text + SHAPES))]
    assert [bars.count(bar) for bar in range(6)] == [1, 4, 1, 1, 4, 1]


def test_a_section_may_have_another_strum(played):
    text = """
strums: {quarters: {step: 1/4, play: "D D D D"}}
parts: {click: off, bass: off, guitar: {strum: quarters}}
sections:
  tune: {bars: "| A |"}
  triplets: {bars: "| A |", parts: {guitar: {strum: {step: 1/8t, play: "D U D D U D D U D D U D"}}}}
form: [tune, triplets]
"""
    song = played(text + SHAPES)
    assert starts(song) == [Fraction(i, 4) for i in range(4)] + [
        1 + Fraction(i, 12) for i in range(12)
    ]


@pytest.mark.parametrize(
    "meter",
    [
        *("2/2", "3/2", "1/4", "2/4", "3/4", "4/4", "5/4", "5/4 (3+2)", "6/4"),
        *("3/8", "5/8", "6/8", "7/8", "7/8 (3+2+2)", "8/8 (3+3+2)", "9/8", "12/8"),
        *("4/16", "6/16"),
    ],
)
def test_the_plain_strum_strikes_down_on_every_beat_of_any_meter(played, meter):
    text = f"""
meter: {meter}
tempo: {{bpm: 80, beat: 1/8}}
parts: {{click: off, bass: off}}
sections: {{tune: {{bars: "| E | E |"}}}}
form: [tune]
"""
    song = played(text + SHAPES)
    strokes = song.strokes()
    bar = song.timeline.bars[0].meter
    downs = [start for start, notes in strokes if notes[0].string > notes[-1].string]
    beats = [again + start for again in (0, bar.bar_whole) for start in bar.beat_starts]
    if meter != "3/8":  # felt in one
        assert downs == beats
    ups = [start for start, notes in strokes if notes[0].string == 1]
    assert len(ups) >= 2
    assert len(ups) + len(downs) == len(strokes)
    loudest = max(strokes, key=lambda stroke: stroke[1][0].velocity)
    assert loudest[0] == 0


def test_three_eighths_are_felt_in_one(played):
    text = """
meter: 3/8
parts: {click: off, bass: off}
sections: {tune: {bars: "| E |"}}
form: [tune]
"""
    assert starts(played(text + SHAPES)) == [0, Fraction(1, 4)]


# Chords.


def test_the_capo_raises_every_string_equally(played):
    open_position = played(form("| A | Em |", ONCE)).notes("guitar")
    raised = played(form("| A | Em |", ONCE, "capo: 3")).notes("guitar")
    assert [note.pitch + 3 for note in open_position] == [note.pitch for note in raised]
    assert [note.string for note in open_position] == [note.string for note in raised]


def test_the_writers_shape_comes_before_the_built_in_one(played):
    text = form("| A |", ONCE).replace("A: x02220", "A: 577655")
    assert [note.pitch for note in played(text).notes("guitar")] == pitches(
        "A2", "E3", "A3", "C#4", "E4", "A4"
    )


def test_a_shape_sounds_in_the_given_tuning(played):
    timeline = played(form("| D |", ONCE).replace("D: xx0232", 'D: "000232"')).timeline
    low_d = timeline.form._replace(tuning=tuple(pitches("D2", "A2", "D3", "G3", "B3", "E4")))
    (track,) = play(timeline._replace(form=low_d)).tracks
    assert [note.pitch for note in track.notes] == pitches("D2", "A2", "D3", "A3", "D4", "F#4")


def test_a_chord_without_a_shape_sounds_its_own_tones(played):
    for symbol in ("F#m7", "Bb", "G7", "Cmaj7", "Dsus4", "Ab", "C#m", "B7"):
        song = played(form(f"| {symbol} |", ONCE))
        chord = song.timeline.spans[0].chord
        sounding = {note.pitch % 12 for note in song.notes("guitar")}
        assert sounding <= chord.pitch_classes
        assert len(sounding) >= min(3, len(chord.pitch_classes))
