"""How problems are shown: file:line:column, the line, a caret under the right character."""

from __future__ import annotations

import pytest

from backing import BackingError, DisagreementError, FormError
from backing.errors import Problem


def shown(line: str, column: int, message: str = "wrong.", fix: str = "Write right.") -> list[str]:
    return str(FormError("a.yaml", [Problem(1, column, message, fix)], [line])).split("\n")


def test_a_problem_names_file_line_and_column_and_points_at_the_character():
    head, line, caret = shown("tempo: x", 8)
    assert head == "a.yaml:1:8: wrong. Write right."
    assert line == "    tempo: x"
    assert line[caret.index("^")] == "x"


def test_without_a_fix_the_message_stands_alone():
    assert shown("tempo: x", 8, fix="")[0] == "a.yaml:1:8: wrong."


@pytest.mark.parametrize("length", [97, 200, 5000])
@pytest.mark.parametrize("part", [0, 0.3, 0.5, 0.99, 1])
def test_a_long_line_is_shown_around_the_place(length, part):
    at = int((length - 1) * part)
    text = "." * at + "X" + "." * (length - at - 1)
    _, line, caret = shown(text, at + 1)
    assert line[caret.index("^")] == "X"
    assert len(line) <= 4 + 96


def test_a_place_past_the_end_of_its_line_is_shown_just_after_it():
    _, line, caret = shown("bars:", 6)
    assert caret.index("^") == len(line)


@pytest.mark.parametrize("before", ["灯ろう: ", "か゛ん", "Ёж: ", "ｆｕｌｌ", ""])
def test_the_caret_counts_columns_of_the_terminal_not_characters(before):
    from unicodedata import east_asian_width

    _, _, caret = shown(f"{before}x", len(before) + 1)
    wide = sum(east_asian_width(char) in "WF" for char in before)
    assert caret.index("^") == 4 + len(before) + wide


def test_a_combining_accent_takes_no_column():
    assert shown("e\u0301x", 3)[2].index("^") == 4 + 1


def test_tabs_and_controls_are_shown_as_one_safe_character():
    _, line, caret = shown("a\t\x1b[31mx", 8)
    assert line == "    a \N{REPLACEMENT CHARACTER}[31mx"
    assert line[caret.index("^")] == "x"


def test_problems_are_reported_in_the_order_of_their_places():
    problems = [Problem(2, 1, "c."), Problem(1, 5, "b."), Problem(1, 2, "a.")]
    error = FormError("a.yaml", problems, ["first", "second"])
    assert [p.message for p in error.problems] == ["a.", "b.", "c."]
    heads = [line for line in str(error).split("\n") if line.startswith("a.yaml")]
    assert heads == ["a.yaml:1:2: a.", "a.yaml:1:5: b.", "a.yaml:2:1: c."]


def test_the_rest_is_reported_last():
    error = FormError("a.yaml", [Problem(1, 1, "a.")], ["x"], rest="more.")
    assert str(error).split("\n")[-1] == "more."


def test_without_the_form_s_lines_the_head_stands_alone():
    assert str(FormError("a.yaml", [Problem(3, 4, "wrong.")])) == "a.yaml:3:4: wrong."


def test_exit_codes():
    assert (BackingError.exit_code, FormError.exit_code, DisagreementError.exit_code) == (2, 2, 1)
    assert issubclass(FormError, BackingError)
    assert issubclass(DisagreementError, BackingError)
