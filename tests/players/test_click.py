"""The click: which beats, how loud, where it waits."""

from __future__ import annotations

from fractions import Fraction

import pytest

from backing.midi.device import for_device

HIGH, LOW = 76, 77  # General MIDI's wood blocks


def form(bars: str, click: str = "{}", head: str = "") -> str:
    return (
        f"{head}\nparts: {{click: {click}, bass: off, guitar: off}}\n"
        f'sections: {{tune: {{bars: "{bars}"}}}}\nform: [tune]\n'
    )


def starts(notes):
    return [note.start_whole for note in notes]


def test_each_beat_clicks_and_the_first_is_accented(played):
    notes = played(form("| A | A |")).notes("click")
    assert starts(notes) == [Fraction(beat, 4) for beat in range(8)]
    assert [note.pitch for note in notes] == [HIGH, LOW, LOW, LOW] * 2
    first, *others = [note.velocity for note in notes[:4]]
    assert all(first > other for other in others)
    assert {note.end_whole - note.start_whole for note in notes} == {Fraction(1, 32)}


@pytest.mark.parametrize(
    ("meter", "beats"),
    [
        ("2/2", [Fraction(0), Fraction(1, 2)]),
        ("3/2", [Fraction(0), Fraction(1, 2), Fraction(1)]),
        ("2/4", [Fraction(0), Fraction(1, 4)]),
        ("3/4", [Fraction(0), Fraction(1, 4), Fraction(1, 2)]),
        ("5/4", [Fraction(0), Fraction(1, 4), Fraction(1, 2), Fraction(3, 4), Fraction(1)]),
        ("3/8", [Fraction(0), Fraction(1, 8), Fraction(1, 4)]),
        ("6/8", [Fraction(0), Fraction(3, 8)]),
        ("9/8", [Fraction(0), Fraction(3, 8), Fraction(3, 4)]),
        ("12/8", [Fraction(0), Fraction(3, 8), Fraction(3, 4), Fraction(9, 8)]),
        ("5/8", [Fraction(0), Fraction(3, 8)]),
        ("7/8", [Fraction(0), Fraction(1, 4), Fraction(1, 2)]),
        ("7/8 (3+2+2)", [Fraction(0), Fraction(3, 8), Fraction(5, 8)]),
    ],
)
def test_the_beats_are_the_meters_own(played, meter, beats):
    head = f"meter: {meter}\ntempo: {{bpm: 90, beat: 1/8}}"
    notes = played(form("| A |", head=head)).notes("click")
    assert starts(notes) == beats
    assert [note.pitch for note in notes] == [HIGH] + [LOW] * (len(beats) - 1)


def test_groups_over_smaller_beats_start_a_little_louder(played):
    loud = [n.velocity for n in played(form("| A |", head="meter: 5/4 (3+2)")).notes("click")]
    assert loud[0] > loud[3] > loud[1] == loud[2] == loud[4]


def test_a_bar_of_another_meter_clicks_its_own_beats(played):
    notes = played(form("| A | 2/4 A | 4/4 A |")).notes("click")
    accents = [note.start_whole for note in notes if note.pitch == HIGH]
    assert accents == [0, 1, Fraction(3, 2)]
    assert len(notes) == 10


@pytest.mark.parametrize(
    ("meter", "subdivide", "offsets"),
    [
        ("2/4", "1/8", [Fraction(0), Fraction(1, 8), Fraction(1, 4), Fraction(3, 8)]),
        (
            "2/4",
            "1/8t",
            [
                Fraction(0),
                Fraction(1, 12),
                Fraction(1, 6),
                Fraction(1, 4),
                Fraction(1, 3),
                Fraction(5, 12),
            ],
        ),
        ("1/4", "1/16", [Fraction(0), Fraction(1, 16), Fraction(1, 8), Fraction(3, 16)]),
        ("6/8", "1/8", [Fraction(i, 8) for i in range(6)]),
        # Triplets start afresh at each group: three in a quarter, five in a dotted one.
        (
            "5/8 (2+3)",
            "1/8t",
            [Fraction(0), Fraction(1, 12), Fraction(1, 6)]
            + [Fraction(1, 4) + Fraction(i, 12) for i in range(5)],
        ),
        ("3/8", "1/8", [Fraction(0), Fraction(1, 8), Fraction(1, 4)]),
    ],
)
def test_subdivisions_start_at_each_beat_and_are_softer(played, meter, subdivide, offsets):
    head = f"meter: {meter}\ntempo: {{bpm: 90, beat: 1/8}}"
    notes = played(form("| A |", f"{{subdivide: {subdivide}}}", head)).notes("click")
    assert starts(notes) == offsets
    plain = starts(played(form("| A |", head=head)).notes("click"))
    on_beat = [note.velocity for note in notes if note.start_whole in plain]
    between = [note.velocity for note in notes if note.start_whole not in plain]
    assert all(soft < min(on_beat) for soft in between)


def test_without_accent_all_beats_are_alike(played):
    notes = played(form("| A |", "{accent: off}")).notes("click")
    assert len({(note.pitch, note.velocity) for note in notes}) == 1
    assert notes[0].pitch == LOW


@pytest.mark.parametrize(
    ("sound", "pitches"),
    [("sticks", {37}), ("claves", {75}), ("cowbell", {56}), ("wood", {76, 77})],
)
def test_the_sounds_are_general_midi_percussion(played, sound, pitches):
    song = played(form("| A |", f"{{sound: {sound}}}"))
    assert {note.pitch for note in song.notes("click")} == pitches
    assert song.score.tracks[0].program is None


def test_plays_counts_from_bar_1_and_never_silences_the_count_in(played):
    song = played(form("| A | A | A | A | A | A |", "{plays: 2 of 4}", "count-in: 3"))
    bars = sorted({note.start_whole // 1 for note in song.notes("click")})
    assert bars == [0, 1, 2, 3, 4, 7, 8]


def test_the_count_in_is_plain_beats_in_the_first_bars_meter(played):
    song = played(form("| A |", "{subdivide: 1/8}", "count-in: 2\nmeter: 3/4"))
    count_in = [note for note in song.notes("click") if note.start_whole < Fraction(3, 2)]
    assert starts(count_in) == [Fraction(beat, 4) for beat in range(6)]
    assert [note.pitch for note in count_in] == [HIGH, LOW, LOW] * 2


def test_the_count_in_sounds_where_the_click_is_off(played):
    song = played(form("| A | A |", "off", "count-in: 1"))
    assert starts(song.notes("click")) == [0, Fraction(1, 4), Fraction(1, 2), Fraction(3, 4)]


def test_off_in_a_section_silences_only_that_section(played):
    song = played(
        """
parts: {bass: off, guitar: off}
sections:
  loud: {bars: "| A |"}
  quiet: {bars: "| A(stop) |", parts: {click: off}}
form: [loud, quiet, loud]
"""
    )
    assert {note.start_whole // 1 for note in song.notes("click")} == {0, 2}


def test_marks_and_rests_dont_affect_the_click(played):
    notes = played(form("| A(stop) | N.C. | A(ring) | A(push) |")).notes("click")
    assert starts(notes) == [Fraction(beat, 4) for beat in range(16)]


def test_volume_changes_the_velocities(played):
    def written(text):
        tracks = for_device(played(text).score).tracks
        return [note.velocity for track in tracks if track.part == "click" for note in track.notes]

    # 113% of 112 and of 84 is 126.56 and 94.92, half of it 63.28 and 47.46.
    assert written(form("| A |")) == [126, 94, 94, 94]
    assert written(form("| A |", "{volume: 50}")) == [63, 47, 47, 47]
    assert written(form("| A |", "{volume: 0}")) == [1, 1, 1, 1]
