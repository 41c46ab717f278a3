"""The proof of strummed and picked guitars: honest files agree, changed ones don't."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest
from drawn_versions import drawn
from form_strategies import forms
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from proof_files import DEMOS, PartFile, changed, part_file

from backing.errors import BackingError
from backing.form import Form, read_form, read_form_text
from backing.form.parts import PARTS
from backing.midi.writer import to_bytes
from backing.practice import PLAIN, Version, play_version
from backing.theory.pitch import note_number
from backing.tracks.one import midi_of
from backing.verify import verify_bytes
from backing.verify.comparison.guitar import check_guitar
from backing.verify.comparison.leeway import PartCheck
from backing.verify.expected.guitar import ExpectedGuitar, expect_guitar
from backing.verify.readers.measured import by_summing
from backing.verify.readers.voices import NO_NOTES, NO_SETTINGS, Notes, Voice
from backing.verify.report import Fault

EVERY_CHANGE = (
    "a semitone up", "a semitone down", "an eighth late", "an eighth early", "gone", "doubled",
    "cut short",
)  # fmt: skip


def guitar(file: PartFile, part: str = "guitar") -> ExpectedGuitar:
    return expect_guitar(file.expected, part, file.clock)


def check(file: PartFile, notes: Notes | None = None, part: str = "guitar") -> PartCheck:
    return check_guitar(
        guitar(file, part), file.notes(part) if notes is None else notes, file.leeway
    )


def faults(text: str, notes: Notes | None = None) -> tuple[Fault, ...]:
    return check(part_file(song(text)), notes).faults


def song(text: str) -> Form:
    """A form at 120 without human time; `text` has its sections and what else it needs."""
    return read_form_text(f"title: Trial\ntempo: 120\nhuman: 0\ncount-in: 0\n{text}\n")


# Honest files


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_the_demos_agree(path: Path, seed: int) -> None:
    form = read_form(path)._replace(human=(100, 75, 0)[seed])
    file = part_file(form, seed=seed)
    for part in ("guitar", "lead"):
        found = check(file, part=part)
        assert found.faults == ()
        assert found.notes == len(file.notes(part).starts)


def test_quick_strokes_late_in_a_very_long_song_agree() -> None:
    """After 66,000 quarters a tempo in microseconds may be off by more than a stroke."""
    strum = "strums: {fast: {step: 1/8, play: 'D U'}}\nparts: {bass: off, guitar: {strum: fast}}"
    text = f"{strum}\nsections: {{a: {{bars: '| D | D | A | A |'}}}}\nform: [a x2]\n"
    file = part_file(read_form_text(f"title: Trial\ntempo: 400\n{text}"))
    worn = file.leeway._replace(tolerance=lambda at_s: 0.066)
    found = check_guitar(guitar(file), file.notes("guitar"), worn)
    assert found.faults == ()
    assert found.moments == 64


@given(forms(), st.integers(0, 10**6))
@settings(
    max_examples=40, derandomize=True, deadline=None, phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
def test_forms_at_random_and_their_versions_agree(text: str, seed: int) -> None:
    form, draw = read_form_text(text), Random(seed)
    for version in (PLAIN, drawn(form, draw)):
        try:
            file = part_file(form, version, seed)
        except BackingError:  # this form has no such version
            continue
        for part in {"guitar", "lead"} - file.expected.absent:
            assert check(file, part=part).faults == (), (version, part)


# Shell voicings


COMPING = """\
strums: {halves: {step: 1/2, play: "D D"}}
parts: {bass: off, guitar: {strum: halves}}
sections: {a: {bars: "| Dm7 | G7 | Cmaj7 | A7b9 | C/E | Bm7b5 | Fsus4 | C13 |"}}
form: [a]"""
SHELLS = f"voicing: shell\n{COMPING}"


def test_shells_agree() -> None:
    assert check(part_file(song(SHELLS))).faults == ()


def test_whole_chords_are_no_shells() -> None:
    """Every chord with more than four strings is found; Dm7 xx0211 and Bm7b5 x2323x pass."""
    full = part_file(song(COMPING)).notes("guitar")
    found = faults(SHELLS, full)
    assert all("isn't a shape of" in fault.says for fault in found)
    assert {int(fault.at_s // 2) for fault in found} == {1, 2, 3, 4, 6, 7}


# Each with a chord of its own, from low to high: what a shell may not be.
@pytest.mark.parametrize(
    ("chord", "names"),
    [
        ("G7", "G2 F3 B3 D4"),  # the fifth is the tone more: fine
        ("G7", "G2 F3 G3 B3"),  # the root twice
        ("G7", "G2 D3 F3"),  # no third
        ("G7", "G2 D3 B3"),  # no seventh
        ("G7", "B2 F3 G3"),  # the third lowest
        ("G7", "G3 B3 F4"),  # the root on a high string, within reach of the fifth
        ("G7", "G2 D3 F3 B3 D4"),  # five notes
        ("C", "C3 G3"),  # no third
        ("C/E", "C3 E3 G3"),  # its bass isn't lowest
    ],
)
def test_what_a_shell_may_not_be(chord: str, names: str) -> None:
    text = SHELLS.replace("| Dm7 | G7 | Cmaj7 | A7b9 | C/E | Bm7b5 | Fsus4 | C13 |", f"| {chord} |")
    pitches = tuple(map(note_number, names.split()))
    starts = [half + string * 0.01 for half in range(2) for string in range(len(pitches))]
    ends = [min(2.0, start + 1) for start in starts]
    played = pitches * 2
    found = faults(text, Notes(tuple(starts), tuple(ends), played, (80,) * len(played)))
    fine = names in ("G2 F3 B3 D4", "G3 B3 F4")
    assert any("isn't a shape of" in fault.says for fault in found) is not fine, found


# Muted ones


MUTED = """\
strums: {chop: {step: 1/8, play: "D - x U x U D x"}}
riffs:
  chug:
    step: 1/8
    tab: |
      e |--------|
      B |--------|
      G |--x-----|
      D |2---2-4~|
      A |0---0---|
      E |--------|
      PM|----====|
parts: {guitar: {strum: chop}, lead: {riff: chug}}
sections: {a: {bars: "| A | A |"}}
form: [a x2]"""


def muted_file() -> tuple[PartFile, dict[str, list[Voice]]]:
    form = song(MUTED)
    voices = by_summing(to_bytes(play_version(form, PLAIN).score)).voices
    own = {part: [v for v in voices if v.name.casefold().startswith(part)] for part in PARTS}
    return part_file(form), own


@pytest.mark.parametrize("part", ["guitar", "lead"])
def test_notes_that_are_not_muted_or_that_should_not_be_are_found(part: str) -> None:
    file, every = muted_file()
    expected, voices = guitar(file, part), every[part]
    assert not check_guitar(expected, file.notes(part), file.leeway, voices).faults
    for voice in voices:
        is_muted = voice.name.endswith("muted")
        other = voice.settings._replace(programs=[(0.0, 25 if is_muted else 28)])
        wrong = [one if one is not voice else one._replace(settings=other) for one in voices]
        found = check_guitar(expected, file.notes(part), file.leeway, wrong).faults
        ends = "rings, and isn't muted" if is_muted else "is muted"
        assert found
        assert all(fault.says.endswith(ends) for fault in found)
        lost = [one._replace(settings=NO_SETTINGS) for one in voices]
        assert not check_guitar(expected, file.notes(part), file.leeway, lost).faults


@pytest.mark.parametrize("cells", ["5/9-----", "9\\5-----", "-5/9----", "5/9-7b--", "5h7/9---"])
def test_a_muted_note_is_over_before_its_slide(cells: str) -> None:
    riff = MUTED.replace("2---2-4~", cells).replace("PM|----====|", "PM|========|")
    form = song(riff.replace("0---0---", "--------"))
    assert verify_bytes(form, midi_of(form), quick=True).disagreements == ()


def test_a_damped_stroke_over_more_than_four_strings_is_found() -> None:
    text = MUTED.replace("D - x U", "D - - x")
    file = part_file(
        song(text.replace("guitar: {strum: chop}, ", "guitar: {strum: chop}, bass: off, "))
    )
    notes = file.notes("guitar")
    low, *_ = [place for place, start in enumerate(notes.starts) if start > 0.7]
    at, end = notes.starts[low], notes.ends[low]
    rows = sorted([*zip(*notes, strict=True), (at + 0.055, end, 69, 5)])
    starts, ends, pitches, velocities = zip(*rows, strict=True)
    (fault,) = check(file, Notes(starts, ends, pitches, velocities)).faults
    assert fault.says == "strikes 5 damped strings, not 4 at most"


# Changed ones


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_any_note_changed_is_found(path: Path) -> None:
    """All but an outer string that is gone or in the stroke before or after, and a string that
    its unison ends.

    Which strings a weak stroke takes is the player's, and two strings of one pitch are one voice.
    """
    file = part_file(read_form(path))
    notes, expected = file.notes("guitar"), guitar(file)
    edges = 0
    for place in Random(path.stem).sample(range(len(notes.starts)), 10):
        for how in EVERY_CHANGE:
            wrong = changed(notes, place, how, file.eighth_s)
            found = check_guitar(expected, wrong, file.leeway).faults
            if not found and how == "cut short":
                assert is_ended_by_its_unison(notes, place)
            elif not found:
                assert how == "gone" or "eighth" in how
                assert is_outer(notes, place)
                edges += 1
    assert edges <= 8


def is_outer(notes: Notes, place: int) -> bool:
    """Whether a note is the first or the last of a stroke, whose notes are under 50 ms apart."""
    starts = notes.starts
    first = not place or starts[place] - starts[place - 1] > 0.05
    last = place + 1 == len(starts) or starts[place + 1] - starts[place] > 0.05
    return first or last


def is_ended_by_its_unison(notes: Notes, place: int) -> bool:
    """Whether another string of its stroke ends a note by sounding the same pitch."""
    return any(
        pitch == notes.pitches[place]
        and abs(start - notes.ends[place]) < 0.001
        and 0 < start - notes.starts[place] < 0.05
        for start, pitch in zip(notes.starts, notes.pitches, strict=True)
    )


STRUMMED = """\
strums: {plain: {step: 1/8, play: "D - D U - U D U"}}
parts: {guitar: {strum: plain}}
sections: {a: {bars: "| C | G | Am | F |"}}
form: [a x2]"""


def strokes(notes: Notes) -> list[list[int]]:
    """The places of each stroke's notes."""
    found: list[list[int]] = []
    for place, start in enumerate(notes.starts):
        if found and start - notes.starts[found[-1][0]] < 0.09:
            found[-1].append(place)
        else:
            found.append([place])
    return found


def turned(notes: Notes, stroke: list[int]) -> Notes:
    """A stroke the other way over the same strings."""
    pitches = list(notes.pitches)
    pitches[stroke[0] : stroke[-1] + 1] = reversed(pitches[stroke[0] : stroke[-1] + 1])
    return notes._replace(pitches=pitches)


def test_a_stroke_the_other_way_is_found() -> None:
    file = part_file(song(STRUMMED))
    notes = file.notes("guitar")
    for stroke in strokes(notes)[:8]:
        assert check(file, turned(notes, stroke)).faults


def test_strokes_left_out_are_found_one_by_one() -> None:
    file = part_file(song(STRUMMED))
    notes = file.notes("guitar")
    kept = [place for place, start in enumerate(notes.starts) if not 1.9 < start < 3.9]
    found = check(file, notes.at(kept)).faults
    assert [fault.says for fault in found] == [
        "no downstroke", "no downstroke", "no upstroke", "no upstroke", "no downstroke",
        "no upstroke",
    ]  # fmt: skip
    assert [fault.at_s for fault in found] == pytest.approx([2.0, 2.5, 2.75, 3.25, 3.5, 3.75])


def test_an_emptied_and_a_doubled_guitar_are_found() -> None:
    file = part_file(song(STRUMMED))
    notes = file.notes("guitar")
    assert len(check(file, NO_NOTES).faults) == 20
    rows = sorted([*zip(*notes, strict=True)] * 2)
    starts, ends, pitches, velocities = zip(*rows, strict=True)
    assert check(file, Notes(starts, ends, pitches, velocities)).faults


def other_file(text: str, other: str) -> tuple[Fault, ...]:
    """What is wrong with the file of another form."""
    return faults(text, part_file(song(other)).notes("guitar"))


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("| C | G | Am | F |", "| C | G | F | Am |"),  # two bars exchanged
        ("| C | G(push) | Am | F |", "| C | G | Am | F |"),  # a push on the bar line
        ("| C | G | Am | F |", "| C | G(push) | Am | F |"),
        ("| C | G(stop) | Am | F |", "| C | G(ring) | Am | F |"),  # a stop that rings on
        ("| C | G(stop) | Am | F |", "| C | G | Am | F |"),
        ("| C | N.C. | Am | F |", "| C | C | Am | F |"),
        ("| C | / / G / | Am | F |", "| C | / / / G | Am | F |"),
        ("| Cmaj7 | G | Am | F |", "| C | G | Am | F |"),
        ("| C | G | Am/G | F |", "| C | G | Am | F |"),  # the bass isn't lowest
        ("| C | G7 | Am | F |", "| C | G | Am | F |"),
    ],
)
def test_another_form_s_strokes_are_found(right: str, wrong: str) -> None:
    written = STRUMMED.replace("| C | G | Am | F |", right)
    assert faults(written) == ()
    assert other_file(written, STRUMMED.replace("| C | G | Am | F |", wrong))


@pytest.mark.parametrize(
    ("key", "right", "wrong"),
    [
        ("strum", "D - D U - U D U", "D - D U - D D U"),
        ("strum", "D - D U - U D U", "D - D U - U D x"),
        ("strum", "D - D x - U D U", "D - D U - U D U"),  # not damped
        ("strum", "D - D U - U D U", "D D - U - U D U"),
        ("pick", "p i m a m i p2 i", "p i m a m i p i"),
        ("pick", "p i m a m i p2 i", "p i a m m i p2 i"),
        ("pick", "p i (pa) - m i p2 i", "p i (pi) - m i p2 i"),
        ("pick", "p i (pa) - m i p2 i", "p i (ma) - m i p2 i"),
    ],
)
def test_another_pattern_is_found(key: str, right: str, wrong: str) -> None:
    table = f'{key}s: {{plain: {{step: 1/8, play: "PLAY"}}}}\nparts: {{guitar: {{{key}: plain}}}}\n'
    table += 'sections: {a: {bars: "| C | G | Am | F |"}}\nform: [a x2]'
    assert faults(table.replace("PLAY", right)) == ()
    assert other_file(table.replace("PLAY", right), table.replace("PLAY", wrong))


def test_swing_and_the_capo_are_part_of_it() -> None:
    assert other_file(STRUMMED + "\nfeel: swing", STRUMMED)
    assert other_file(STRUMMED + "\ncapo: 2", STRUMMED)
    assert other_file(STRUMMED + "\ntuning: D2 A2 D3 G3 B3 E4\nshapes: {C: x32010}", STRUMMED)


def test_two_verses_exchanged_are_found() -> None:
    verses = (
        'sections: {a: {bars: "| C | G | Am | F |"}, b: {bars: "| F | C | G | G |"}}\nform: [FORM]'
    )
    right, wrong = verses.replace("FORM", "a, b"), verses.replace("FORM", "b, a")
    assert faults(right) == ()
    assert other_file(right, wrong)


# Grips: what the form writes, and what the player may choose


def grips(notes: str, chord: str = "Cmaj7", more: str = "") -> tuple[Fault, ...]:
    """What is wrong with a chord struck down once, from the low string to the high one."""
    file = part_file(song(f'{more}\nsections: {{a: {{bars: "| {chord}(ring) |"}}}}\nform: [a]'))
    pitches = [note_number(note) for note in notes.split()]
    starts = [0.005 * index for index in range(len(pitches))]
    return check(file, Notes(starts, [4.0] * len(pitches), pitches, [80] * len(pitches))).faults


@pytest.mark.parametrize(
    "notes",
    [
        "C3 E3 G3 B3 E4",  # x32000, the usual one
        "G2 C3 E3 G3 B3 E4",  # 332000, the fifth below
        "C3 G3 B3 E4 G4",  # x35453, a barre
        "C3 E3 G3 B3",  # a stroke may leave a string out
        "C3 E3 B3 E4",  # as a chord may its fifth: x32x00 has a finger on the string below
    ],
)
def test_any_shape_of_the_chord_will_do(notes: str) -> None:
    assert grips(notes) == ()


@pytest.mark.parametrize("notes", ["C3 E3 G3 C#4 E4", "C3 E3 G#3 B3 E4"])
def test_a_note_that_is_not_in_the_chord_is_named(notes: str) -> None:
    strange = next(note for note in notes.split() if "#" in note)
    assert [fault.says for fault in grips(notes)] == [f"{strange} isn't in Cmaj7"]


@pytest.mark.parametrize(
    "notes",
    [
        "C3 E3 G3 C4 E4",  # the seventh is gone
        "C3 E3 G3 B4 E5",  # too far apart
        "E4 B3 G3 E3 C3",  # the wrong way
        "E3 G3 B3 E4",  # no root
        "C3",  # one string alone
        "C3 E3 G3 B3 B3 E4 G4",  # seven strings
    ],
)
def test_what_no_hand_can_hold_as_the_chord_is_found(notes: str) -> None:
    says = f"plays {notes} down, which isn't a shape of Cmaj7"
    assert [fault.says for fault in grips(notes)] == [says]


def test_a_slash_bass_is_lowest() -> None:
    assert grips("G2 C3 E3 G3 C4 E4", "C/G") == ()
    assert grips("C3 E3 G3 C4 E4", "C/G") != ()
    assert grips("E3 G3 C4 E4", "C/G") != ()


def test_a_written_shape_is_exact() -> None:
    shape = 'shapes: {Cmaj7: "x35453"}'
    assert grips("C3 G3 B3 E4 G4", more=shape) == ()
    (fault,) = grips("C3 G3 B3", more=shape)
    assert fault.says == "plays 3 of the strings of Cmaj7, not all"
    (fault,) = grips("G3 B3 E4 G4", more=shape)
    assert fault.says == "plays 4 of the strings of Cmaj7, not all"
    assert grips("C3 B3 E4 G4", more=shape) != ()  # a string in the middle is left out
    assert [fault.says for fault in grips("C3 E3 G3 B3 E4", more=shape)] == [
        "plays C3 E3 G3 B3 E4 down, not the shape of Cmaj7: C3 G3 B3 E4 G4"
    ]


def test_one_chord_has_one_grip() -> None:
    """A B over Cmaj7 moved to C in one stroke is a second pitch on its string."""
    file = part_file(song('sections: {a: {bars: "| Cmaj7 | % |"}}\nform: [a]'))
    notes = file.notes("guitar")
    place = next(p for p, pitch in enumerate(notes.pitches) if pitch == note_number("B3"))
    pitches = list(notes.pitches)
    pitches[place] += 1
    (fault,) = check(file, notes._replace(pitches=pitches)).faults
    assert fault.says == "plays C3 E3 G3 C4 E4 down, not the shape of Cmaj7: C3 E3 G3 B3 E4"


def test_an_easier_version_may_use_another_shape() -> None:
    form = song('shapes: {F: "133211"}\nsections: {a: {bars: "| F | C |"}}\nform: [a]')
    easy = part_file(form, Version(easier=True))
    assert check(easy).faults == ()
    assert check(part_file(form), easy.notes("guitar")).faults
