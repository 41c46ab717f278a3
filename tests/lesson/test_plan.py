"""The set: as the form names it, or the usual one; what versions and files are called."""

from __future__ import annotations

from fractions import Fraction

import pytest
from form.songs import song

from backing.form import read_form_text
from backing.form.exercises import FORMATS as NAMED_FORMATS
from backing.lesson.makers import FORMATS
from backing.lesson.plan import called, items, most_to_learn
from backing.practice.played import play_version
from backing.practice.versions import Stretch, Version, check

SECTIONS = (
    '{verse: {bars: "| A | D | A | D |"}, chorus: {bars: "| A | D | E | F#m |"}, '
    'close: {bars: "| D E F#m A |"}}'
)
FORM = "[verse, chorus, verse, chorus, close]"


def names(**keys: str) -> list[str]:
    return [item.name for item in items(read_form_text(song(**keys)))]


def test_the_usual_set_is_what_the_language_page_says() -> None:
    assert names(sections=SECTIONS, form=FORM) == [
        "01 whole song 60%",
        "02 chorus ladder 60-100%",
        "03 whole song 75%",
        "04 whole song 90%",
        "05 whole song 100%",
        "06 whole song 75% without guitar",
        "07 whole song 100% without guitar",
    ]


def test_a_song_of_one_section_climbs_as_a_whole() -> None:
    assert names(form="[verse x3]")[1] == "02 whole song ladder 60-100%"


def test_without_a_guitar_nothing_is_left_out() -> None:
    usual = names(parts="{guitar: off}", sections=SECTIONS, form=FORM)
    assert len(usual) == 5
    assert not any("without" in name for name in usual)


def test_a_guitar_in_one_section_is_a_guitar() -> None:
    sections = '{verse: {bars: "| A |"}, solo: {bars: "| D |", parts: {guitar: on}}}'
    usual = names(parts="{guitar: off}", sections=sections, form="[verse, solo]")
    assert usual[-1] == "07 whole song 100% without guitar"


@pytest.mark.parametrize(
    ("sections", "form", "most"),
    [
        (SECTIONS, FORM, "chorus"),  # three changes here and in the close; it comes first
        (SECTIONS, "[close, chorus]", "close"),
        (SECTIONS, "[verse, close]", "close"),
        (SECTIONS, "[chorus, chorus]", None),
        # a change that comes back counts once, and a chord that goes on is none
        ('{a: {bars: "| A D | A D | A D |"}, b: {bars: "| A | % | D | E |"}}', "[a, b]", "a"),
        ('{a: {bars: "| A D | A D |"}, b: {bars: "| A D | E A |"}}', "[a, b]", "b"),
        # into an ending counts, and so does what is in it
        (
            '{a: {bars: "| A D E |", meter: 3/4}, b: {bars: "| A |", endings: {1: D, 2: E F#m}}}',
            "[a, b x2]",
            "b",
        ),
    ],
)
def test_most_to_learn(sections: str, form: str, most: str | None) -> None:
    assert most_to_learn(read_form_text(song(sections=sections, form=form))) == most


def test_a_written_set_is_in_the_order_written_and_a_speed_is_a_file() -> None:
    practice = (
        "[{section: chorus, loop: 4, speed: [75, 62.5]}, 60, {ladder: 100-60 by 15, "
        "bars: 2-3, between: 0}, {trade: 2, without: [drums, bass], transpose: -2, capo: 3}]"
    )
    form = read_form_text(song(sections=SECTIONS, form=FORM, practice=practice))
    assert [item.name for item in items(form)] == [
        "01 chorus loop 75%",
        "02 chorus loop 62.5%",
        "03 whole song 60%",
        "04 bars 2-3 ladder 100-60%",
        "05 whole song 100% without bass and drums trade 2 transposed -2 capo 3",
    ]
    loop, _, _, ladder, last = (item.version for item in items(form))
    assert loop == Version((Fraction(3, 4),), loop=4, stretch=Stretch("chorus", "chorus"))
    percents = [speed * 100 for speed in ladder.speeds]
    assert percents == [100, 85, 70, 60]
    assert (ladder.between, ladder.stretch) == (0, Stretch(bars=(2, 3)))
    assert (last.trade, last.without, last.transpose, last.capo) == (2, {"drums", "bass"}, -2, 3)


def test_a_ladder_counts_in_one_bar_between_speeds_by_default() -> None:
    form = read_form_text(song(practice="[{ladder: 60-100}, {loop: 3}]"))
    assert [item.version.between for item in items(form)] == [1, 0]


@pytest.mark.parametrize(
    "practice",
    [
        "[{ladder: 60-100 by 5, loop: 2, between: 8}]",
        "[{key: D, keep-shapes: on}]",
        "[{key: D, capo: 11, easier: on, without: guitar}]",
        "[{only: 'guitar, click', trade: 64}]",
        "[{speed: [10, 300], loop: 999}]",
    ],
)
def test_what_the_form_takes_the_practice_room_takes(practice: str) -> None:
    for item in items(read_form_text(song(key="A", practice=practice))):
        check(item.version)


def test_numbers_have_as_many_digits_as_the_last() -> None:
    practice = "[" + ", ".join(["75"] * 100) + "]"
    assert names(practice=practice)[0] == "001 whole song 75%"


def test_a_name_is_safe_for_any_system() -> None:
    sections = '{"a/b: c?": {bars: "| A |"}}'
    assert names(
        sections=sections, form='["a/b: c?"]', practice='[{section: "a/b: c?", loop: 2}]'
    ) == ["01 a b c loop 100%"]


def test_words_for_every_wish() -> None:
    form = read_form_text(song(key="A", practice="[{key: Bb, easier: on, only: 'click, bass'}]"))
    assert called(items(form)[0].version) == "whole song 100% only click and bass in Bb easier"


@pytest.mark.parametrize(
    ("instrument", "part", "name"),
    [
        ("ukulele", "guitar", "without click and ukulele"),
        ("baritone ukulele", "guitar", "without click and baritone ukulele"),
        ("bass", "guitar", "without click and guitar"),
        ("five-string bass", "bass", "without click and bass"),
    ],
)
def test_a_file_names_the_part_as_the_student_knows_it(
    instrument: str, part: str, name: str
) -> None:
    form = read_form_text(song(instrument=instrument, practice=f"[without: '{part}, click']"))
    (item,) = items(form)
    assert item.name == f"01 whole song 100% {name}"
    assert play_version(form, item.version).score.title == f"{form.title} - {name}"


def test_every_format_that_can_be_named_can_be_made() -> None:
    assert set(FORMATS) == set(NAMED_FORMATS)
    assert len({(of.once, of.ending) for of in FORMATS.values()}) == len(FORMATS)
