"""Tempo, endings and the form list: what holds together, and what is told where it does not."""

from __future__ import annotations

from fractions import Fraction

import pytest
from form.songs import KEYS, song

from backing.form.model import Tempo

# Tempo


@pytest.mark.parametrize("meter", ["7/8", "5/8", "8/8 (3+3+2)", "5/16", "7/16"])
@pytest.mark.parametrize("tempo", ["10", "92", "123.456789", "500", "{bpm: 92}"])
def test_a_bare_tempo_under_uneven_beats_needs_to_say_its_beat(only, reads, meter, tempo):
    text = song(tempo=tempo, meter=f'"{meter}"', sections="{verse: {bars: A}}")
    problem = only(text)
    number = tempo.removeprefix("{bpm: ").removesuffix("}")
    at = text.split("\n")[1].index(number) + 1
    assert (problem.line, problem.column) == (2, at)
    assert "so a number alone isn't enough" in problem.message
    suggested = problem.fix.split("tempo counts: ")[1].removesuffix(".")
    form = reads(song(tempo=suggested, meter=f'"{meter}"', sections="{verse: {bars: A}}"))
    assert form.settings.tempo == Tempo(Fraction(number), Fraction(1, 8))


def test_a_tempo_holds_for_the_beat_of_the_meter_it_is_set_under(reads):
    form = reads(
        song(tempo="60", meter="6/8", sections="{verse: {meter: 3/4, bars: A, tempo: 90}}")
    )
    assert form.settings.tempo == Tempo(Fraction(60), Fraction(3, 8))
    assert form.sections["verse"].settings.tempo == Tempo(Fraction(90), Fraction(1, 4))


def test_a_song_s_tempo_serves_a_section_in_uneven_beats(reads):
    assert reads(song(sections="{verse: {meter: 7/8, bars: A}}"))


@pytest.mark.parametrize(
    ("tempo", "at", "words"),
    [
        ("{}", "{}", "this tempo is empty"),
        ("{beat: 1/4}", "1/4}", "beat needs bpm next to it"),
        ("{to: 60}", "60}", "how many bars"),
        ("{bpm: 90, over: 2}", "2}", "over needs the tempo"),
        ("{bpm: 90, from: first}", "first}", "from needs the tempo"),
        ("{bpm: 10, beat: 1/64}", "{bpm", "isn't between 5 and 1000"),
        ("{bpm: 500, beat: 4/1}", "{bpm", "isn't between 5 and 1000"),
        ("[92]", "[92]", "needs keys with values, not a list"),
        ("{to: 60, over: 3}", "{to", "has only 2"),
    ],
)
def test_a_tempo_that_says_too_little_or_too_much(pointed, tempo, at, words):
    where, printed = pointed(song(form=f"[{{section: verse, tempo: {tempo}}}]"))
    assert where.startswith(at)
    assert words in printed


def test_the_new_tempo_has_the_same_limits(only):
    sections = "{verse: {bars: A, tempo: {to: 10, over: 1}}}"
    assert (
        "isn't between 5 and 1000"
        in only(song(tempo="{bpm: 90, beat: 1/16}", sections=sections)).message
    )


def test_a_tempo_change_longer_than_its_pass_says_how_long_it_can_be(only, reads):
    sections = '{verse: {bars: "A | D", endings: {1: E, 2: "E | A"}, tempo: {to: 60, over: %d}}}'
    assert reads(song(sections=sections % 4, form="[verse x2]"))
    assert only(song(sections=sections % 5, form="[verse x2]")).fix == "Write  over: 4"
    assert only(song(sections=sections % 2, form="[verse bars 1-1]")).fix == "Write  over: 1"


# Endings


ENDINGS = '{verse: {bars: "A | D", endings: %s}}'


@pytest.mark.parametrize(
    ("endings", "form", "played"),
    [
        ("{1: E}", "verse", [1]),
        ("{1: E, 2: D}", "verse x2", [1, 2]),
        ("{1: E, 2: D}", "verse x4", [1, 2]),
        ("{1-3: E, 4: D}", "verse x8", [1, 2, 3, 4]),
        ('{"1,3": E, "2 , 4": D}', "verse x4", [1, 2, 3, 4]),
        ('{" 1 - 2 ": E}', "verse x2", [1, 2]),
        ("{2: E, 1: D}", "verse x2", [1, 2]),
        ("{1: E, 2: D}", "{section: verse, ending: 2}", [1, 2]),
        ("{1: E, 2: D}", "{section: verse, ending: 2, times: 3}", [1, 2]),
        ("{1: E, 2: D}", "verse bars 1-3", [1, 2]),
    ],
)
def test_endings_are_numbered_by_pass(reads, endings, form, played):
    section = reads(song(sections=ENDINGS % endings, form=f"[{form}]")).sections["verse"]
    assert list(section.endings) == played


@pytest.mark.parametrize(
    ("endings", "at", "words"),
    [
        ("{2: E}", "{2", "pass 1 has no ending"),
        ("{1: E, 3: D}", "{1", "pass 2 has no ending"),
        ("{1: E, 1-2: D}", "1-2", "pass 1 already has an ending"),
        ("{1: E, 1: D}", "1: D", "twice"),
        ("{0: E}", "0", "can't read '0' as the passes"),
        ("{first: E}", "first", "Name its passes: 1, 2 or 1-3."),
        ("{2-1: E}", "2-1", "can't read '2-1' as the passes"),
        ('{"1,1": E}', "1,1", "can't read '1,1' as the passes"),
        ("{}", "{}", "Write one per line"),
        ('["E"]', "[", "Write one per line"),
        ("{1: [E]}", "[E]", "bars must be text"),
        ('{1: "%", 2: "3/4 %"}', '%"}', "can't repeat"),
        ("{1: A D E}", "A D E", "such as: A D E /"),
        ("{1: Hx}", "Hx", "isn't a chord"),
    ],
)
def test_mistakes_in_endings(problems, endings, at, words):
    text = song(sections=ENDINGS % endings, form="[verse x2]")
    problem = problems(text)[0]
    assert text.split("\n")[problem.line - 1][problem.column - 1 :].startswith(at)
    assert words in f"{problem.message} {problem.fix}"


@pytest.mark.parametrize("form", ["verse", "verse x3", "{section: verse, times: 3}"])
def test_passes_that_stop_partway_through_the_endings_are_refused(only, reads, form):
    problem = only(song(sections=ENDINGS % "{1: E, 2: D}", form=f"[{form}]"))
    assert "partway through its 2 endings" in problem.message
    suggested = problem.fix.split("name the ending: ")[1].removesuffix(".")
    assert reads(song(sections=ENDINGS % "{1: E, 2: D}", form=f"[{suggested}]"))


def test_times_of_a_section_count_as_passes(reads):
    sections = "{verse: {bars: A, times: 2, endings: {1: E, 2: D, 3: E, 4: D}}}"
    assert reads(song(sections=sections, form="[verse x2]"))


@pytest.mark.parametrize("ending", ["{1: E}", None])
def test_an_ending_that_does_not_exist(pointed, ending):
    sections = ENDINGS % ending if ending else KEYS["sections"]
    where, printed = pointed(song(sections=sections, form="[{section: verse, ending: 2}]"))
    assert where == "2}]"
    assert ("endings 1 to 1" in printed) == bool(ending)


# The form list


@pytest.mark.parametrize(
    ("written", "times", "bars"),
    [
        ("verse", 1, None),
        ("verse x1", 1, None),
        ("verse x12", 12, None),
        ("verse  x2", 2, None),
        ("verse bars 1-2", 1, (1, 2)),
        ("verse bars 2", 1, (2, 2)),
        ("verse bars 1 - 2", 1, (1, 2)),
        ("verse bars 1-2 x3", 3, (1, 2)),
        ("{section: verse, times: 3, bars: 1-2}", 3, (1, 2)),
        ('"verse x2"', 2, None),
        ("verse\n   x2", 2, None),
    ],
)
def test_an_entry_is_text_or_a_mapping(reads, written, times, bars):
    (entry,) = reads(song(form=f"[{written}]")).entries
    assert (entry.section, entry.times, entry.bars) == ("verse", times, bars)


@pytest.mark.parametrize(
    ("written", "at", "words"),
    [
        ("verse x0", "x0", "from 1 to 9999 times"),
        ("verse x10000", "x10000", "from 1 to 9999 times"),
        ("verse x999999999", "x999", "from 1 to 9999 times"),
        ("verse x2 bars 1-2", "verse", "verse bars 5-8 x2."),
        ("verse 2", "verse", "Write  verse,  verse x2,"),
        ("verse × 2", "verse", "Write  verse,  verse x2,"),
        ("verse bars one", "verse", "Write  verse,  verse x2,"),
        ("verse bars 0-1", "verse", "there are no bars 0-1 in it"),
        ("verse bars 1-3", "verse", "there are no bars 1-3 in it"),
        ("verse bars 2-1", "verse", "there are no bars 2-1 in it"),
        ("{section: verse, bars: 3}", "3}", "there are no bars 3-3 in it"),
        ("verse bars 999999999", "verse", "has bars 1-2"),
        ("{times: 2}", "{times", "needs the key section"),
        ("[verse]", "[verse]", "needs keys with values, not a list"),
        ('""', '""', "a form entry is missing"),
        ("x" * 1001, "x", "longer than 1000"),
    ],
)
def test_mistakes_in_the_form_list(pointed, written, at, words):
    where, printed = pointed(song(form=f"[{written}]"))
    assert where.startswith(at)
    assert words in printed


def test_bars_of_a_part_are_counted_through_the_first_ending(reads, only):
    sections = '{verse: {bars: "A | D", endings: {1: "E | E", 2: "D | D | D"}}}'
    assert reads(song(sections=sections, form="[verse bars 3-4]"))
    assert "bars 1-4" in only(song(sections=sections, form="[verse bars 3-5]")).message
    assert reads(song(sections=sections, form="[{section: verse, bars: 3-5, ending: 2}]"))
