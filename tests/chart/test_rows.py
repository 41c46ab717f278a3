"""Bars on paper: widths by time, chords over their beats, nothing that touches or is clipped."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from chart.reading import DEMOS, HARD

from backing.chart.drawing import drawing
from backing.chart.metrics import symbol
from backing.chart.records import Block
from backing.chart.rows import Row, rows, scale
from backing.chart.spacing import CHORD_SIZE
from backing.form import read_form, read_form_text
from backing.text.bars import ending_numbers
from backing.theory.chords import parse_chord

WIDTH = 420.0
ALL = [*DEMOS, *HARD]


def _rows(path_or_text: Path | str) -> list[tuple[Block, list[Row]]]:
    form = (
        read_form(path_or_text)
        if isinstance(path_or_text, Path)
        else read_form_text(f"title: T\ntempo: 90\n{path_or_text}")
    )
    chart = drawing(form)
    points = scale(chart.blocks, WIDTH)
    return [(block, list(rows(block, WIDTH, points))) for block in chart.blocks]


def _items(row: Row, *kinds: str) -> list[tuple[Any, ...]]:
    return [item for item in row.items if item[0] in kinds]


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.stem)
def test_nothing_is_clipped_and_no_chord_touches_the_next(path: Path) -> None:
    for _, of_block in _rows(path):
        for row in of_block:
            assert all(-12 <= item[1] <= WIDTH + 0.01 for item in row.items)
            assert row.width <= WIDTH + 0.01
            chords = _items(row, "chord")
            ends = [item[1] for item in chords[1:]] + [row.width]
            for item, end in zip(chords, ends, strict=True):
                wide = sum(_wide(piece, raised) for piece, raised in _pieces(item))
                assert item[1] + wide <= end + 0.01


def _pieces(item: tuple[Any, ...]) -> list[tuple[str, bool]]:
    return [(item[2], False), (item[3], True), (item[4], False)]


def _wide(text: str, raised: bool) -> float:
    from backing.chart.metrics import RAISED, WIDTHS

    return sum(WIDTHS[c] for c in text) * CHORD_SIZE / 1000 * (RAISED if raised else 1)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_each_chord_stands_over_a_sign_of_its_beat(path: Path) -> None:
    for _, of_block in _rows(path):
        for row in of_block:
            signs = {round(i[1], 3) for i in _items(row, "slash", "stopped", "ringing", "bar-rest")}
            over = [round(item[1], 3) for item in _items(row, "chord") if item[2] != "N.C."]
            assert set(over) <= signs


def _bar_lines(row: Row) -> list[float]:
    return [item[1] for item in _items(row, "bar")]


def test_widths_follow_time() -> None:
    ((_, (row,)),) = _rows(
        'meter: 4/4\nsections: {a: {bars: "| C | D | 2/4 E | 4/4 F |"}}\nform: [a]'
    )
    one, two, half, last = (b - a for a, b in pairwise(_bar_lines(row)))
    assert one == pytest.approx(two)
    assert two == pytest.approx(2 * half)
    assert last == pytest.approx(one)
    assert sum((one, two, half, last)) == pytest.approx(WIDTH)


def test_a_short_row_is_not_stretched() -> None:
    found = _rows(
        'sections: {a: {bars: "| C | D | E | F |"}, b: {bars: "| C | D |"}}\nform: [a, b]'
    )
    assert found[1][1][0].width == pytest.approx(WIDTH / 2)


def test_chords_stand_at_their_share_of_the_bar() -> None:
    ((_, (row,)),) = _rows(
        'meter: 4/4\nsections: {a: {bars: "| C / / D | E F G / | C | C |"}}\nform: [a]'
    )
    lines = _bar_lines(row)
    (c, d), (e, f, g) = (
        [i[1] for i in _items(row, "chord") if lines[n] <= i[1] < lines[n + 1]] for n in (0, 1)
    )
    assert d - c == pytest.approx(3 * (lines[1] - c) / 4, abs=0.01)
    assert f - e == pytest.approx((lines[2] - e) / 4, abs=0.01)
    assert g - e == pytest.approx((lines[2] - e) / 2, abs=0.01)


def test_rows_are_as_typed_unless_per_row_is_set() -> None:
    text = 'sections: {{a: {{bars: "| C | D | E | F | G | A | B | C |"{}}}}}\nform: [a]'
    assert [len(row) for row in _rows(text.format(""))[0][0].rows] == [4, 4]
    assert [len(row) for row in _rows(text.format(", per-row: 8"))[0][0].rows] == [8]
    assert [len(row) for row in _rows(text.format(", per-row: 3"))[0][0].rows] == [3, 3, 2]
    phrases = (
        "sections:\n  a:\n    bars: |\n      | C | D | E |\n      | F | G | A | B | C |\nform: [a]"
    )
    assert [len(row) for row in _rows(phrases)[0][0].rows] == [3, 5]


def test_endings_begin_below_one_another() -> None:
    (_, of_block) = next(
        found
        for found in _rows(DEMOS[0].parent / "gatepost-blues.yaml")
        if found[0].name == "Chorus"
    )
    first, second = (_items(row, "bracket")[0] for row in of_block if row.brackets)
    assert first[1] == second[1] > 0
    assert (first[3], second[3]) == ("1.", "2.")
    lines = [bar[2] for row in of_block for bar in _items(row, "bar")]
    assert [line for line in lines if line in ("opens", "repeat")] == ["opens", "repeat"]


def test_a_bar_of_twelve_chords_is_one_bar() -> None:
    found = _rows(HARD[0].parent / "twelve-chords.yaml")
    row = found[0][1][0]
    first = _bar_lines(row)[1]
    assert sum(item[1] < first for item in _items(row, "chord")) == 12


def test_signs_of_marks() -> None:
    ((_, (row,)),) = _rows(
        'sections: {a: {bars: "| C | D(push) / E(stop) / | F(ring) | N.C. |"}}\nform: [a]'
    )
    lines = _bar_lines(row)
    (push,) = _items(row, "push")
    assert lines[0] < push[1] < lines[1] < push[2]  # struck before the bar line, tied over it
    assert len(_items(row, "stopped")) == 1
    assert [item[2] for item in _items(row, "rest")] == ["quarter"]
    assert len(_items(row, "ringing")) == 1
    assert [lines[3] < item[1] < lines[4] for item in _items(row, "bar-rest")] == [True]
    assert len(_items(row, "slash")) == 4 + 2


def test_rests_after_a_stop_fill_the_bar_before_a_push() -> None:
    chart = drawing(
        read_form_text(
            'title: T\ntempo: 90\nsections: {a: {bars: "| C(stop) | D(push) |"}}\nform: [a]'
        )
    )
    rests = [s.whole for s in chart.blocks[0].rows[0][0].signs if s.kind == "rest"]
    assert rests == [Fraction(1, 4), Fraction(1, 4), Fraction(1, 8)]


def test_strums_are_shown_once_and_again_after_another_strum() -> None:
    found = _rows(HARD[0].parent / "two-pages.yaml")
    strummed = [block.name for block, of_block in found if any(r.strokes for r in of_block)]
    assert strummed == ["Opening", "Climb", "Chorus"]


def test_strokes_stand_under_their_beats() -> None:
    (_, (row,)) = _rows(DEMOS[0].parent / "short-step.yaml")[0]
    beats = [round(item[1], 3) for item in _items(row, "slash")][:4]
    strokes = {round(item[1], 3): item[2:4] for item in _items(row, "stroke")}
    assert strokes[beats[0]] == ("D", True)
    assert strokes[beats[1]] == ("D", False)
    assert beats[2] not in strokes  # the hand passes on beat 3
    assert [what for what, _ in strokes.values()] == ["D", "D", "U", "U", "D", "U"]


def test_a_pick_is_tabbed_on_the_chord_that_is_held() -> None:
    (_, (row,)) = _rows(DEMOS[0].parent / "greensleeves.yaml")[0]
    frets = [(item[3], item[4]) for item in _items(row, "fret")]
    # Am is x02210 (common practice); p i m a m i on strings 5, 3, 2, 1, 2, 3.
    assert frets == [(5, "0"), (3, "2"), (2, "1"), (1, "0"), (2, "1"), (3, "2")]
    assert "".join(item[3] for item in _items(row, "finger")) == "pimami"
    assert len(_items(row, "beam")) == 4  # two beats of three eighths


def test_a_riff_is_tabbed_as_written() -> None:
    found = dict(_rows(HARD[0].parent / "riff-in-six.yaml"))
    (row,) = next(of_block for block, of_block in found.items() if block.name == "Opening")
    assert [item[4] for item in _items(row, "fret")].count("×") == 1
    assert {"12", "10"} <= {item[4] for item in _items(row, "fret")}
    assert len(_items(row, "slur")) == 3
    assert len(_items(row, "slide")) == 2
    assert [item[5] for item in _items(row, "after")] == ["b", "~"]
    assert len(_items(row, "three")) == 2


@pytest.mark.parametrize(
    ("text", "root", "raised", "bass"),
    [
        ("F#m7", "F♯m", "7", ""),
        ("Bbmaj7", "B♭", "maj7", ""),
        ("Bm7b5/E", "Bm", "7♭5", "/E"),
        ("G7(b9)", "G", "7(♭9)", ""),
        ("A-7", "A-", "7", ""),
        ("Cdim7", "C", "dim7", ""),
        ("Esus4", "E", "sus4", ""),
        ("Dmin", "Dmin", "", ""),
        ("D/F#", "D", "", "/F♯"),
        ("C6/9", "C", "6/9", ""),
        ("Ab(b5)", "A♭", "(♭5)", ""),
        ("DmMaj7", "Dm", "Maj7", ""),
    ],
)
def test_symbols_in_print(text: str, root: str, raised: str, bass: str) -> None:
    found = symbol(parse_chord(text))
    assert found == (root, raised, bass)
    assert parse_chord(found.text).pitch_classes == parse_chord(text).pitch_classes


def test_simile_is_marked_in_each_staff() -> None:
    tab = "".join(f"      {name}|{{0}}|\n" for name in "eBGDAE")
    riffs = "".join(
        f"  {name}:\n    step: 1/4\n    tab: |\n{tab.format('|'.join(['0-3-'] * bars))}"
        for name, bars in (("long", 4), ("short", 2))
    )
    ((_, (row,)),) = _rows(
        f'riffs:\n{riffs}sections:\n  a:\n    bars: "| C | D | E | F |"\n'
        "    parts: {guitar: {riff: long}, lead: {riff: short}}\nform: [a]"
    )
    third = _items(row, "staff-bar")[1][1]
    (alike,) = _items(row, "alike")  # the guitar has numbers there: the word would lie on them
    assert alike[2] == 1
    assert third < alike[1] < third + 20


def test_an_ending_for_many_passes_names_them_in_ranges() -> None:
    assert ending_numbers((1,)) == "1."
    assert ending_numbers((1, 2)) == "1., 2."
    assert ending_numbers((1, 2, 3, 5, 7, 8, 9)) == "1.–3., 5., 7.–9."


def test_a_push_over_a_new_meter_is_tied_on_both_sides_of_it() -> None:
    ((_, (row,)),) = _rows('sections: {a: {bars: "| C | 3/4 D(push) |"}}\nform: [a]')
    line = _bar_lines(row)[1]
    (push,), (tied,) = _items(row, "push"), _items(row, "tied")
    meter = _items(row, "meter")[1]
    assert push[1] < push[2] < line < meter[1] < tied[1] - 7
