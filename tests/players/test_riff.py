"""Riffs: exact from the tab, slurs, and what bends do, in the score and back from the file."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction
from io import BytesIO
from itertools import pairwise

import mido
import pytest
from soundness import check_sound, placed

from backing.midi.part_events import BEND_RANGE
from backing.midi.writer import TICKS_PER_QUARTER, to_bytes
from backing.players.riff import SHAKE_CENTS
from backing.theory.general_midi import MUTED_GUITAR
from backing.theory.pitch import note_number

EIGHTH = Fraction(1, 8)
OPEN = {string: note_number(name) for string, name in enumerate("E4 B3 G3 D3 A2 E2".split(), 1)}
RIFF = """\
      e|----0---|--------|
      B|--2---2-|2h3---0-|
      G|----2---|----1---|
      D|--2-----|2-------|
      A|0-------|--------|
      E|--------|----0---|
"""


def tab(**rows: str) -> str:
    """Tab of the rows that have something, e B G D A E."""
    width = len(next(iter(rows.values())))
    return "".join(f"      {name}|{rows.get(name, '-' * width)}|\n" for name in "eBGDAE")


def form(
    tab: str = RIFF, bars: str = "| A | A |", step: str = "1/8", head: str = "", part: str = "lead"
) -> str:
    guitar = "guitar: off, " if part == "lead" else ""
    return (
        f"{head}\nriffs:\n  weir:\n    step: {step}\n    tab: |\n{tab}"
        f"parts: {{click: off, bass: off, {guitar}{part}: {{riff: weir}}}}\n"
        f'sections: {{tune: {{bars: "{bars}"}}}}\nform: [tune]\n'
    )


def events(song, part="lead"):
    """(place in eighths, string, fret without a capo) of each note."""
    notes = sorted(song.notes(part), key=lambda note: (note.start_whole, -note.string))
    return [
        (note.start_whole / EIGHTH, note.string, note.pitch - OPEN[note.string]) for note in notes
    ]


def bends_of(song, part="lead"):
    """A part's bends, over all its tracks, in order."""
    return sorted(bend for track in song.score.tracks if track.part == part for bend in track.bends)


def sounding(song, place):
    """By track of a file read back: what sounds at a place, low to high, in exact semitones."""
    data = to_bytes(song.score)
    assert check_sound(data) == []
    tick = place * 4 * TICKS_PER_QUARTER
    found = {}
    for track in placed(mido.MidiFile(file=BytesIO(data)))[2:]:
        wheel, on = 0, set()
        for _, at, message in track:
            if at > tick:
                break
            if message.type == "pitchwheel":
                wheel = message.pitch
            elif message.type == "note_on":
                on.add(message.note)
            elif message.type == "note_off":
                on.discard(message.note)
        found[track[0].message.name] = [pitch + wheel * BEND_RANGE / 8192 for pitch in sorted(on)]
    return found


# As written.


def test_every_note_at_its_cell_on_its_string_at_its_fret(played):
    assert events(played(form())) == [
        *((0, 5, 0), (2, 4, 2), (2, 2, 2), (4, 3, 2), (4, 1, 0), (6, 2, 2)),
        *((8, 4, 2), (8, 2, 2), (10, 2, 3), (12, 6, 0), (12, 3, 1), (14, 2, 0)),
    ]


def test_the_guitar_plays_it_too(played):
    assert events(played(form(part="guitar")), "guitar") == events(played(form()))


def test_frets_count_from_the_capo_and_transpose_adds_frets(played):
    song = played(form(head="capo: 2").replace("[tune]", "[{section: tune, transpose: 3}]"))
    assert [(at, string, fret - 5) for at, string, fret in events(song)] == events(played(form()))


def test_the_tuning_is_taken_from_the_form(played):
    text = form(tab(E="0-------"), "| D |", head="tuning: D2 A2 D3 G3 B3 E4")
    song = played(text.replace("      E|", "      D|"))
    assert [note.pitch for note in song.notes("lead")] == [note_number("D2")]


def test_triplet_cells_are_exact_under_swing_too(played):
    for head in ("", "feel: swing", "feel: {swing: 3/1, on: 1/16}"):
        song = played(form(tab(e="0-0-0-0-0-0-", B="-0-0-0-0-0-0"), "| A |", "1/8t", head))
        assert [note.start_whole for note in song.notes("lead")] == [
            Fraction(cell, 12) for cell in range(12)
        ]


def test_eighths_swing(played):
    song = played(form(tab(e="0-0-0-0-", B="-0-0-0-0"), "| A |", head="feel: swing"))
    assert [note.start_whole * 12 for note in song.notes("lead")] == [0, 2, 3, 5, 6, 8, 9, 11]


def test_a_bar_may_have_its_own_step(played):
    text = tab(e="1/4t: 0-0-0-", B="      -0-0-0").replace("-" * 12, "------")
    song = played(form(text, "| A |"))
    assert [note.start_whole for note in song.notes("lead")] == [Fraction(i, 6) for i in range(6)]


def test_a_riff_repeats_through_its_pass_and_starts_again_with_each(played):
    song = played(form(bars="| A | A | A |").replace("[tune]", "[tune x2]"))
    by_bar = [[] for _ in range(6)]
    for at, string, fret in events(song):
        by_bar[int(at // 8)].append((at % 8, string, fret))
    first, second = by_bar[:2]
    assert by_bar == [first, second, first, first, second, first]


def test_bars_of_a_section_cut_the_riff(played):
    song = played(form(bars="| A | A | A |").replace("[tune]", "[tune bars 2-2]"))
    assert events(song) == [(at - 8, *rest) for at, *rest in events(played(form())) if at >= 8]


def test_a_push_a_ring_and_no_chord_dont_affect_a_riff(played):
    plain = played(form()).notes("lead")
    for bars in ("| A(ring) | / |", "| A(push ring) | N.C. |", "| N.C. | A / D(push) / |"):
        for part in ("lead", "guitar"):
            assert played(form(bars=bars, part=part)).notes(part) == plain


STEADY = tab(e="0-0-0-0-", A="0-------")


def lengths(song, part="lead"):
    """(start, end) of each note in eighths, in order."""
    return sorted((note.start_whole / EIGHTH, note.end_whole / EIGHTH) for note in song.notes(part))


def test_a_stop_cuts_short_what_sounds_and_is_silent_until_the_next_chord(played):
    for part in ("lead", "guitar"):
        song = played(form(STEADY, "| A(stop) / D / |", part=part))
        assert lengths(song, part) == [(0, 1), (0, 1), (4, 6), (6, 8)]
        song = played(form(STEADY, "| A / D(stop) / |", part=part))
        assert lengths(song, part) == [(0, 2), (0, 5), (2, 4), (4, 5)]


def test_a_stop_lasts_over_bar_lines_and_ends_with_its_pass(played):
    song = played(form(STEADY, "| A(stop) | / | D |").replace("[tune]", "[tune x2]"))
    once = [0, 0, 16, 16, 18, 20, 22]
    assert [start for start, _ in lengths(song)] == [*once, *(24 + at for at in once)]
    song = played(form(STEADY, "| A / D(stop) / |").replace("[tune]", "[tune x2]"))
    assert [start for start, _ in lengths(song)] == [0, 0, 2, 4, 8, 8, 10, 12]


def test_a_push_leaves_the_place_of_a_stop_and_of_the_next_chord_alone(played):
    for bars in ("| A / D(push stop) / |", "| A / D(stop) / | E(push) |"):
        kept = [(0, 2), (0, 5), (2, 4), (4, 5)]
        assert lengths(played(form(STEADY, bars)))[:4] == kept
    song = played(form(STEADY, "| A / D(stop) / | E(push) |"))
    assert [start for start, _ in lengths(song)][4:] == [8, 8, 10, 12, 14]


def test_no_chord_ends_a_stop(played):
    song = played(form(STEADY, "| A(stop) / N.C. / |"))
    assert [start for start, _ in lengths(song)] == [0, 0, 4, 6]


def test_a_stop_shorter_than_an_eighth_ends_with_it(played):
    song = played(form(STEADY, "| 2/8 A(stop) D |", step="1/32"))
    assert lengths(song)[:2] == [(0, 1), (0, 1)]


def test_a_riff_may_play_through_a_stop(played):
    text = form(STEADY, "| A(stop) / D / |").replace("step:", "plays-through: on\n    step:")
    assert lengths(played(text)) == lengths(played(form(STEADY, "| A / D / |")))


def test_a_slur_that_leads_out_of_a_silence_is_picked(played):
    riff = tab(B="2h3p2h3-")
    song = played(form(riff, "| A(stop) / D / |"))
    first, second, third = song.notes("lead")
    assert second.start_whole == 4 * EIGHTH
    assert first.velocity == second.velocity > third.velocity


def test_a_note_rings_to_its_strings_next_event_or_the_end_of_its_pass(played):
    text = form(tab(e="0---3-x-", A="0-------", E="---0----"), "| A | A |")
    song = played(text.replace("[tune]", "[tune, {section: tune, bars: 1-1}]"))
    ends = defaultdict(list)
    for note in song.notes("lead"):
        ends[note.string].append((note.start_whole / EIGHTH, note.end_whole / EIGHTH))
    assert ends[5] == [(0, 8), (8, 16), (16, 24)]
    assert ends[6] == [(3, 11), (11, 16), (19, 24)]  # through the riff's end, not the pass's
    assert [end for _, end in ends[1][:2]] == [4, 6]


def test_a_pickup_has_no_riff(played):
    song = played(form(head='count-in: 1\npickup: "| N.C. / / A |"'))
    assert min(note.start_whole for note in song.notes("lead")) == 1


# Slurs.


def test_a_hammered_or_pulled_note_is_softer_and_starts_where_the_one_before_ends(played):
    # Three fifths to nine tenths of a picked note's velocity (from memory).
    song = played(form(tab(B="2h3-3p2-"), "| A |"))
    first, hammered, picked, pulled = song.notes("lead")
    for before, after in ((first, hammered), (picked, pulled)):
        assert before.end_whole == after.start_whole
        assert 0.6 <= after.velocity / before.velocity <= 0.9
    assert (hammered.start_whole, pulled.start_whole) == (2 * EIGHTH, 6 * EIGHTH)
    assert first.velocity == picked.velocity


def test_a_slur_from_a_note_that_was_not_played_is_picked(played):
    text = "".join(
        f"      {name}|{'2------h|3-------' if name == 'B' else '--------|2-------'}|\n"
        for name in "eBGDAE"
    )
    whole = played(form(text)).notes("lead")
    velocity = {(note.start_whole, note.string): note.velocity for note in whole}
    assert velocity[1, 2] < velocity[1, 1]
    cut = played(form(text).replace("[tune]", "[tune bars 2-2]")).notes("lead")
    assert len({note.velocity for note in cut}) == 1


def test_damped_cells_are_short_and_soft(played):
    song = played(form(tab(B="2-x-x---"), "| A |"))
    note, *damped = song.notes("lead")
    assert note.end_whole == 2 * EIGHTH
    for one in damped:
        length = song.seconds(one.end_whole) - song.seconds(one.start_whole)
        assert Fraction(80, 1000) <= length <= Fraction(100, 1000)
        assert one.velocity < note.velocity


def test_damped_and_palm_muted_notes_sound_on_the_muted_guitar(played):
    """A note that is muted and bent stays with the bent ones."""
    song = played(form(tab(B="2-x-2---", A="0---0-7b") + "      PM|----====|\n", "| A |"))
    assert {track.name: track.program for track in song.score.tracks} == {
        "Lead": 25, "Lead bends": 25, "Lead muted": MUTED_GUITAR,
    }  # fmt: skip
    places = {
        track.name: [(note.start_whole / EIGHTH, note.string) for note in track.notes]
        for track in song.score.tracks
    }
    assert places == {
        "Lead": [(0, 5), (0, 2)],
        "Lead bends": [(6, 5)],
        "Lead muted": [(2, 2), (4, 5), (4, 2)],
    }


# Signs on single notes.


def test_a_rest_silences_its_string_alone(played):
    song = played(form(tab(B="2---r-5-", G="2-------"), "| A |"))
    assert lengths(song) == [(0, 4), (0, 8), (6, 8)]


def test_natural_harmonics_sound_their_partial(played):
    song = played(form(tab(B="<12><7>-", E="<5>-<4>-"), "| A |", head="capo: 2"))
    assert events(song) == [
        (0, 6, 24 + 2), (0, 2, 12 + 2), (4, 6, 28 + 2), (4, 2, 19 + 2),
    ]  # fmt: skip


def test_a_ghost_note_is_half_as_loud(played):
    first, ghost, second = played(form(tab(B="2-(2)-2-"), "| A |")).notes("lead")
    assert (first.pitch, first.velocity) == (ghost.pitch, second.velocity)
    assert 0.45 <= ghost.velocity / first.velocity <= 0.55


def test_a_short_note_sounds_half_as_long_as_it_is_to_the_next_one(played):
    song = played(form(tab(B="5.------", G="----5-5."), "| A |"))
    assert lengths(song) == [(0, 2), (4, 6), (6, 7)]
    swung = played(form(tab(B="5.----5.", G="-5------"), "| A |", head="feel: swing"))
    assert lengths(swung)[0] == (0, Fraction(2, 3))


def test_the_palm_mutes_what_is_struck_under_it(played):
    text = form(tab(B="2-2---5-", G="2-------") + "      PM|==----=-|\n", "| A |")
    half = Fraction(1, 2)
    assert lengths(played(text)) == [(0, half), (0, half), (2, 6), (6, 6 + half)]


def test_letters_of_the_right_hand_change_no_sound(played):
    plain = tab(B="2-2---5-", G="2-------")
    lettered = "      RH|p-m---a-|\n" + plain + "      RH|i-------|\n"
    assert played(form(lettered, "| A |")).notes("lead") == played(form(plain, "| A |")).notes(
        "lead"
    )


def test_a_rolled_chord_runs_from_the_low_string_to_the_high_one(played):
    chords = tab(e="0-------", B="2-----5-", G="2-----5-", A="0-------", E="2h3-----")
    text = form(chords, "| A |").replace("step:", "chords: rolled\n    step:")
    apart = Fraction(1, 96) / EIGHTH
    strings = sorted((note.start_whole, note.string) for note in played(text).notes("lead"))
    assert [string for _, string in strings] == [6, 5, 3, 2, 1, 6, 3, 2]
    starts = [start / EIGHTH for start, _ in strings]
    assert starts == [0, apart, 2 * apart, 3 * apart, 4 * apart, 2, 6, 6 + apart]


def test_a_rolled_chord_takes_half_of_a_short_time_at_most(played):
    chords = tab(e="0-0-----", B="2-------", G="2-------", A="0-------")
    text = form(chords, "| A |", "1/32").replace("step:", "chords: rolled\n    step:")
    text = text.replace('"| A |"', '"| 1/4 A |"')
    starts = [note.start_whole for note in played(text).notes("lead")]
    assert starts == [Fraction(at, 128) for at in (0, 1, 2, 3, 8)]


# Bends.


def test_a_bend_rises_a_whole_tone_and_stays_to_the_notes_end(played):
    song = played(form(tab(B="7b------"), "| A |"))
    high = note_number("B3") + 7
    assert sounding(song, Fraction(0))["Lead bends"] == pytest.approx([high], abs=0.2)
    for place in (Fraction(1, 8), Fraction(1, 2), Fraction(99, 100)):
        assert sounding(song, place)["Lead bends"] == pytest.approx([high + 2], abs=0.003)
    rising = [bend for bend in song.score.tracks[1].bends if bend.start_whole < EIGHTH]
    took = song.seconds(rising[-1].start_whole)
    # A quarter of a second at the most, a twentieth at the least (from memory).
    assert Fraction(1, 20) <= took <= Fraction(1, 4)
    levels = [bend.semitones for bend in rising]
    assert levels == sorted(levels)


def test_a_slide_glides_into_its_target_which_then_sounds_at_its_own_cell(played):
    song = played(form(tab(B="2---/7--", A="0-------"), "| A |"))
    low = note_number("B3") + 2
    (slides,) = [track for track in song.score.tracks if track.bends]
    (left,) = slides.notes
    assert (left.start_whole, left.end_whole) == (0, 5 * EIGHTH)
    assert sounding(song, Fraction(1, 2)) == {"Lead": [45], "Lead bends": [low]}
    just_before = sounding(song, 5 * EIGHTH - Fraction(1, 500))
    assert just_before["Lead bends"] == pytest.approx([low + 5], abs=0.003)
    assert just_before["Lead"] == [45]  # another string is not bent
    assert sounding(song, 5 * EIGHTH)["Lead"] == [45, low + 5]
    target = next(note for note in song.notes("lead") if note.pitch == low + 5)
    assert 0.6 <= target.velocity / left.velocity <= 0.9
    gliding = [bend.start_whole for bend in slides.bends if 0 < bend.semitones < 5]
    took = song.seconds(left.end_whole) - song.seconds(gliding[0])
    assert Fraction(1, 20) <= took <= Fraction(1, 5)


def test_a_slide_goes_down_and_along_the_whole_neck(played):
    song = played(form(tab(E="24----\\0"), "| A |"))
    level = {bend.semitones for bend in bends_of(song)}
    assert (min(level), max(level)) == (-24, 0)
    assert check_sound(to_bytes(song.score)) == []


@pytest.mark.parametrize("tempo", [60, 120])
def test_a_shake_is_five_to_six_hertz_and_thirty_cents_wide(played, tempo):
    song = played(form(tab(B="7~------"), "| A |", head=f"tempo: {tempo}"))
    bends = [bend for bend in bends_of(song) if bend.start_whole < 1]
    cents = [bend.semitones * 100 for bend in bends]
    assert (min(cents), max(cents)) == (-30, 30)
    peaks = [song.seconds(bend.start_whole) for bend in bends if bend.semitones * 100 == 30]
    assert len(peaks) >= 8
    for a, b in pairwise(peaks):
        assert 5 <= 1 / (b - a) <= 6
    assert max(abs(a - b) for a, b in pairwise(cents)) <= 12


def test_a_bent_note_may_shake(played):
    levels = [b.semitones for b in bends_of(played(form(tab(B="7b~-----"), "| A |")))]
    assert max(levels) == 2 + Fraction(30, 100)
    assert levels.index(2) < levels.index(max(levels))


def test_the_wheel_is_at_rest_where_a_note_starts_and_at_the_end(played):
    song = played(form(tab(B="7b-7b-7~", e="--3/5---"), "| A | A |"))
    for track in (track for track in song.score.tracks if track.bends):
        by_place = defaultdict(list)
        for bend in track.bends:
            by_place[bend.start_whole].append(bend.semitones)
        assert all(by_place[note.start_whole][-1] == 0 for note in track.notes)
        assert by_place[max(by_place)][-1] == 0
    assert check_sound(to_bytes(song.score)) == []


def test_strings_bent_at_the_same_time_are_on_separate_tracks(played):
    song = played(form(tab(B="7b------", G="7~------", D="7-------"), "| A |"))
    names = [(track.name, len(track.notes)) for track in song.score.tracks]
    assert names == [("Lead", 1), ("Lead bends", 1), ("Lead bends 2", 1)]
    heard = sounding(song, Fraction(1, 2))
    assert heard["Lead"] == [57]
    bent = {round(pitch) for name in ("Lead bends", "Lead bends 2") for pitch in heard[name]}
    assert bent == {note_number("B3") + 9, note_number("G3") + 7}


def test_a_hand_bends_four_strings_at_most(played):
    song = played(form(tab(**dict.fromkeys("eBGDAE", "7b------")), "| A |"))
    assert [len(track.notes) for track in song.score.tracks] == [2, 1, 1, 1, 1]


def test_bends_keep_the_parts_sound_volume_and_place(played):
    text = form(tab(B="7b------"), "| A |").replace(
        "{riff: weir}", "{riff: weir, sound: clean, volume: 70, pan: -20}"
    )
    plain, bent = played(text).score.tracks
    assert (plain.name, bent.name) == ("Lead", "Lead bends")
    for track in (plain, bent):
        assert (track.part, track.program, track.volume, track.pan) == ("lead", 27, 70, -20)


def test_a_shake_is_a_sine():
    assert len(SHAKE_CENTS) == 16
    assert sum(SHAKE_CENTS) == 0
    assert max(SHAKE_CENTS) == -min(SHAKE_CENTS) == 30
    assert all(a == -b for a, b in zip(SHAKE_CENTS[:8], SHAKE_CENTS[8:], strict=True))
