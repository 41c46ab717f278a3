"""Tab as typed: every mistake found at once, at its place, and rows named after the strings."""

from __future__ import annotations

import pytest
from form.songs import song

from backing.errors import FormError
from backing.form import read_form_text

ROWS = {
    "e": "----0---|", "B": "--2---2-|", "G": "----2---|",
    "D": "--2-----|", "A": "0-------|", "E": "--------|",
}  # fmt: skip


def form(rows: dict[str, str] | list[str], step: str = "1/8", rest: str = "", **keys: str) -> str:
    """A song with a riff of these rows; with a list, they are whole lines."""
    lines = rows if isinstance(rows, list) else [f"{name}|{row}" for name, row in rows.items()]
    tab = "".join(f"      {line}\n" for line in lines)
    part = "{lead: {riff: weir}}"
    sections = f'{{tune: {{bars: "| A |", parts: {part}}}}}'
    riffs = f"riffs:\n  weir:\n    step: {step}\n    tab: |\n{tab}"
    return song(sections=sections, form="[tune]", **keys) + rest + riffs


def problems(text: str) -> list[tuple[str, str]]:
    """What stands at each problem, up to the line's end, and its message."""
    with pytest.raises(FormError) as refused:
        read_form_text(text)
    lines = text.split("\n")
    return [
        (lines[problem.line - 1][problem.column - 1 :], f"{problem.message} {problem.fix}".strip())
        for problem in refused.value.problems
    ]


def test_two_crooked_rows_a_bad_cell_and_what_follows_are_found_at_once() -> None:
    rows = ROWS | {"B": "--2---2|", "G": "----2-?-|", "A": "0---b-----|", "E": "h-------|"}
    text = form(rows).replace("tune]", "tune, tone]") + "picks:\n  broken: {step: 1/8, play: p q}\n"
    found = problems(text)
    assert [what for what, _ in found] == [
        "tone]", "--2---2|", "?-|", "0---b-----|", "b-----|", "h-------|", "h-------|", "q}",
    ]  # fmt: skip


def test_several_mistakes_on_one_string_are_found_at_once() -> None:
    found = problems(form(ROWS | {"e": "3h2-27-b|", "D": "h-0p-/2~|"}))
    assert [message.split(".")[0] for _, message in found] == [
        "h goes up, but 3 to 2 doesn't",
        "there is no fret 27",
        "b has no fret before it",
        "h has no note to start from",
        "p goes down, but 0 to 2 doesn't",
        "/ follows p with no note between",
    ]


def test_rows_without_bar_lines_and_bars_that_are_missing_are_found_at_once() -> None:
    lines = ["e 0-------", "B|0-------", "G|--------|", "D|--------|", "A|--------|--------|"]
    found = problems(form(lines))
    assert [message.split(".")[0] for _, message in found] == [
        "this row of tab has no bar lines",
        "this row of tab doesn't end with a bar line",
        "this string has 2 bars, but the top one has 1 bar",
        "this tab has 5 rows",
    ]


def test_a_tab_without_its_step_is_read_too() -> None:
    text = form(ROWS | {"B": "--2---2|"}).replace("step: 1/8", "setp: 1/8")
    assert [what for what, _ in problems(text)] == ["setp: 1/8", "--2---2|"]


def test_a_top_row_that_differs_from_all_others_is_the_one_at_fault() -> None:
    (found,) = problems(form(ROWS | {"e": "----0----|"}))
    assert found[0] == "----0----|"
    assert "this bar has 9 cells here and 8 on the others" in found[1]


# Brackets, dots and rests


@pytest.mark.parametrize(
    ("row", "at", "message"),
    [
        ("(5------", "(5--", "(5 has one bracket. Write (5) for a ghost note"),
        ("5)------", "5)--", "5) has one bracket"),
        ("(5>-----", "(5>-", "(5> has one bracket"),
        (
            "<6>-----",
            "<6>-",
            "no natural harmonic at fret 6. Write 3, 4, 5, 7, 9, 12, 16, 19 or 24",
        ),
        ("(x)-----", "(x)-", "( has no fret next to it"),
        ("<25>----", "25>-", "there is no fret 25"),
        ("<12>b---", "b---", "a harmonic can't have b"),
        ("<12>~---", "~---", "a harmonic can't have ~"),
        ("<5>h7---", "h7--", "h can't start from a harmonic"),
        ("5h<7>---", "h<7>", "h leads to a harmonic"),
        ("5./7----", "/7--", "/ can't start from a short note. Take the / away, or the dot"),
        ("-.-5----", ".-5-", ". has no fret before it. Write it right after its fret: 7."),
        ("5h-r----", "r---", "h leads to a rest"),
        ("r-h5----", "h5--", "h has no note to start from"),
    ],
)
def test_signs_that_say_nothing_clear_are_refused(row: str, at: str, message: str) -> None:
    found = problems(form(ROWS | {"B": row + "|"}))
    assert found[0][0].startswith(at)
    assert message in found[0][1]


# The hand and the palm


def test_rows_of_the_hand_and_the_palm_may_stand_anywhere() -> None:
    for name in ("RH", "rh", "R.H."):
        assert read_form_text(form({name: "p-m-i---|"} | ROWS | {"P.M.": "==------|"})).riffs
    riff = read_form_text(form(ROWS | {"PM": "==------|", "RH": "p-m-i---|"})).riffs["weir"]
    assert riff.bars[0].palm == "==------"
    assert riff.bars[0].fingers == ("p-m-i---",)


@pytest.mark.parametrize(
    ("extra", "at", "message"),
    [
        (["RH|pi------|"], "i---", "i has no string to pick here"),
        (["RH|p-------|", "RH|i-------|"], "i---", "i has no string to pick here"),
        (["RH|--p-----|", "RH|--p-----|"], "p---", "p is there twice"),
        (
            ["RH|x-------|"],
            "x---",
            "can't read 'x' as a cell of tab. A row named RH",
        ),
        (["PM|==~-----|"], "~---", "A row named PM has = where the palm mutes, and - elsewhere"),
        (["PM|==------|", "PM|==------|"], "PM|=", "this tab already has a row named PM"),
        (["PM|==-----|"], "==--", "this bar has 7 cells here and 8 on the top string"),
        (["RH|p-------|--------|"], "----", "this row has 2 bars, but the top one has 1 bar"),
    ],
)
def test_rows_of_the_hand_and_the_palm_that_do_not_fit(
    extra: list[str], at: str, message: str
) -> None:
    lines = [f"{name}|{row}" for name, row in ROWS.items()]
    found = problems(form([*lines, *extra]))
    assert found[0][0].startswith(at)
    assert message in found[0][1]


# The names of rows


def named(names: str, capo: str = "0", tuning: str = "E2 A2 D3 G3 B3 E4") -> str:
    rows = [f"{name}|{row}" for name, row in zip(names.split(), ROWS.values(), strict=True)]
    return form(rows, rest=f"tuning: {tuning}\ncapo: {capo}\n")


@pytest.mark.parametrize(
    "names",
    ["E B G D A E", "e b g d a e", "e H G D A E", "I I I I I I", "e . . . . .",
     "Fb Cb G D A E", "e B G D A high"],
)  # fmt: skip
def test_names_of_the_open_strings_or_of_none_are_fine(names: str) -> None:
    assert read_form_text(named(names)).riffs
    assert read_form_text(named(names, capo="2")).riffs


@pytest.mark.parametrize(
    ("names", "tuning"),
    [
        ("E A D G B e", "E2 A2 D3 G3 B3 E4"),
        ("D A D G A D", "D2 A2 D3 G3 A3 D4"),
        (". A D G B .", "E2 A2 D3 G3 B3 E4"),
    ],
)
def test_rows_that_are_upside_down_are_refused(names: str, tuning: str) -> None:
    ((what, message),) = problems(named(names, tuning=tuning))
    assert what.startswith(f"{names.split()[0]}|")
    top = "E B G D A E" if tuning.startswith("E") else "D A G D A D"
    assert message == (
        f"the rows of this tab are upside down. Write the highest string on top: {top}."
    )


def test_a_name_of_another_string_than_the_tunings_is_refused() -> None:
    ((what, message),) = problems(named("e B G D A E", tuning="D2 A2 D3 G3 B3 E4"))
    assert what.startswith("E|")
    assert "this row is named E, but the sixth string is D" in message
    assert read_form_text(named("e B G D A D", tuning="D2 A2 D3 G3 B3 E4")).riffs
    ((what, message),) = problems(named("F# C# A E B F#", capo="2"))
    assert what.startswith("F#|")
    assert message.endswith("after the open strings, the highest first: E B G D A E.")


def test_flats_and_sharps_are_the_same() -> None:
    half_down = "Eb2 Ab2 Db3 Gb3 Bb3 Eb4"
    for names in ("Eb Bb Gb Db Ab Eb", "d# a# f# c# g# d#", "E♭ B♭ G♭ D♭ A♭ E♭"):
        assert read_form_text(named(names, tuning=half_down)).riffs


def test_a_tuning_that_cannot_be_read_judges_no_names() -> None:
    found = problems(named("E A D G B e", tuning="E2 A2 H3 G3 B3 E4"))
    assert len(found) == 1
