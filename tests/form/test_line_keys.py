"""What a line of the form sets for itself, and where a key can stand that it can't have."""

from __future__ import annotations

import pytest
from form.songs import song

from backing import read_form_text, unroll
from backing.chart.drawing import drawing
from backing.console.sketch import sketch
from backing.form.key_places import key_places
from backing.midi.writer import to_bytes
from backing.page.data import song_data
from backing.players import play
from backing.verify import expect, verify_bytes

SONG = """\
title: Millrace
tempo: 96
human: 0
strums: {easy: {step: 1/4, play: "D D D D"}}
sections:
  verse:
    bars: |
      | A |
      | D |
    on-pass:
      2: {dynamic: loud, tempo: {bpm: 80, beat: 1/4}, parts: {guitar: {strum: easy}}}
      3: {bars: "| E | E |\\n| A |", dynamic: soft}
form:
  - verse x3
  - section: verse
    times: 3
    words: [rain, and rain again]
    note: listen
    on-pass:
      2: {dynamic: medium, words: softly}
      3: {bars: "| F#m |", words: alone, parts: {bass: off}}
"""


def bars_of(text: str) -> list[str]:
    return [str(span.chord) for span in unroll(read_form_text(text)).spans]


def test_what_a_line_sets_for_a_pass_lies_over_what_the_section_sets() -> None:
    form = read_form_text(SONG)
    passes = unroll(form).passes[3:]
    assert [one.settings.dynamic for one in passes] == [None, "medium", "soft"]
    tempos = [one.settings.tempo for one in passes]
    assert [tempo and tempo.bpm for tempo in tempos] == [96, 80, 96]
    assert passes[1].settings.parts["guitar"].strum == "easy"
    assert passes[2].settings.parts["bass"].on is False
    assert bars_of(SONG) == "A D A D E E A A D A D F#m".split()


def test_the_proof_reads_a_line_s_passes_by_itself() -> None:
    form = read_form_text(SONG)
    made = to_bytes(play(unroll(form)))
    assert verify_bytes(form, made, quick=True).disagreements == ()
    without = form._replace(entries=tuple(e._replace(on_pass={}) for e in form.entries))
    assert not verify_bytes(without, made, quick=True).agrees


def test_chart_outline_and_page_show_what_a_line_sets() -> None:
    form = read_form_text(SONG)
    chart = drawing(form)
    assert [block.name for block in chart.blocks] == [
        "Verse", "Verse, third time", "Verse 2, third time",
    ]  # fmt: skip
    line = chart.roadmap[1]
    assert "second time: medium" in line.details
    main, _, third = chart.blocks
    assert [line.text for line in main.lines if line.kind == "words"] == [
        "1. Verse 2 (1 of 3)", "2. Verse 2 (2 of 3)",
    ]  # fmt: skip
    assert [bar.words for row in main.rows for bar in row] == [
        ("rain", "softly"), ("and rain again", ""),
    ]  # fmt: skip
    assert third.rows[0][0].words == ("alone",)
    assert line.note == "listen"
    outline = sketch(form, expect(form))
    assert "\n            rain\n            and rain again\n" in outline
    assert "\n            softly\n" in outline
    assert "| F#m |" in outline
    data = song_data(unroll(form))
    assert [one["note"] for one in data["passes"][3:]] == ["listen"] * 3
    assert [bar["words"] for bar in data["bars"][7:]] == [
        "rain", "and rain again", "softly", "", "alone",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("line", "at", "says"),
    [
        ('{1: {bars: "| A Bm C |"}}', "A Bm C", "3 chords don't share the 4 beats"),
        ("{1: {times: 2}}", "times", "Write it in a section or a form entry."),
        ("{1: {tempo: {to: 60, over: 3}}}", "", "this pass has only 2"),
        ("{x: {dynamic: loud}}", "x", "can't read 'x' as a pass for on-pass"),
        ('{1: {meter: 3/4, bars: "| A / |"}}', "A /", "with slashes it needs 3 slots"),
    ],
)
def test_mistakes_in_a_line_s_passes_are_reported_at_their_place(pointed, line, at, says) -> None:
    where, printed = pointed(song(form=f"[{{section: verse, on-pass: {line}}}]"))
    assert where.startswith(at)
    assert says in printed


def test_a_pass_with_fewer_bars_than_a_line_takes_of_it(only) -> None:
    line = '{section: verse, bars: 1-2, on-pass: {1: {bars: "| A |"}}}'
    assert "has bars 1-1" in only(song(form=f"[{line}]")).message


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ({"form": '[{section: verse, endings: {1: "| A |"}}]'},
         "a form entry has no key 'endings'. Write it in a section. Or did you mean ending?"),
        ({"form": "[{section: verse, capo: 2}]"},
         "a form entry has no key 'capo'. "
         "Write it in an exercise, or for the whole song."),
        ({"form": "[{section: verse, tuning: E2 A2 D3 G3 B3 E4}]"},
         "Write it for the whole song, with no spaces before it."),
        ({"form": "[{section: verse, strum: easy}]"}, "Write it in guitar or lead."),
        ({"form": "[{section: verse, meter: 3/4}]"},
         "Write it in a section or a pass, or for the whole song."),
        ({"sections": "{verse: {bars: A, bpm: 90}}"}, "a section has no key 'bpm'. "
         "Write it in tempo."),
        ({"parts": "{guitar: {line: walking}}"}, "guitar has no key 'line'. Write it in bass."),
    ],
)  # fmt: skip
def test_a_key_of_another_place_is_sent_there(pointed, written, says) -> None:
    _, printed = pointed(song(**written))
    assert says in printed


def test_every_key_has_a_place() -> None:
    places = key_places()
    assert places["endings"] == ("a section",)
    assert places["on-pass"] == ("a section", "a form entry")
    assert set(places["play"]) == {"a strum", "a pick", "a bass line", "a beat"}
