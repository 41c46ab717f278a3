"""YAML to a tree: scalars stay text, places are exact, stumbles are told plainly."""

from __future__ import annotations

import pytest
from form.songs import LEAST, spoiled

from backing.errors import FormError
from backing.form.reader import read_form_bytes, read_form_text
from backing.form.source import Source, read_source
from backing.form.tree import Node, compose


def tree(text: str) -> Node:
    node = compose(Source("a.yaml", text))
    assert node is not None
    return node


# Scalars are text


@pytest.mark.parametrize(
    "word",
    ["off", "no", "yes", "on", "true", "null", "~", "022100", "0x1F", "1e3", "1_000", "1:30",
     "2026-01-01", ".inf", "4/4", "F#m7", "A/C#"],
)  # fmt: skip
def test_every_scalar_stays_text(word):
    root = tree(f"a: {word}\nb: [{word}]\n{word}: c\n")
    (_, a), (_, b), (key, _) = root.pairs
    assert [a.text, b.items[0].text, key.text] == [word] * 3


# Places


@pytest.mark.parametrize(
    ("bars", "line", "column"),
    [
        ("A | Hx", 5, 15),
        ('"| A | Hx |"', 5, 18),
        ("'| A | Hx |'", 5, 18),
        ('"   | A | Hx |"', 5, 21),
        ('"| A\n      | Hx"', 6, 9),
        ("'| A\n\n      | Hx'", 7, 9),
        ("A\n      | Hx", 6, 9),
        ("|\n      | A | Hx |", 6, 13),
        ("|\n      | A |\n      | D | Hx |", 7, 13),
        ("|\n\n      | A |\n\n        | D | Hx |", 9, 15),
        ("|-\n      | Hx |", 6, 9),
        ("|+\n      | Hx |\n\n", 6, 9),
        ("|1\n      | Hx |", 6, 9),
        ("| # Hx is no chord\n      | A | Hx |", 6, 13),
        (">\n      | A\n      | Hx |", 7, 9),
        ('&Hx "| A | Hx |"', 5, 22),
        ("&Hx |\n      | Hx |", 6, 9),
        ('&Hx\n      "| Hx"', 6, 10),
        ('"\\u0041 | Hx"', 5, 21),
        ('"A\\n| D | no |"', 5, 21),
        ('"A\\tD A D | Hx"', 5, 23),
        ('"A |\\\n      Hx"', 6, 7),
        ('"A | \\x48x"', 5, 16),
        ("灯" * 20 + " | A", 5, 11),
    ],
)
def test_a_problem_in_bars_is_placed_to_the_character(problems, bars, line, column):
    (problem,) = problems(spoiled('"| A | D |"', bars))
    assert (problem.line, problem.column) == (line, column)


def test_a_problem_in_a_flow_mapping_is_placed_to_the_character(pointed):
    text = spoiled('\n    bars: "| A | D |"', ' {times: 1, bars: "| A | Hx |"}')
    assert pointed(text)[0] == 'Hx |"}'


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_a_byte_order_mark_move_no_place(problems, ends, mark):
    text = mark + spoiled("| D |", "| Hx |").replace("title: Lantern", "titel: Lantern")
    found = problems(text.replace("\n", ends))
    assert [(p.line, p.column) for p in found] == [(1, 1), (5, 18)]


def test_columns_count_characters_not_bytes(pointed):
    where, _ = pointed(spoiled("form:", 'strums: {"灯籠 🎸": {step: 1/8, play: D Q}}\nform:'))
    assert where == "Q}}"


@pytest.mark.parametrize(
    ("written", "line", "column"),
    [("tempo:\n", 2, 1), ("tempo: \n", 2, 1), ('tempo: ""\n', 2, 8), ("tempo: # 92\n", 2, 1)],
)
def test_a_missing_value_is_placed_at_its_key(only, written, line, column):
    problem = only(spoiled("tempo: 92\n", written))
    assert (problem.line, problem.column) == (line, column)
    assert "missing" in problem.message


# Where YAML stumbles: what stands at the place, and words of the advice

STUMBLES = [
    # bars without quotes
    ('"| A | D |"', "| A | D |", "| A | D |", 'Put the value in quotes:  bars: "| A | D |"'),
    ('"| A | D |"', "|A|D|", "|A|D|", 'bars: "|A|D|"'),
    ('"| A | D |"', "|2/4 A|4/4 D|", "|2/4 A", 'bars: "|2/4 A|4/4 D|"'),
    ('"| A | D |"', "| A | D |  # twice", "| A | D |  #", 'bars: "| A | D |"'),
    ('"| A | D |"', "> A | D", "> A | D", 'bars: "> A | D"'),
    ('"| A | D |"', "|\n| A | D |", "| A | D |", "Indent every row the same"),
    ('"| A | D |"', "|\n      | A |\n    | D |", "| D |", "too far to the left"),
    ('\n    bars: "| A | D |"', " {bars: | A | D |}", "| A | D |}", "unless it is quoted"),
    # signs that YAML keeps for itself
    ('"| A | D |"', "% | A", "% | A", "can't start with % unless it is quoted"),
    ('"| A | D |"', "|\n%\n", "%", "Indent a row of bars"),
    ("Lantern", "@home", "@home", "can't start with @"),
    ("Lantern", "`x`", "`x`", "can't start with `"),
    ("Lantern", "!loud", "!loud", "can't start with !"),
    ("Lantern", "!!str x", "!!str", "can't start with !"),
    ("Lantern", "!e!x y", "!e!x y", "can't start with !"),
    ("Lantern", "!", "!", "can't start with !"),
    ("tempo: 92", "tempo: !{bpm: 92}", "!{bpm", "can't start with !"),
    # nothing where a value should be
    ("form:\n", "form: -", "-", "Start it on the next line"),
    ("tempo: 92", "tempo: ,", ",", "a value is missing before this ,"),
    ("tempo: 92", "tempo: {bpm: 92, ]}", "]}", "a value is missing before this ]"),
    ("- verse", "- {section: verse,", "", "close any open brackets"),
    ("Lantern", "* star", "* star", "can't start with *"),
    ("Lantern", "& more", "& more", "can't start with &"),
    # indentation
    ("  verse", "\tverse", "\tverse", "Indent with spaces."),
    ("  - verse", "\t- verse", "\t- verse", "Indent with spaces."),
    ('"| A | D |"', "|\n\t| A |", "\t| A |", "Indent with spaces."),
    ("title: L", "title:\tL", "\tLantern", "Type a space instead."),
    ("tempo", " tempo", "tempo: 92", "Start it in the same column as the key above."),
    ("form:", " form:", "form:", "indentation doesn't match anything above it"),
    (
        "  - verse\n",
        "  - verse\n - verse\n",
        "- verse",
        "indentation doesn't match anything above it",
    ),
    ("    bars", "   times: 1\n    bars", "bars", "indented more than the line above"),
    # quotes
    ("Lantern", '"Lantern', '"Lantern', "this quote isn't closed"),
    ("Lantern", "'Lantern", "'Lantern", "this quote isn't closed"),
    ('D |"', "D |", '"| A | D |', "this quote isn't closed"),
    ("Lantern\n", '"Lantern\nby: "me"\n', '"Lantern', "this quote isn't closed"),
    ("Lantern", "'Don't stop'", "t stop'", "apostrophe in double quotes"),
    ("Lantern", '"Lantern" (new)', "(new)", "one quote before the value and one after it"),
    ("Lantern", '"a\\qb"', '\\qb"', "two backslashes"),
    # brackets
    ("tempo: 92", "tempo: {bpm: 92", "{bpm", "Close it with }"),
    ("- verse", "- [verse", "[verse", "Close it with ]"),
    ("- verse", "- {section: verse", "{section", "Close it with }"),
    ("tempo: 92", "tempo: {bpm: 92}}", "}", "this } doesn't close anything"),
    ("tempo: 92", "tempo: {bpm: 92 beat: 1/4}", ": 1/4}", "a comma is missing"),
    # colons
    ("title:", "title", "title Lantern", "no colon after its key"),
    ("tempo:", "tempo", "tempo 92", "no colon after its key"),
    ("verse:", "verse", "verse", "no colon after its key"),
    ("form:", "form", "form", "no colon after its key"),
    ("title: ", "title:", ":Lantern", "Write  title: Lantern."),
    ("tempo: ", "tempo:", ":92", "Write  tempo: 92."),
    ("Lantern", "Lantern: a song", ": a song", 'title: "Lantern: a song".'),
    ("- verse", "- section: verse: x2", ": x2", 'section: "verse: x2".'),
    # documents and names
    ("form:", "---\nform:", "---", "each form in its own file"),
    ("  - verse\n", "  - verse\n...\ntitle: b\n", "title: b", "each form in its own file"),
    ("Lantern", "*star", "*star", "nothing above has that name"),
    ("- verse", "- &a [*a]", "*a]", "inside its own definition"),
    ("verse:\n", "verse: &v\n    parts: *v\n", "*v", "inside its own definition"),
]


@pytest.mark.parametrize(("old", "new", "at", "words"), STUMBLES)
def test_a_yaml_mistake_has_its_own_advice_at_its_place(pointed, old, new, at, words):
    where, printed = pointed(spoiled(old, new))
    assert where.startswith(at)
    assert words in printed
    assert "YAML" not in printed


def test_the_advice_for_bare_bars_can_be_typed_as_it_stands(pointed, reads):
    _, printed = pointed(spoiled('"| A | D |"', "| A | D |"))
    advised = printed.split("in quotes:  ")[1].removesuffix(".")
    form = reads(spoiled('bars: "| A | D |"', advised))
    assert len(form.sections["verse"].rows[0]) == 2


def test_any_other_yaml_mistake_still_has_its_place(only):
    problem = only("%YAML 3.1\n---\n" + LEAST)
    assert (problem.line, problem.message[:20]) == (1, "can't read this as Y")


def test_a_yaml_header_is_no_mistake(reads):
    assert reads("%YAML 1.2\n---\n" + LEAST + "...\n") == reads(LEAST)


def test_duplicate_keys_are_refused_at_the_second(problems):
    found = problems(LEAST.replace("    bars", '    bars: "| E |"\n    bars') + "title: Other\n")
    assert [(p.line, p.column) for p in found] == [(6, 5), (9, 1)]
    assert "twice" in found[0].message
    assert "title" in found[1].message


def test_names_that_are_tidied_to_the_same_name_are_duplicates(only):
    problem = only(spoiled("form:", '  " verse ":\n    bars: "| E |"\nform:'))
    assert (problem.line, problem.column) == (6, 4)


def test_keys_must_be_words(problems):
    found = problems(LEAST + "? [a, b]\n: c\n? {a: b}\n: c\n")
    assert [(p.line, p.column) for p in found] == [(8, 3), (10, 3)]


# Aliases


def test_a_shared_node_is_read_in_both_places(reads):
    text = spoiled('"| A | D |"', '&tune "| A | D |"\n  chorus:\n    bars: *tune')
    form = reads(text)
    assert form.sections["verse"].rows == form.sections["chorus"].rows


def test_a_problem_in_a_shared_node_is_reported_once_where_it_is_written(only):
    text = spoiled('"| A | D |"', '&tune "| A | Hx |"\n  chorus:\n    bars: *tune')
    assert only(text).line == 5


def test_an_anchor_may_be_used_again(reads):
    text = spoiled('"| A | D |"', '&t "| A |"\n  b:\n    bars: &t "| E |"\n  c:\n    bars: *t')
    assert str(reads(text).sections["c"].rows[0][0].cells[0].chord) == "E"


# Bytes


@pytest.mark.parametrize("char", ["\0", "\x07", "\x1b", "\x7f", "\x85", "\x9b", "\u2028", "\ufeff"])
def test_a_control_character_is_placed(only, char):
    problem = only(spoiled("Lantern", f"Lan{char}tern"))
    assert (problem.line, problem.column) == (1, 11)
    assert f"U+{ord(char):04X}" in problem.message


@pytest.mark.parametrize("escape", ["\\0", "\\e", "\\x07", "\\u2028", "\\ud800"])
def test_an_escape_does_not_get_around_that(only, escape):
    problem = only(spoiled("Lantern", f'"Lan{escape}tern"'))
    assert (problem.line, problem.column) == (1, 8)


def test_an_impossible_escape_is_refused(problems):
    assert problems(spoiled("Lantern", '"\\U00110000"'))


@pytest.mark.parametrize("lead", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("ends", [b"\n", b"\r\n", b"\r"])
def test_bytes_that_are_not_utf_8_are_placed(lead, ends):
    data = lead + "title: Ёж\nby:灯".encode() + b"\xff\n"
    with pytest.raises(FormError) as caught:
        read_form_bytes(data.replace(b"\n", ends), "a.yaml")
    (problem,) = caught.value.problems
    assert (problem.line, problem.column) == (2, 5)
    assert problem.fix == "Save the file as UTF-8."


def test_utf_16_and_half_characters_are_not_utf_8():
    for data in (LEAST.encode("utf-16"), "\udc80".encode("utf-8", "surrogatepass")):
        with pytest.raises(FormError, match="not UTF-8"):
            read_form_bytes(data, "a.yaml")
    with pytest.raises(FormError, match="not UTF-8"):
        read_form_text("title: \ud800")


@pytest.mark.parametrize("text", ["", " \n\n", "# nothing yet\n", "---\n", "--- ''\n"])
def test_an_empty_form_is_reported(only, text):
    problem = only(text)
    assert problem.message == "this form is empty."
    assert problem.fix.startswith("Start it with  title:")


@pytest.mark.parametrize("text", ["- a\n- b\n", "hello\n", "[a]\n"])
def test_a_form_that_is_not_a_mapping_is_reported(only, text):
    problem = only(text)
    assert (problem.line, problem.column) == (1, 1)
    assert "key: value" in problem.fix


def test_source_keeps_lines_and_places():
    source = read_source(b"a\r\nbc\rd\n", "a.yaml")
    assert source.lines == ["a", "bc", "d", ""]
    assert [source.place(at) for at in (0, 2, 4, 5, 99)] == [(1, 1), (2, 1), (2, 3), (3, 1), (4, 1)]
