"""Words to sing: where each belongs, and what is said about words that no bar is there for."""

from __future__ import annotations

import pytest

from backing.form import read_form_text
from backing.form.words import SongWords, print_words

HEAD = "title: T\ntempo: 100\n"


def sung(text: str) -> list[list[str]]:
    """The words of every pass, bar by bar."""
    form = read_form_text(HEAD + text)
    words = SongWords(form)
    found = []
    for index, entry in enumerate(form.entries):
        section = form.sections[entry.section]
        times = entry.times * (1 if entry.bars else section.times)
        found += [[bar.text for bar in words.of(index, n + 1)] for n in range(times)]
    return found


def song(
    words: str, bars: str = "| A | D |\\n| A | D |", line: str = "verse", more: str = ""
) -> str:
    section = f'{{bars: "{bars}", words: {words}{more}}}'
    return f"sections: {{verse: {section}}}\nform: [{line}]\n"


@pytest.mark.parametrize(
    ("words", "bars"),
    [
        ("la la", ["la la", "", "", ""]),
        ("[la, lo]", ["la", "", "lo", ""]),
        ('["| la | lo |", le]', ["la", "lo", "le", ""]),
        ('["| | lo |", "| |"]', ["", "lo", "", ""]),
        ('"| la | lo | le | lu |"', ["la", "lo", "le", "lu"]),
        ('"la | lo"', ["la", "lo", "", ""]),
        ('"la\\n\\n  | le | lu |\\n"', ["la", "", "le", "lu"]),
        ("off", []),
        ("'we are # 1'", ["we are # 1", "", "", ""]),
        ('"| we | # | are |"', ["we", "", "", ""]),
        ('"one # so\\n# nothing\\n| two | three | # so"', ["one", "", "two", "three"]),
    ],
)
def test_where_words_belong(words: str, bars: list[str]) -> None:
    assert sung(song(words)) == [bars]


def test_an_ending_goes_on_below_the_body() -> None:
    more = ', endings: {1: "| E |", 2: "| A |\\n| A | A |"}'
    found = sung(song("[la, lo, le, lu]", line="verse x2", more=more))
    assert found == [["la", "", "lo", "", "le"], ["la", "", "lo", "", "le", "lu", ""]]


def test_a_pass_and_a_line_have_their_own_words() -> None:
    more = ', on-pass: {2: {words: [xa, xo]}, 3: {words: off}, 4: {bars: "| A |\\n| A |"}}'
    found = sung(
        song("[la, lo]", line="verse x4, {section: verse, times: 2, words: mi}", more=more)
    )
    assert found[:4] == [["la", "", "lo", ""], ["xa", "", "xo", ""], [], ["la", "lo"]]
    assert found[4:] == [["mi", "", "", ""], ["xa", "", "xo", ""]]


def test_a_cut_keeps_the_words_of_its_bars_and_the_cue_of_its_first_row() -> None:
    cut = "verse bars 2-4, verse bars 3-3 x2"
    assert sung(song("[la, lo]", line=cut)) == [["la", "lo", ""], ["lo"], ["lo"]]
    assert sung(song('"| a | b | c | d |"', line=cut)) == [["b", "c", "d"], ["c"], ["c"]]


def test_the_words_of_a_cut_line_belong_to_the_bars_that_it_plays() -> None:
    line = "{section: verse, bars: 2-4, words: [x, y]}"
    assert sung(song("off", line=line)) == [["x", "y", ""]]
    assert sung(song("off", line=line.replace("[x, y]", '"| x | y | z |"'))) == [["x", "y", "z"]]


@pytest.mark.parametrize(
    ("words", "bars", "message"),
    [
        ("[one, two]", "| A | A | A | A | A | A | A | A |", "2 rows of words for 1 row of bars."),
        ("[a, b, c]", "| A |\\n| A |", "3 rows of words for 2 rows of bars."),
        ('"| a | b |"', "| A |", "this row has 2 cells of words for 1 bar."),
        ('"| a | b | c |"', "| A |\\n| A |", "this row has 3 cells of words for 2 bars."),
        ('["| a | b |", "| c | d | e |"]', "| A | A |\\n| A | A |", "3 cells of words for 2 bars."),
    ],
)
def test_words_without_a_bar_are_refused_at_their_place(only, words, bars, message):
    text = HEAD + song(words, bars)
    problem = only(text)
    assert problem.message.endswith(message)
    assert problem.fix
    row = text.split("\n")[2]
    assert problem.line == 3
    assert problem.column > row.index("words: ")


def test_the_advice_for_too_many_cues_reads(only) -> None:
    fix = only(HEAD + song("[one, two]", "| A | D | A | D | A | D | A | D |")).fix
    assert fix == (
        'Type the bars in 2 rows, or the words in one row with a cell for each bar: "| one | two |"'
    )
    assert sung(song('"| one | | | | two | | | |"', "| A | D | A | D | A | D | A | D |"))


@pytest.mark.parametrize(
    ("line", "more", "message"),
    [
        ("verse x2", ', on-pass: {2: {bars: "| A |"}}', "2 rows of words for 1 row of bars."),
        ("verse", ", on-pass: {2: {words: [a, b, c]}}", "3 rows of words for 2 rows of bars."),
        ("{section: verse, bars: 1-2, words: [a, b]}", "", "2 rows of words for 1 row of bars."),
        ('{section: verse, bars: 2, words: "| a | b |"}', "", "2 cells of words for 1 bar."),
    ],
)
def test_words_of_passes_and_lines_fit_too(only, line, more, message):
    assert only(HEAD + song("[la, lo]", line=line, more=more)).message.endswith(message)


def test_a_row_of_words_is_one_text_of_at_most_120_characters(only) -> None:
    assert "longer than 120" in only(HEAD + song(f'"| a | {"b" * 121} |"')).message
    assert "must be one text" in only(HEAD + song("[[a]]")).message
    assert "must be text or a list" in only(HEAD + song("{a: b}")).message


def test_printed_words_are_read_again() -> None:
    for words in ("la", "off", "['off']", '["| off |", "| | |"]', '["| a | b |", c]'):
        form = read_form_text(HEAD + song(words))
        read = form.sections["verse"].settings.words
        assert read is not None
        typed = print_words(read)
        again = typed if isinstance(typed, str) else str(typed).replace("'", '"')
        assert read_form_text(HEAD + song(again)).sections["verse"].settings.words == read
