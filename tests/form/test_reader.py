"""A form's text to a Form: what is read, and everything told together where it is wrong."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from form.songs import song
from hypothesis import given, settings
from hypothesis import strategies as st

from backing.errors import BackingError, FormError
from backing.form.kinds import MAX_PROBLEMS
from backing.form.model import Tempo
from backing.form.parts import ACCENT, LINE, PLAYS, SUBDIVIDE
from backing.form.pattern_records import Plays, Stroke, StrumPattern
from backing.form.reader import read_form, read_form_text
from backing.theory.keys import parse_key
from backing.theory.rhythm import parse_meter

# What is read


def test_what_a_whole_song_contains(reads):
    form = reads(
        """\
title: Lantern Over
  the Weir
by: the project
tempo: {bpm: 60.5, beat: 3/8}
meter: 6/8
key: Bb minor
capo: 3
count-in: 2
shapes: {A: x02220, F#m7: 2x2222, "C ": x32010}
strums:
  rolling: {step: 1/8, play: "D> - D U | - U D U"}
parts:
  click: {sound: cowbell, subdivide: 1/8t, accent: off, plays: 2 of 4, volume: 90, pan: -10}
  bass: {line: beats}
  guitar: {strum: rolling}
  drums: off
sections:
  verse:
    bars: |
      | A | F#m7 |
      | D | % |
  chorus:
    meter: 3/4
    times: 2
    tempo: {to: 50, over: 2, from: first}
    bars: "| D |"
    endings: {1: "| E |", 2: "| A |"}
    parts: {bass: off}
form:
  - verse x2
  - {section: chorus, label: Last, tempo: 99, parts: {click: off}}
"""
    )
    assert (form.title, form.by, form.capo, form.count_in_bars) == (
        "Lantern Over the Weir", "the project", 3, 2)  # fmt: skip
    assert form.settings.tempo == Tempo(Fraction("60.5"), Fraction(3, 8))
    assert (form.meter, form.key) == (parse_meter("6/8"), parse_key("Bbm"))
    assert {name: str(shape) for name, shape in form.shapes.items()} == {
        "A": "x02220", "F#m7": "2x2222", "C": "x32010"}  # fmt: skip
    down, wait, up = Stroke("D"), Stroke("-"), Stroke("U")
    assert form.strums == {
        "rolling": StrumPattern(
            Fraction(1, 8), ((Stroke("D", accent=True), wait, down, up), (wait, up, down, up))
        )
    }
    click = form.settings.parts["click"]
    assert (click.sound, SUBDIVIDE.of(click), ACCENT.of(click)) == (
        "cowbell",
        Fraction(1, 12),
        False,
    )
    assert (PLAYS.of(click), click.volume, click.pan, click.on) == (Plays(2, 4), 90, -10, True)
    assert LINE.of(form.settings.parts["bass"]) == "beats"
    assert form.settings.parts["guitar"].strum == "rolling"
    assert form.settings.parts["drums"].on is False
    verse, chorus = form.sections.values()
    assert [len(row) for row in verse.rows] == [2, 2]
    assert (chorus.times, sorted(chorus.endings), chorus.settings.meter) == (
        2, [1, 2], parse_meter("3/4"))  # fmt: skip
    assert chorus.settings.tempo == Tempo(None, None, Fraction(50), 2, True)
    assert chorus.settings.parts["bass"].on is False
    first, last = form.entries
    assert (first.section, first.times, first.bars) == ("verse", 2, None)
    assert (last.label, last.settings.tempo) == ("Last", Tempo(Fraction(99), Fraction(1, 4)))


def test_what_is_left_out_has_its_default(reads):
    form = reads(song())
    assert (form.by, form.key, form.capo, form.count_in_bars) == ("", None, 0, 1)
    assert (form.meter, form.shapes, form.strums) == (parse_meter("4/4"), {}, {})


def test_the_same_text_is_the_same_form(reads):
    assert reads(song(strums="{a: {step: 1/8, play: D}}")) == reads(
        song(strums="{a: {step: 1/8, play: D}}")
    )


def test_a_file_is_read_under_its_name(tmp_path):
    path = tmp_path / "лес.yaml"
    path.write_text(song(), encoding="utf-8")
    assert read_form(path) == read_form_text(song())
    path.write_text("titel: x\n", encoding="utf-8")
    with pytest.raises(FormError) as caught:
        read_form(path)
    assert str(caught.value).startswith(f"{path}:1:1: ")


def test_a_file_that_can_t_be_opened_is_reported(tmp_path):
    with pytest.raises(BackingError, match="there is no such file"):
        read_form(tmp_path / "none.yaml")
    with pytest.raises(BackingError, match="this is a folder"):
        read_form(tmp_path)


# Names


@pytest.mark.parametrize(
    ("text", "at", "suggestion"),
    [
        (song().replace("tempo", "tepmo"), "tepmo", "Did you mean tempo?"),
        (song(count_n="2"), "count-n", "Did you mean count-in?"),
        (song(Key="A"), "Key", "Did you mean key?"),
        (song(form="[verze]"), "verze", "Did you mean verse?"),
        (song(form="[Verse]"), "Verse", "Did you mean verse?"),
        (song(form="[{section: vrse}]"), "vrse", "Did you mean verse?"),
        (song(parts="{guitr: off}"), "guitr", "Did you mean guitar?"),
        (song(parts="{click: {sound: wod}}"), "wod", "Did you mean wood?"),
        (song(parts="{guitar: {strum: roling}}", strums="{rolling: {step: 1/8, play: D}}"),
         "roling", "Did you mean rolling?"),
        (song(sections='{verse: {bras: "A", bars: "A"}}'), "bras", "Did you mean bars?"),
        (song(sections='{verse: {bars: "F#mm7"}}'), "m7", "did you mean F#m7?"),
        (song(shapes="{F#mm7: 2x2222}"), "m7: ", "did you mean F#m7?"),
        (song(tempo="{bpm:92}"), "bpm:92", "a space after it:  bpm: 92"),
    ],
)  # fmt: skip
def test_a_near_miss_is_suggested(problems, text, at, suggestion):
    found = [p for p in problems(text) if suggestion in f"{p.message} {p.fix}"]
    (problem,) = found
    assert text.split("\n")[problem.line - 1][problem.column - 1 :].startswith(at)


def test_where_nothing_is_near_the_choices_are_listed(only):
    assert only(song(parts="{bass: 3}")).fix == "Choose from: on, off."
    assert only(song(form="[zzz]")).fix == "Choose from: verse."


@pytest.mark.parametrize("name", ["verse x2", "x3", "verse bars 5-8", "bars 2", '" "', "x" * 61])
def test_a_section_s_name_can_not_look_like_a_form_entry(problems, name):
    found = problems(song(sections=f'{{verse: {{bars: "A"}}, {name}: {{bars: "A"}}}}'))
    assert found[0].line == 3


@pytest.mark.parametrize("name", ["verse", "Half verse", "bars", "x", "1", "off", "куплет", "a: b"])
def test_sections_have_any_other_name(reads, name):
    form = reads(song(sections=f'{{"{name}": {{bars: "A"}}}}', form=f'["{name}", "{name} x2"]'))
    assert [(entry.section, entry.times) for entry in form.entries] == [(name, 1), (name, 2)]


def test_blanks_in_a_name_don_t_matter(reads):
    form = reads(song(sections='{"half   verse": {bars: "A"}}', form='["half verse", half  verse]'))
    assert list(form.sections) == ["half verse"]


def test_a_strum_is_a_name_or_a_pattern(only, reads):
    assert reads(song(parts="{guitar: {strum: {step: 1/8, play: D U}}}"))
    printed = only(song(parts="{guitar: {strum: D> U - x}}"))
    assert printed.fix == 'To write it right here:  strum: {step: 1/8, play: "D> U - x"}'
    assert only(song(parts="{guitar: {strum: lost}}")).fix == "Write it under strums first."


def test_a_strum_that_can_t_be_read_is_reported_once(only):
    text = song(parts="{guitar: {strum: a}}", strums="{a: {step: 1/8, play: D Q}}")
    assert "Q isn't a stroke" in only(text).message
    assert only(song(parts="{guitar: {strum: a}}", strums="a")).line == 6


@pytest.mark.parametrize(
    ("play", "column", "words"),
    [
        ("D Q U", 34, "Q isn't a stroke"),
        ("   D du", 37, "du isn't a stroke"),
        ("D ->", 34, "-> isn't a stroke"),
        ("D | | U", 35, "this bar of the pattern is empty"),
        ("|", 32, "write one, such as: D D U D"),
        ("D " * 513, 32, "at most 512 steps"),
    ],
)
def test_an_unreadable_stroke_is_placed(only, play, column, words):
    problem = only(song(strums=f'{{a: {{step: 1/8, play: "{play}"}}}}'))
    assert (problem.line, problem.column) == (5, column)
    assert words in problem.message


@pytest.mark.parametrize("shape", ["x0222", "x022200", "xxxxxx", "x-25-1-1-1-1", "abc", "x" * 100])
def test_an_unreadable_shape_is_placed(only, shape):
    problem = only(song(shapes=f"{{A: {shape}}}"))
    assert (problem.line, problem.column) == (5, 13)


# All together


def test_all_problems_are_reported_together_in_order(problems):
    text = """\
titel: Lantern
tempo: fast
capo: 12
meter: 4/4
sections:
  verse:
    bars: |
      | A | Hx | D E A |
      | A(psuh) | % |
  chorus:
    bars: "| A D E | % % |"
    tims: 2
  close:
    bars: "| A D E | D / |"
form:
  - verze
  - chorus
  - close x0
"""
    found = problems(text)
    assert [(p.line, p.column) for p in found] == [
        (1, 1), (2, 8), (3, 7), (8, 13), (8, 18), (9, 11), (11, 14), (11, 22), (12, 5),
        (14, 14), (14, 22), (16, 5), (18, 11),
    ]  # fmt: skip


def test_a_broken_section_breaks_nothing_else(only):
    """Its entries, which can't be counted, are not held against it."""
    text = song(sections='{verse: {bars: "| A :|"}}', form="[verse bars 9-9, verse x2]")
    assert "no repeat signs" in only(text).message


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"meter": "3/5", "sections": '{verse: {bars: "A / /"}}'}, "a meter can't have 5"),
        ({"sections": '{verse: {meter: 3/5, bars: "A / /"}}'}, "a meter can't have 5"),
        ({"sections": '{verse: {times: no, bars: A, endings: {1: A, 2: A}}}'}, "'no'"),
        ({"sections": '{verse: {bars: A, endings: {1: A, 3: A}}}'}, "pass 2 has no ending"),
        ({"sections": '{verse: {bars: A, endings: {1: "A :|", 2: A}}}'}, "no repeat signs"),
        ({"form": "[{section: verse, times: many, bars: 9-9}]"}, "'many'"),
        ({"sections": "verse"}, "sections needs keys"),
        ({"sections": "{}"}, "no sections here"),
        ({"sections": ""}, "sections is empty here"),
    ],
)  # fmt: skip
def test_one_mistake_is_reported_once(only, keys, words):
    assert words in only(song(**keys)).message


MISTAKES = {
    "a bad chord": {"sections": {"one": '{bars: "| Hx | A |"}'}},
    "two bad chords in a bar": {"sections": {"two": '{bars: "| Hx Cx | A |"}'}},
    "a bar too full": {"sections": {"three": '{bars: "| A B C | A |"}'}},
    "a repeat sign": {"sections": {"four": '{bars: "| A :| A |"}'}},
    "a bad ending": {"sections": {"five": '{bars: "| A |", endings: {1: "| Hx |", 2: "| A |"}}'}},
    "a bad meter": {"sections": {"six": '{meter: 3/5, bars: "| A |"}'}},
    "a bad pass": {"sections": {"seven": '{bars: "| A |", on-pass: {1: {bars: "| A B C |"}}}'}},
    "a bad key": {"sections": {"eight": '{bars: "| A |", dynamc: soft}'}},
    "an uneven tempo": {"sections": {"nine": '{meter: 5/8, tempo: 60, bars: "| A |"}'}},
    "bars that aren't there": {"form": ["{section: plain, bars: 9-9}"]},
    "too few passes": {"form": ["ended x3"]},
    "an unknown section": {"form": ["verze x2"]},
    "a riff too long": {"form": ["{section: plain, parts: {guitar: {riff: long}}}"]},
    "an unknown strum": {"form": ["{section: plain, parts: {guitar: {strum: lost}}}"]},
    "a tempo change too long": {"form": ["{section: plain, tempo: {to: 60, over: 9}}"]},
    "a group left open": {"form": ["(plain, ended x2"]},
    "an unknown section in a group": {"form": ["(plain, verze) x2"]},
    "a bad speed": {"practice": ["5"]},
    "a bar too far": {"practice": ["{bars: 900-901}"]},
    "a section that isn't played": {"practice": ["{section: nowhere}"]},
    "between without a loop": {"practice": ["{between: 2}"]},
}


def with_mistakes(names) -> str:
    """A good song with some mistakes in it."""
    sections = {"plain": '{bars: "| A | D |"}', "ended": "{bars: A, endings: {1: A, 2: A}}"}
    form, practice = ["plain", "ended x2"], ["75"]
    for name in names:
        mistake = MISTAKES[name]
        sections |= mistake.get("sections", {})
        form += [*mistake.get("sections", {})] + [
            mistake[key] for key in ("form",) if key in mistake
        ]
        practice += [mistake[key] for key in ("practice",) if key in mistake]
    rows = "".join(f"      {string}|0---|0---|0---|\n" for string in "eBGDAE")
    return (
        "title: Slips\ntempo: 90\nmeter: 4/4\nriffs:\n  long:\n    step: 1/4\n    tab: |\n"
        + rows
        + "sections:\n"
        + "".join(f"  {name}: {written}\n" for name, written in sections.items())
        + "form:\n"
        + "".join(f"  - {line}\n" for line in form)
        + "practice:\n"
        + "".join(f"  - {line}\n" for line in practice)
    )


def told(text: str) -> tuple[set[str], bool]:
    """What is reported for a form, and whether it says that there may be more."""
    with pytest.raises(FormError) as caught:
        read_form_text(text)
    return {problem.message for problem in caught.value.problems}, bool(caught.value.rest)


def test_the_song_without_mistakes_is_good():
    read_form_text(with_mistakes([]))


@pytest.mark.parametrize("one", MISTAKES)
def test_no_mistake_hides_another_in_silence(one):
    alone, _ = told(with_mistakes([one]))
    for other in MISTAKES:
        if other == one:
            continue
        found, more = told(with_mistakes([one, other]))
        assert alone <= found or more, (one, other)
        allowed = alone | told(with_mistakes([other]))[0]
        assert {re.sub(r"1-\d+", "", message) for message in found} <= {
            re.sub(r"1-\d+", "", message) for message in allowed
        }, (one, other)


def test_what_is_wrong_in_yaml_itself_says_that_more_may_follow():
    assert told("title: [\ntempo: x\n")[1]
    assert told("bars: | A |\ntempo: x\n")[1]


def test_reading_stops_after_too_many_problems():
    text = song(sections='{verse: {bars: "%s"}}' % ("Hx | " * 500), form="[%s]" % ("b, " * 500))
    with pytest.raises(FormError) as caught:
        read_form_text(text)
    assert len(caught.value.problems) == MAX_PROBLEMS
    assert str(caught.value).endswith("Fix these first, then try again.")


# Anything at all

WHOLE = """\
title: "Lantern"
tempo: {bpm: 92, beat: 1/4}
shapes: {A: x02220}
strums: {easy: {step: 1/8, play: "D - D U"}}
sections:
  verse: &v
    bars: |
      | A | 2/4 D(push) | % |
    endings: {1: "E", 2: 'A'}
  close: {bars: "| A(ring) |", tempo: {to: 60, over: 1}}
form:
  - verse x2
  - {section: close}
"""
PIECES = [
    *"\t\n :|%&*!{}[],\"'-#/()\\@xA19",
    "  ",
    ": ",
    "- ",
    "\n- ",
    "&v ",
    "*v",
    "N.C.",
    "off",
    "灯",
]


@given(
    st.lists(
        st.tuples(st.integers(0, len(WHOLE)), st.integers(0, 6), st.sampled_from(["", *PIECES])),
        min_size=1,
        max_size=3,
    )
)
@settings(max_examples=300, deadline=None)
def test_a_form_with_mistakes_is_read_or_reported_inside_its_text(slips):
    text = WHOLE
    for at, cut, piece in slips:
        text = text[:at] + piece + text[at + cut :]
    try:
        read_form_text(text, "song.yaml")
        return
    except FormError as error:
        told = error
    assert told.problems
    for problem in told.problems:
        assert 1 <= problem.line <= len(told.lines)
        assert 1 <= problem.column <= len(told.lines[problem.line - 1]) + 1
