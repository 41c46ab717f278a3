"""`practice:` in a form: what each line means, and what is refused, at its place."""

from __future__ import annotations

from fractions import Fraction

import pytest
from form.songs import song
from form_printer import print_form

from backing.form.practice_records import Exercise, Ladder, Practice

SECTIONS = '{verse: {bars: "| A | D |"}, chorus: {bars: "| E |"}}'
FORM = "[verse x2, chorus, verse, {section: chorus, label: Last one}]"


def practice(written: str) -> str:
    return song(key="A", sections=SECTIONS, form=FORM, practice=written)


def percent(*numbers: str) -> tuple[Fraction, ...]:
    return tuple(Fraction(number) / 100 for number in numbers)


@pytest.mark.parametrize(
    ("written", "exercise"),
    [
        ("60", Exercise(percent("60"))),
        ('" 60 , 72.5% "', Exercise(percent("60", "72.5"))),
        ("{speed: [60, 75%, 300]}", Exercise(percent("60", "75", "300"))),
        ('{speed: ["60, 75", 90]}', Exercise(percent("60", "75", "90"))),
        ("{ladder: 60-100}", Exercise(ladder=Ladder(Fraction(3, 5), Fraction(1)))),
        (
            '{ladder: "100% - 62.5% by 2.5"}',
            Exercise(ladder=Ladder(Fraction(1), Fraction(5, 8), Fraction(1, 40))),
        ),
        ("{section: CHORUS, loop: 3}", Exercise(section=("CHORUS", "CHORUS"), loop=3)),
        ("{section: verse .. Last one}", Exercise(section=("verse", "Last one"))),
        ('{section: "Verse 1 (2 of 2)..Chorus"}', Exercise(section=("Verse 1 (2 of 2)", "Chorus"))),
        ("{bars: 3}", Exercise(bars=(3, 3))),
        ("{bars: 1 - 8, loop: 2, between: 1}", Exercise(bars=(1, 8), loop=2, between=1)),
        ('{without: "guitar, bass"}', Exercise(without=("guitar", "bass"))),
        ("{only: [click]}", Exercise(only=("click",))),
        ("{transpose: -3, keep-shapes: on}", Exercise(transpose=-3, keep_shapes=True)),
        ("{capo: 0, easier: on, trade: 2}", Exercise(capo=0, easier=True, trade=2)),
        ("{without: [Bass, PAD]}", Exercise(without=("bass", "pad"))),
        ("{loop: 200, transpose: 24}", Exercise(loop=200, transpose=24)),
    ],
)
def test_each_line_is_an_exercise(reads, written, exercise):
    form = reads(practice(f"[{written}]"))
    assert form.practice == Practice((), (exercise,))
    assert reads(print_form(form)) == form


def test_formats_stand_beside_the_set(reads):
    form = reads(practice("{formats: [mp3, page], set: [75]}"))
    assert form.practice == Practice(("mp3", "page"), (Exercise(percent("75")),))
    assert reads(print_form(form)) == form
    assert reads(practice("{formats: ogg}")).practice == Practice(("ogg",))


@pytest.mark.parametrize(
    ("written", "at", "says"),
    [
        ("75", "75", "practice is a list of exercises"),
        ("[]", "[]", "practice must be a list"),
        ("{}", "{}", "practice is empty here"),
        ("[{}]", "{}]", "this exercise is empty"),
        ("[60, {loud: 2}]", "loud", "an exercise has no key 'loud'"),
        ("[9]", "9]", "'9' is out of range. Write 10% to 300%."),
        ('["60, 755"]', "755", "'755' is out of range. Write 10% to 300%."),
        ("[1/2]", "1/2", "'1/2' isn't a percentage. Write 10% to 300%."),
        ("[{speed: [60, 60]}]", "[60", "60% is listed twice."),
        ("[{ladder: 60}]", "60}", "'60' isn't a ladder. Write the first speed, the last one"),
        ("[{ladder: 60-600}]", "600", "'600' is out of range. Write 10% to 300%."),
        ("[{ladder: 60-60}]", "60-60", "starts and ends at 60%. Write two different speeds"),
        ("[{ladder: 60-100 by 0.5}]", "0.5", "'0.5' is out of range. Write 1 to 100"),
        ("[{ladder: 60-100 by ten}]", "ten", "'ten' isn't a number of percentage points"),
        ("[{speed: 60, 75}]", "{speed", "Put several values in brackets:  speed: [60, 75]"),
        ("[{without: guitar, bass}]", "{without", "Put several values in brackets"),
        ('[{without: "guitar, bas"}]', "bas", "Did you mean bass?"),
        ("[{without: [bass, bass]}]", "[bass", "bass is listed twice"),
        ("[{section: chrous}]", "chrous", "Did you mean chorus?"),
        ("[{section: verse..chrous}]", "chrous", "Did you mean chorus?"),
        ("[{section: Last one..verse}]", "verse", "is played only before the stretch begins"),
        ("[{section: verse..}]", "verse..", "needs a section before and after the dots"),
        ("[{bars: 5-9}]", "5-9", "there is no bar 9. The song has bars 1-8."),
        ("[{bars: 4-2}]", "4-2", "'4-2' isn't a range of bars"),
        ("[{bars: 0-2}]", "0-2", "'0-2' isn't a range of bars"),
        ("[{bars: 1-2, section: verse}]", "bars", "section and bars don't go together"),
        ("[{speed: 60, ladder: 60-70}]", "ladder", "speed and ladder don't go together"),
        ("[{without: bass, only: click}]", "only", "Keep without or only."),
        ("[{key: D, transpose: 2}]", "transpose", "Keep key or transpose."),
        ("[{key: D, keep-shapes: on, capo: 2}]", "keep-shapes", "Keep capo or keep-shapes."),
        ("[{rung: 5}]", "rung", "an exercise has no key 'rung'"),
        ("[{answer: 2}]", "answer", "an exercise has no key 'answer'"),
        ("[{between: 1}]", "between", "between needs more than one round. Add loop: 8"),
        ("[{keep-shapes: on}]", "keep-shapes", "keep-shapes needs a key to move to. Add tran"),
        ("[{trade: 2, without: guitar}]", "trade", "trade needs the guitar, which is left out"),
        ("[{trade: 2, only: bass}]", "trade", "trade needs the guitar, which is left out"),
        ("[{ladder: 10-300 by 1, loop: 4}]", "4}]", "this comes to 1,164 rounds"),
        ("[{ladder: 60-100, loop: 112}]", "112", "this comes to 1,008 rounds"),
        ("{formats: [mp4]}", "mp4", "Did you mean mp3?"),
        ("{sets: [75]}", "sets", "Did you mean set?"),
    ],
)
def test_a_mistake_is_refused_at_its_place(pointed, written, at, says):
    found, message = pointed(practice(written))
    assert found.startswith(at)
    assert says in message


def test_a_key_needs_a_song_with_a_key(pointed):
    at, says = pointed(song(practice="[{key: D}]"))
    assert at.startswith("key")
    assert "the song has no key to move it from" in says


def test_too_many_bars_are_refused(pointed):
    at, says = pointed(song(form="[verse x999]", practice="[{loop: 100}]"))
    assert at.startswith("100")
    assert "199,800 bars" in says


def test_mistakes_of_the_song_are_not_reported_twice(problems):
    found = problems(song(form="[verze]", practice="[{section: verze}, {bars: 1-99}]"))
    assert [problem.message for problem in found] == ["there is no section 'verze'."]
