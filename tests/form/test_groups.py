"""Groups of lines: read, played in order, proven, and shown in short."""

from __future__ import annotations

import pytest
from form.songs import song

from backing import read_form_text, unroll
from backing.chart.drawing import drawing
from backing.console.sketch import sketch
from backing.form.practice_options import exercise_of
from backing.midi.writer import to_bytes
from backing.page.data import song_data
from backing.players import play
from backing.players.dynamics import dynamics
from backing.practice import Stretch
from backing.practice.stretch import bars_of
from backing.practice.versions import versions_of
from backing.verify import expect, verify_bytes
from backing.verify.expected.practice_maths import expect_version

SONG = """\
title: Ford
tempo: 96
human: 0
sections:
  verse:
    bars: "| A | D |"
    on-pass: {3: {bars: "| E | D | A |"}}
  riff: {bars: "| E7 |"}
  chorus:
    lift: on
    tempo: {to: 80, over: 1}
    bars: "| D | G |"
    endings: {1: "| A |", 2: "| E |"}
form:
  - riff
  - (verse, riff x2) x3
  - ((verse bars 2 x2, riff) x2, chorus) x2
"""
TWO = '{verse: {bars: "| A | D |"}, riff: {bars: "| E |", endings: {1: A, 2: D}}}'


def played(text: str) -> list[str]:
    return [one.label for one in unroll(read_form_text(text)).passes]


def test_passes_are_numbered_through_the_rounds() -> None:
    assert played(SONG)[1:10] == [
        "Verse 1 (1 of 3)", "Riff 2 (1 of 6)", "Riff 2 (2 of 6)",
        "Verse 1 (2 of 3)", "Riff 2 (3 of 6)", "Riff 2 (4 of 6)",
        "Verse 1 (3 of 3)", "Riff 2 (5 of 6)", "Riff 2 (6 of 6)",
    ]  # fmt: skip
    inner = ["Verse 2, bar 2", "Verse 2, bar 2", "Riff 3"] * 2 + ["Chorus"]
    assert [label.partition(" (")[0] for label in played(SONG)[10:]] == inner * 2


def test_what_passes_set_endings_and_tempos_follow_the_rounds() -> None:
    timeline = unroll(read_form_text(SONG))
    third = [bar for bar in timeline.bars if bar.playing.label == "Verse 1 (3 of 3)"]
    assert len(third) == 3
    chorus = [bar.start_whole for bar in timeline.bars if bar.playing.section == "chorus"]
    chords = {span.slot_whole: str(span.chord) for span in timeline.spans}
    assert [chords[at] for at in chorus] == ["D", "G", "A", "D", "G", "E"]
    slower = [at.start_whole for at in timeline.tempos if at.quarter_bpm < 96]
    assert min(slower) >= chorus[-1]  # the last pass alone slows down


def test_each_round_of_a_line_is_lifted_into() -> None:
    timeline = unroll(read_form_text(SONG))
    assert sum(1 for stretch in dynamics(timeline) if stretch.grows) == 2


def test_the_proof_finds_the_order_by_itself() -> None:
    form = read_form_text(SONG)
    made = to_bytes(play(unroll(form)))
    assert verify_bytes(form, made, quick=True).disagreements == ()
    once = tuple(e._replace(groups=e.groups[:1]) for e in form.entries)
    assert not verify_bytes(form._replace(entries=once), made, quick=True).agrees


@pytest.mark.parametrize(
    ("section", "bars"),
    [
        (("verse", "verse"), (2, 3)),
        (("riff", "verse"), (1, 3)),
        (("Riff 2", "verse"), (4, 7)),
        (("Verse 1 (2 of 3)", "Riff 2 (4 of 6)"), (6, 9)),
        (("Verse 1 (3 of 3)", "chorus"), (10, 23)),
        (("Verse 1 (2 of 3)", "Verse 1"), (6, 7)),
    ],
)
def test_a_name_means_the_first_turn_of_its_line(section, bars) -> None:
    form = read_form_text(SONG)
    assert bars_of(unroll(form), Stretch(*section)) == bars
    (version,) = versions_of(exercise_of({"section": section}))
    rows = expect_version(form, version).passes
    assert (rows[0].first_bar, rows[-1].first_bar + rows[-1].bars - 1) == bars
    read_form_text(f"{SONG}practice: [{{section: '{'..'.join(section)}', loop: 2}}]\n")


def test_chart_and_outline_show_a_group_as_one_line() -> None:
    form = read_form_text(SONG)
    stops = [(stop.bar, stop.name, stop.bars) for stop in drawing(form).roadmap]
    assert stops == [
        (1, "Riff 1", "1 bar"),
        (2, "(Verse 1, Riff 2 ×2) ×3", "13 bars"),
        (15, "((Verse 2 bar 2 ×2, Riff 3) ×2, Chorus) ×2", "18 bars"),
    ]
    outline = sketch(form, expect(form))
    assert "(Verse 1, Riff 2 x2) x3" in outline
    assert "Riff 2 (2 of 6)" in outline
    assert "Riff 2 (3 of 6)" not in outline


def test_the_page_has_every_pass_in_its_order() -> None:
    passes = song_data(unroll(read_form_text(SONG)))["passes"]
    assert [one["text"] for one in passes[1:4]] == [
        "Verse 1, 1 of 3", "Riff 2, 1 of 6", "Riff 2, 2 of 6",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("line", "at", "says"),
    [
        ("(verse, riff x2", "(verse", "this parenthesis is never closed. Close it"),
        ("((verse, riff x2) x2", "((verse", "this parenthesis is never closed"),
        ("(verse, (riff x2, verse) x2", "(verse", "this parenthesis is never closed"),
        ("(verse, riff x2)) x3", ") x3", "this parenthesis doesn't close anything. Remove it."),
        ("()", ")", "this group is empty"),
        ("() x3", ") x3", "this group is empty"),
        ("(verse,) x3", ") x3", "a line is missing here"),
        ("(verse,,riff) x3", ",riff", "a line is missing here"),
        ("(verse, riff x2) x0", "x0", "a group can play from 1 to 9999 times"),
        ("(verse, riff x2) x10000", "x10000", "a group can play from 1 to 9999 times"),
        ("(verse, riff x0) x3", "x0", "a section can play from 1 to 9999 times"),
        ("(verse, riff x2) x3 loud", "loud", "only a count can follow a group, not 'loud'"),
        ("(verse, riff x2) 3", "3", "only a count can follow a group, not '3'. Write it as"),
        ("(verse, riff x2), verse", ", verse", "the group ends before this comma"),
        ("(verse (riff x2) x3)", "(riff", "a comma is missing before this parenthesis"),
        ("(verze, riff x2) x3", "verze", "there is no section 'verze'. Did you mean verse?"),
        ("(verse bars 2-3, riff x2) x3", "verse bars", "verse has bars 1-2"),
        ("(verse, riff) x3", "riff", "3 passes of riff would stop partway through its 2 endings. "
         "Play a multiple of 2 passes."),
        ("verse, riff x2", "verse", "Write each on a line of its own, or put them in parentheses"),
        ("((((((((( verse )))))))))", "( verse", "groups can be nested at most 8 deep"),
    ],
)  # fmt: skip
def test_a_group_that_goes_wrong_is_reported_at_its_column(pointed, line, at, says) -> None:
    where, printed = pointed(song(form=f"\n  - {line}", sections=TWO))
    assert where.startswith(at)
    assert says in printed


@pytest.mark.parametrize("name", ["coda: a, b", "bridge (short)", "(in)"])
def test_a_name_that_a_group_cannot_hold(pointed, reads, name) -> None:
    sections = f'{{"{name}": {{bars: A}}, verse: {{bars: D}}}}'
    where, printed = pointed(song(form=f'\n  - "(verse, {name} x2) x3"', sections=sections))
    assert where.startswith(name)
    assert f"the section '{name}' can't be in a group, because of its name" in printed
    assert reads(song(form=f'\n  - "{name} x2"', sections=sections)).entries[0].times == 2


@pytest.mark.parametrize(
    "form", ["[(verse, riff x2) x2]", "[riff x2, ((verse, riff) x2, riff) x2]"]
)
def test_a_group_that_yaml_cuts_into_pieces(pointed, form) -> None:
    where, printed = pointed(song(form=form, sections=TWO))
    assert where.startswith("(")
    assert "between brackets YAML ends a value at each comma" in printed
    whole = form[form.index("(") : -1]
    assert f'after a dash, or put the group in quotes:  "{whole}"' in printed


def test_quotes_keep_a_group_whole_between_brackets(reads) -> None:
    assert len(reads(song(form='["(verse, riff x2) x3", verse]', sections=TWO)).entries) == 3


@pytest.mark.parametrize(
    "group", ["((((verse x9999) x9999) x9999) x9999)", "(verse, riff x2) x9999"]
)
def test_too_many_bars_are_counted_before_any_is_played(only, group) -> None:
    problem = only(song(form=f"\n  - {group}", sections=TWO))
    assert "with this line the form plays more than 20,000 bars" in problem.message
