"""Words on the chart: below their bars, verse by verse, and who sings each."""

from __future__ import annotations

from collections.abc import Iterator

from backing.chart.drawing import drawing
from backing.chart.records import Block
from backing.chart.rows import rows, scale
from backing.form import read_form_text

HEAD = "title: T\ntempo: 90\n"
WIDTH = 420.0


def blocks(text: str) -> tuple[Block, ...]:
    return drawing(read_form_text(HEAD + text)).blocks


def sung(block: Block) -> Iterator[tuple[int, int, str]]:
    """Each word with its verse and its bar, from 1."""
    bars = [bar for row in block.rows for bar in row]
    for number, bar in enumerate(bars, 1):
        yield from ((verse, number, text) for verse, text in enumerate(bar.words, 1) if text)


def test_words_stand_at_their_bars_whatever_the_rows() -> None:
    text = 'sections: {v: {per-row: 3, words: [la, "| lo | lu |"], bars: "A|D\\nA|D"}}\nform: [v]\n'
    (block,) = blocks(text)
    assert [len(row) for row in block.rows] == [3, 1]
    assert list(sung(block)) == [(1, 1, "la"), (1, 3, "lo"), (1, 4, "lu")]
    assert (block.verses, block.lines) == (("",), ())


def test_lines_with_words_of_their_own_are_verses() -> None:
    text = (
        'sections: {v: {words: [la, lo], bars: "A|D\\nA|D", endings: {1: E, 2: E}}}\nform:\n'
        '  - v x2\n  - {section: v, times: 2, words: "| a | b | c | d | e |"}\n'
        "  - {section: v, bars: 2-3, words: [x, y]}\n"
    )
    (block,) = blocks(text)
    assert block.verses == ("1.", "2.", "3.")
    assert [line.text for line in block.lines] == ["1. V 1", "2. V 2", "3. V 3, bars 2-3"]
    assert {(n, text) for verse, n, text in sung(block) if verse == 2} == {
        (1, "a"), (2, "b"), (3, "c"), (4, "d"), (5, "e")
    }  # fmt: skip
    assert [(n, text) for verse, n, text in sung(block) if verse == 3] == [(2, "x"), (3, "y")]


def test_passes_with_words_of_their_own_are_verses() -> None:
    text = (
        'sections: {v: {times: 3, words: la, bars: "A|D", on-pass: {2: {words: "| | lo |"}, '
        "3: {words: off}}}}\nform: [v]\n"
    )
    (block,) = blocks(text)
    assert list(sung(block)) == [(1, 1, "la"), (2, 2, "lo")]
    assert [line.text for line in block.lines] == ["three times", "1. first time", "2. second time"]


def test_words_of_some_passes_alone_say_whose() -> None:
    text = 'sections: {v: {bars: "A|D"}}\nform: [v, {section: v, words: la}]\n'
    (block,) = blocks(text)
    assert [line.text for line in block.lines] == ["words: V 2"]


def test_a_pass_with_bars_of_its_own_has_its_words_there() -> None:
    text = (
        'sections: {v: {words: [la, lo], bars: "A|D\\nE", endings: {1: F, 2: G}, '
        'on-pass: {2: {bars: "A|A\\nD|D"}}}}\nform: [v x2]\n'
    )
    main, changed = blocks(text)
    assert list(sung(main)) == [(1, 1, "la"), (1, 3, "lo")]
    assert list(sung(changed)) == [(1, 1, "la"), (1, 3, "lo")]


def test_words_start_below_their_bars_and_have_room_beside_others() -> None:
    text = (
        'sections: {v: {words: "| a | b | immeasurably | c | d | e |", '
        'bars: "A|D|A|D|A|D", parts: {guitar: off}}}\nform: [v]\n'
    )
    (block,) = blocks(text)
    (row,) = rows(block, WIDTH, scale([block], WIDTH))
    ((number, words),) = row.verses
    lines = [item[1] for item in row.items if item[0] == "bar"]
    assert number == ""
    assert [x for x, _, _ in words] == [x + 3 for x in lines[:-1]]
    assert words[2][1] > 12 * 5  # the longest word's letters
