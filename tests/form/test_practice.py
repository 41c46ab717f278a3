"""`practice:` in a form: what its lines come to, and what is refused, at its place."""

from __future__ import annotations

from fractions import Fraction

import pytest
from form.songs import song

from backing.form.model import Exercise, Practice
from backing.form.printer import print_form

SECTIONS = '{verse: {bars: "| A | D |"}, chorus: {bars: "| E |"}}'
FORM = "[verse x2, chorus, verse, {section: chorus, label: Last one}]"


def practice(said: str) -> str:
    return song(key="A", sections=SECTIONS, form=FORM, practice=said)


def percent(*numbers: str) -> tuple[Fraction, ...]:
    return tuple(Fraction(number) / 100 for number in numbers)


@pytest.mark.parametrize(
    ("said", "exercise"),
    [
        ("60", Exercise(percent("60"))),
        ('" 60 , 72.5% "', Exercise(percent("60", "72.5"))),
        ("{speed: [60, 75%, 300]}", Exercise(percent("60", "75", "300"))),
        ('{speed: ["60, 75", 90]}', Exercise(percent("60", "75", "90"))),
        ("{ladder: 60-100}", Exercise(ladder=(Fraction(3, 5), Fraction(1)))),
        (
            '{ladder: "100% - 62.5%", rung: 2.5}',
            Exercise(ladder=(Fraction(1), Fraction(5, 8)), rung=Fraction(1, 40)),
        ),
        ("{section: CHORUS, loop: 3}", Exercise(section=("CHORUS", "CHORUS"), loop=3)),
        ("{section: verse .. Last one}", Exercise(section=("verse", "Last one"))),
        ('{section: "Verse 1 (2 of 2)..Chorus"}', Exercise(section=("Verse 1 (2 of 2)", "Chorus"))),
        ("{bars: 3}", Exercise(bars=(3, 3))),
        ("{bars: 1 - 8, loop: 2, between: 1}", Exercise(bars=(1, 8), loop=2, between=1)),
        ('{without: "guitar, bass"}', Exercise(without=("guitar", "bass"))),
        ("{only: [click]}", Exercise(only=("click",))),
        ("{transpose: -3, keep-shapes: on}", Exercise(transpose=-3, keep_shapes=True)),
        ("{capo: 0, easier: on, answer: 2}", Exercise(capo=0, easier=True, answer=2)),
    ],
)
def test_what_a_line_means(reads, said, exercise):
    form = reads(practice(f"[{said}]"))
    assert form.practice == Practice((), (exercise,))
    assert reads(print_form(form)) == form


def test_formats_stand_beside_the_set(reads):
    form = reads(practice("{formats: [mp3, page], set: [75]}"))
    assert form.practice == Practice(("mp3", "page"), (Exercise(percent("75")),))
    assert reads(print_form(form)) == form
    assert reads(practice("{formats: ogg}")).practice == Practice(("ogg",))


@pytest.mark.parametrize(
    ("said", "at", "says"),
    [
        ("75", "75", "practice is a list of exercises"),
        ("[]", "[]", "practice is a list"),
        ("{}", "{}", "practice says nothing here"),
        ("[{}]", "{}]", "this exercise says nothing"),
        ("[60, {loud: 2}]", "loud", "an exercise has no key 'loud'"),
        ("[9]", "9]", "a speed can't be '9'"),
        ('["60, 755"]', "755", "a speed can't be '755'"),
        ("[1/2]", "1/2", "a speed can't be '1/2'"),
        ("[{ladder: 60}]", "60}", "Write the first and the last percentage"),
        ("[{ladder: 60-600}]", "600", "a speed can't be '600'"),
        ("[{ladder: 60-60}]", "60-60", "Write  speed: 60"),
        ("[{speed: 60, 75}]", "{speed", "Put several into brackets:  speed: [60, 75]"),
        ("[{without: guitar, bass}]", "{without", "Put several into brackets"),
        ('[{without: "guitar, bas"}]', "bas", "Did you mean bass?"),
        ("[{without: [bass, bass]}]", "[bass", "without has bass twice"),
        ("[{section: chrous}]", "chrous", "Did you mean chorus?"),
        ("[{section: verse..chrous}]", "chrous", "Did you mean chorus?"),
        ("[{section: Last one..verse}]", "verse", "is played only before the stretch begins"),
        ("[{section: verse..}]", "verse..", "Write the first and the last section"),
        ("[{bars: 5-9}]", "5-9", "the song has the bars 1-8, not 5-9"),
        ("[{bars: 4-2}]", "4-2", "not 4-2"),
        ("[{bars: 1-2, section: verse}]", "bars", "section and bars contradict each other"),
        ("[{speed: 60, ladder: 60-70}]", "ladder", "speed and ladder contradict each other"),
        ("[{without: bass, only: click}]", "only", "Keep without or only."),
        ("[{key: D, transpose: 2}]", "transpose", "Keep key or transpose."),
        ("[{key: D, keep-shapes: on, capo: 2}]", "keep-shapes", "Keep capo or keep-shapes."),
        ("[{rung: 5}]", "rung", "Add  ladder: 60-100"),
        ("[{between: 1}]", "between", "Add  loop: 8"),
        ("[{keep-shapes: on}]", "keep-shapes", "Add  transpose: -2"),
        ("[{answer: 2, without: guitar}]", "answer", "Keep the guitar"),
        ("[{answer: 2, only: bass}]", "answer", "Keep the guitar"),
        ("[{ladder: 10-300, rung: 1}]", "1}]", "this comes to 291 rounds"),
        ("[{ladder: 60-100, loop: 12}]", "12", "this comes to 108 rounds"),
        ("{formats: [mp4]}", "mp4", "Did you mean mp3?"),
        ("{sets: [75]}", "sets", "Did you mean set?"),
    ],
)
def test_what_is_refused_at_its_place(pointed, said, at, says):
    found, said_ = pointed(practice(said))
    assert found.startswith(at)
    assert says in said_


def test_a_key_needs_a_song_with_a_key(pointed):
    at, says = pointed(song(practice="[{key: D}]"))
    assert at.startswith("key")
    assert "the song names no key" in says


def test_too_many_bars_are_refused(pointed):
    at, says = pointed(song(form="[verse x999]", practice="[{loop: 100}]"))
    assert at.startswith("100")
    assert "199,800 bars" in says


def test_problems_of_the_song_are_not_reported_twice(problems):
    found = problems(song(form="[verze]", practice="[{section: verze}, {bars: 1-99}]"))
    assert [problem.message for problem in found] == ["there is no section 'verze'."]
