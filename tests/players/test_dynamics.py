"""How sections breathe: dynamics, lifts, and each part's place in the mix, pass by pass."""

from __future__ import annotations

from fractions import Fraction

import pytest
from form_printer import print_form
from soundness import check_sound

from backing.form import read_form_text
from backing.midi.device import for_device
from backing.midi.writer import to_bytes
from backing.players.dynamics import LEVELS, LIFT
from backing.score import Control

BAR = Fraction(1)
SONG = """
parts: {bass: {line: beats}, guitar: {strum: {step: 1/4, play: "D D D D"}}}
sections:
  verse: {bars: "| A | D |"}
  chorus: {bars: "| E | A |"}
"""


def velocities(song, part: str, first: int, last: int) -> list[int]:
    """A part's velocities from bar `first` to bar `last`, both counted from 1."""
    start, end = (first - 1) * BAR, last * BAR
    return [note.velocity for note in song.notes(part) if start <= note.start_whole < end]


def written(song, part: str) -> list[int]:
    """A part's velocities as a file has them."""
    found = next(track for track in for_device(song.score).tracks if track.part == part)
    return [note.velocity for note in found.notes]


def track(song, part: str):
    return next(track for track in song.score.tracks if track.part == part)


# Dynamics


@pytest.mark.parametrize("part", ["bass", "guitar"])
def test_a_dynamic_scales_every_velocity_of_its_section_alone(played, part):
    plain = played(SONG + "form: [verse, chorus, verse]\n")
    loud = played(SONG + "form: [verse, {section: chorus, dynamic: loud}, verse]\n")
    for first, last in ((1, 2), (5, 6)):
        assert velocities(loud, part, first, last) == velocities(plain, part, first, last)
    assert velocities(loud, part, 3, 4) == [v * 6 // 5 for v in velocities(plain, part, 3, 4)]


def test_soft_is_below_medium_below_loud_and_medium_changes_nothing(played):
    found = {
        level: velocities(played(SONG + f"dynamic: {level}\nform: [verse]\n"), "bass", 1, 2)
        for level in LEVELS
    }
    assert found["medium"] == velocities(played(SONG + "form: [verse]\n"), "bass", 1, 2)
    for soft, medium, loud in zip(*found.values(), strict=True):
        # A dynamic mark is worth about sixteen steps (common practice).
        assert 12 <= medium - soft <= 20
        assert 12 <= loud - medium <= 20


def test_dynamics_dont_change_the_click(played):
    plain = played(SONG + "form: [verse]\n")
    soft = played(SONG + "dynamic: soft\nform: [verse]\n")
    assert soft.notes("click") == plain.notes("click")
    assert soft.notes("bass") != plain.notes("bass")


def test_a_pushed_chord_is_as_loud_as_its_own_section(played):
    text = (
        SONG.replace("| E | A |", "| E(push) | A |")
        + "form: [verse, {section: chorus, dynamic: %s}]\n"
    )
    pushed = 2 * BAR - Fraction(1, 8)
    struck = {
        level: [n.velocity for n in played(text % level).notes("bass") if n.start_whole == pushed]
        for level in ("medium", "loud")
    }
    assert struck["loud"] == [v * 6 // 5 for v in struck["medium"]]
    assert len(struck["loud"]) == 1


def test_velocities_stay_within_what_midi_has(played):
    song = played(
        "dynamic: loud\nsections: {a: {bars: A, lift: on}}\nform: [a, a]\n"
        'parts: {guitar: {strum: {step: 1/4, play: "D> D> D> D>"}}, click: {volume: 127}}\n'
    )
    assert max(velocities(song, "guitar", 1, 1)) == 127  # 104 x 6/5, and up to 7/6 of that
    silent = played("parts: {click: {volume: 0}}\nsections: {a: {bars: A}}\nform: [a]\n")
    assert {max(written(song, "click")), *written(silent, "click")} == {127, 1}


def test_a_pass_may_have_its_own_dynamic(played):
    song = played(
        "parts: {bass: {line: beats}}\n"
        "sections: {a: {bars: A, times: 3, on-pass: {2: {dynamic: soft}}}}\nform: [a]\n"
    )
    first, second, third = (velocities(song, "bass", bar, bar) for bar in (1, 2, 3))
    assert second == [v * 4 // 5 for v in first]
    assert third == first


# A lift


def lifted(lift: str, entries: str = "[verse, chorus]") -> str:
    return SONG.replace('bars: "| E | A |"', f'bars: "| E | A |"{lift}') + f"form: {entries}\n"


@pytest.mark.parametrize("part", ["bass", "guitar"])
def test_the_bar_before_a_lifted_section_grows_into_it(played, part):
    plain, song = played(lifted("")), played(lifted(", lift: on"))
    assert velocities(song, part, 1, 1) == velocities(plain, part, 1, 1)
    assert velocities(song, part, 3, 4) == velocities(plain, part, 3, 4)
    before, after = velocities(plain, part, 2, 2), velocities(song, part, 2, 2)
    growth = [b / a for a, b in zip(before, after, strict=True)]
    assert growth[0] == 1
    assert growth == pytest.approx(sorted(growth), abs=0.013)  # whole steps of velocity
    # Three quarters through the bar, three quarters of the whole lift.
    assert growth[-1] == pytest.approx(1 + float(LIFT) * 3 / 4, abs=0.03)


def test_a_lift_is_set_by_a_section_or_line_and_turned_off_again(played):
    on = played(lifted(", lift: on")).notes("bass")
    assert played(lifted("", "[verse, {section: chorus, lift: on}]")).notes("bass") == on
    off = played(lifted("")).notes("bass")
    assert (
        played(lifted(", lift: on", "[verse, {section: chorus, lift: off}]")).notes("bass") == off
    )


def test_a_lift_leads_into_a_line_of_the_form_not_into_each_of_its_passes(played):
    plain, song = (played(lifted(lift, "[verse, chorus x2]")) for lift in ("", ", lift: on"))
    assert velocities(song, "bass", 2, 2) != velocities(plain, "bass", 2, 2)
    assert velocities(song, "bass", 3, 6) == velocities(plain, "bass", 3, 6)


def test_a_lift_at_the_very_start_has_nothing_to_grow_from(played):
    plain, song = (played(lifted(lift, "[chorus, verse]")) for lift in ("", ", lift: on"))
    assert song.score.tracks == plain.score.tracks


def test_a_lift_grows_from_the_dynamic_before_it(played):
    soft = "[{section: verse, dynamic: soft}, chorus]"
    plain, song = played(lifted("", soft)), played(lifted(", lift: on", soft))
    assert velocities(song, "bass", 2, 2)[0] == velocities(plain, "bass", 2, 2)[0]
    assert velocities(song, "bass", 2, 2)[-1] > velocities(plain, "bass", 2, 2)[-1]


def test_tiny_bars_with_pushes_are_lifted_too(played):
    song = played(
        "sections: {a: {bars: '| 1/8 A | A |'}, b: {bars: '| 1/8 D(push) | % |', lift: on}}\n"
        "form: [a, b, a, b]\n"
    )
    assert check_sound(to_bytes(song.score)) == []


def test_a_held_sound_grows_by_its_expression_and_a_struck_one_by_its_velocity(played):
    text = lifted(", lift: on").replace("parts: {", "parts: {pad: {sound: SOUND}, ", 1)
    text = text.replace("| A | D |", "| A | D E |")
    held, struck = (
        track(played(text.replace("SOUND", sound)), "pad") for sound in ("strings", "piano")
    )
    values = [change.value for change in held.changes if change.what == "expression"]
    assert (held.expression, values) == (100, [*range(101, 117), 100])  # 7/6 of 100 is 116.7
    assert {note.velocity for note in held.notes} == {64}
    assert not struck.changes
    assert max(note.velocity for note in struck.notes) > 64


# The mix


MIX = """
parts: {guitar: {volume: 90, sound: nylon}, click: {volume: 50}}
sections:
  verse: {bars: "| A | D |"}
  chorus:
    bars: "| E(push) | A |"
    parts: {guitar: {volume: 70, pan: -20, sound: clean}, click: {volume: 100}}
form: [verse x2, chorus, verse]
"""


def test_a_section_changes_sound_volume_and_place_where_it_starts(played):
    guitar = track(played(MIX), "guitar")
    assert (guitar.program, guitar.volume, guitar.pan) == (24, 90, -14)
    pushed, back = 4 * BAR - Fraction(1, 8), 6 * BAR
    assert guitar.changes == (
        Control(pushed, "program", 27),
        Control(pushed, "volume", 70),
        Control(pushed, "pan", -20),
        Control(back, "program", 24),
        Control(back, "volume", 90),
        Control(back, "pan", -14),
    )
    assert track(played(MIX), "bass").changes == ()


def test_the_first_sections_mix_is_set_at_the_start(played):
    song = played(MIX.replace("[verse x2, chorus, verse]", "[chorus]"))
    guitar = track(song, "guitar")
    assert (guitar.program, guitar.volume, guitar.pan) == (27, 70, -20)
    assert guitar.changes == ()


def test_percussion_is_louder_or_softer_by_its_velocities(played):
    song = played(MIX)
    click = track(song, "click")
    pushed, back = 4 * BAR - Fraction(1, 8), 6 * BAR
    assert (click.volume, click.changes) == (
        50,
        (Control(pushed, "volume", 100), Control(back, "volume", 50)),
    )
    # 113% of 112 and of 84 is 126.56 and 94.92, half of it 63.28 and 47.46.
    soft, usual = [63, 47, 47, 47], [126, 94, 94, 94]
    assert written(song, "click") == [*soft * 4, *usual * 2, *soft * 2]


def test_changes_are_in_the_file_before_the_notes_they_are_for(played):
    assert check_sound(to_bytes(played(MIX).score)) == []


# What a form says of all this


def test_human_and_lift_are_printed_and_read_again_and_so_is_leaving_them_out():
    head = "title: t\ntempo: 100\n"
    for human in (0, 40, 75, 100):
        for lift in ("", ", lift: on", ", lift: off"):
            text = (
                head
                + f"human: {human}\nsections: {{a: {{bars: A{lift}}}}}\n"
                + "form: [a, {section: a, lift: on}]\n"
            )
            form = read_form_text(text)
            assert form.human == human
            assert form.sections["a"].settings.lift is {"": None, ", lift: on": True}.get(
                lift, False
            )
            assert read_form_text(print_form(form)) == form
    assert read_form_text(head + "sections: {a: {bars: A}}\nform: [a]\n").human == 75
