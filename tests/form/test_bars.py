"""The bars notation: what each rule of the grammar reads, and where each slip is told."""

from __future__ import annotations

import re

import pytest
from form_printer import print_bars
from hypothesis import given
from hypothesis import strategies as st

from backing.form.bars import MARKS, MAX_BARS, MOST_PROBLEMS, BarsError, read_bars
from backing.form.model import Cell, WrittenBar
from backing.theory.chords import parse_chord
from backing.theory.rhythm import parse_meter


def chords(*symbols: str) -> WrittenBar:
    return WrittenBar(tuple(Cell(parse_chord(symbol)) for symbol in symbols))


def one(text: str) -> WrittenBar:
    read = read_bars(text)
    assert not read.problems, read.problems[0].message
    ((bar,),) = read.rows
    return bar


def fault(text: str) -> BarsError:
    read = read_bars(text)
    (found,) = read.problems
    return found


# Rows and bars


@pytest.mark.parametrize(
    "text", ["| A | D |", "A | D", "| A | D", "A | D |", "|A|D|", "  |  A|D  | "]
)
def test_a_row_s_outer_bar_lines_may_be_left_out(text):
    assert read_bars(text).rows == ((chords("A"), chords("D")),)


@pytest.mark.parametrize("text", ["| A |\n| D |", "A\nD", "\n| A |\n\n  | D |\n\n", "A |\n| D"])
def test_rows_stand_on_lines_of_their_own(text):
    assert read_bars(text).rows == ((chords("A"),), (chords("D"),))


def test_flat_leaves_the_rows_out():
    read = read_bars("| A | D |\n| E |")
    assert read.flat == (chords("A"), chords("D"), chords("E"))


def test_offsets_are_those_of_each_bar_s_first_slot():
    text = "| A | 2/4  D E |\n7/8 (2+2+3) F|%"
    read = read_bars(text)
    assert [text[at] for at in read.offsets] == ["A", "D", "F", "%"]


@pytest.mark.parametrize("text", ["", " ", "\n\n", "|", "| \n |"])
def test_no_bars_at_all(text):
    assert fault(text).message == "there are no bars here."


@pytest.mark.parametrize(
    ("text", "at"), [("| A | | D |", 5), ("|| A |", 1), ("A || D", 3), ("| |", 1)]
)
def test_an_empty_bar_is_reported_at_its_place(text, at):
    found = fault(text)
    assert (found.message, found.offset) == ("this bar is empty.", at)


# Slots


def test_slots_are_chords_slashes_and_no_chord():
    bar = one("| D / N.C. A/C# |")
    assert bar.cells == (
        Cell(parse_chord("D")),
        Cell(goes_on=True),
        Cell(),
        Cell(parse_chord("A/C#")),
    )


def test_a_slash_may_start_a_bar():
    assert one("/ / E7 /").cells[0] == Cell(goes_on=True)


@pytest.mark.parametrize("text", ["NC", "n.c.", "N.C", "nc", "N.c."])
def test_other_spellings_of_no_chord_are_corrected(text):
    found = fault(f"| A {text} |")
    assert found.offset == 4
    assert "N.C." in found.fix


@pytest.mark.parametrize("symbol", ["G7(b9)", "Am(maj7)", "C7(b9,#11)", "C(add9)", "A(b5)/E"])
def test_a_chord_s_own_brackets_belong_to_it(symbol):
    assert one(f"| {symbol} |").cells == (Cell(parse_chord(symbol)),)


@pytest.mark.parametrize(
    ("written", "marks"),
    [
        ("(push)", {"push"}),
        ("(stop)", {"stop"}),
        ("(ring)", {"ring"}),
        ("(push stop)", {"push", "stop"}),
        ("( push  ring )", {"push", "ring"}),
        ("(push)(stop)", {"push", "stop"}),
        ("(push, ring)", {"push", "ring"}),
    ],
)
@pytest.mark.parametrize("symbol", ["A", "G7(b9)", "A/C#"])
def test_brackets_of_marks_alone_are_marks(symbol, written, marks):
    assert one(symbol + written).cells == (Cell(parse_chord(symbol), frozenset(marks)),)


def test_no_chord_takes_marks_too():
    assert one("N.C.(push)").cells == (Cell(marks=frozenset({"push"})),)


@pytest.mark.parametrize(
    ("text", "at", "words"),
    [
        ("A(psuh)", 2, "Did you mean (push)?"),
        ("A(Push)", 2, "Did you mean (push)?"),
        ("A(RING)", 2, "Did you mean (ring)?"),
        ("A(push stpo)", 7, "Did you mean (stop)?"),
        ("A(loudly)", 2, "The marks are (push), (stop) and (ring)."),
        ("A (push)", 2, "no space: A(push)"),
        ("(stop)", 0, "doesn't follow a chord"),
        ("A(stop ring)", 0, "can't both stop and ring"),
        ("A(stop)(ring)", 0, "can't both stop and ring"),
        ("A(push", 1, "has no match"),
        ("A push", 2, "in parentheses right after its chord: A(push)"),
        ("A)", 1, "has no match"),
        ("A /(push)", 2, "a slash can't have a mark"),
        ("%(push)", 0, "% repeats a whole bar"),
    ],
)
def test_mistakes_in_marks(text, at, words):
    found = next(iter(read_bars(text).problems))
    assert found.offset == at
    assert words in f"{found.message} {found.fix}"


# % and meters


def test_percent_is_a_whole_bar():
    assert read_bars("A|%|6/8 %").flat[1:] == (
        WrittenBar(again=True),
        WrittenBar(meter=parse_meter("6/8"), again=True),
    )


@pytest.mark.parametrize(("text", "at"), [("A %", 2), ("% A", 0), ("A|D % /", 4), ("A|%%", 2)])
def test_percent_is_alone_in_its_bar(text, at):
    found = fault(text)
    assert (found.offset, found.message[:19]) == (at, "% repeats a whole b")


@pytest.mark.parametrize(
    "meter",
    ["2/2", "3/2", "2/4", "5/4", "3/8", "12/8", "7/8", "7/8(3+2+2)", "8/8 ( 3+ 3+2 )", "1/16"],
)  # fmt: skip
def test_a_meter_opens_its_bar(meter):
    bar = one(f"| {meter} A D |")
    assert bar == WrittenBar(chords("A", "D").cells, parse_meter(meter))


@pytest.mark.parametrize(
    ("text", "at", "words"),
    [
        ("| A 2/4 |", 4, "must come first in its bar"),
        ("| 2/4 | E7 |", 2, "this meter has no bar after it"),
        ("A | 3/5 E7", 4, "write 1, 2, 4, 8 or 16"),
        ("8/8 A", 0, "8/8 (3+3+2)"),
        ("7/8(2+2) A", 0, "add up to 4, not 7"),
        ("99/4 A", 0, "1 to 64"),
        ("4/4 (push) A", 4, "doesn't follow a chord"),
    ],
)
def test_mistakes_in_meters(text, at, words):
    found = fault(text)
    assert found.offset == at
    assert words in f"{found.message} {found.fix}"


# Chords


@pytest.mark.parametrize(
    ("text", "at", "words"),
    [
        ("| A | F#mm7 |", 9, "did you mean F#m7?"),
        ("| a |", 2, "capital letter, as in A"),
        ("| H |", 2, "a root from A to G"),
        ("| C2 |", 3, "could mean Csus2 or Cadd9: write one"),
        ("| C-5 |", 3, "could mean C(b5) or Cm: write one"),
        ("| A/ D |", 4, "write one bass note"),
        ("| AD |", 3, "can't read 'D' in AD"),
        ("|: A :|", 1, "times: 2"),
        ("| A :|", 4, "no repeat signs"),
        ("| " + "A" * 41 + " |", 2, "too long for a chord"),
    ],
)
def test_mistakes_in_chords(text, at, words):
    found = read_bars(text).problems[0]
    assert found.offset == at
    assert words in f"{found.message} {found.fix}"


# All at once, and limits


def test_every_problem_of_the_bars_is_reported_at_once():
    text = "| Hx | A | | 3/5 D |\n| A(psuh) | % % |"
    offsets = [found.offset for found in read_bars(text).problems]
    assert offsets == [2, 10, 13, 25, 33]


def test_reading_stops_after_too_many_faults():
    assert len(read_bars("Hx|" * 1000).problems) == MOST_PROBLEMS


def test_reading_stops_past_the_most_bars():
    assert not read_bars("A|" * MAX_BARS).problems
    read = read_bars("A|" * MAX_BARS + "Hx|D")
    assert [found.offset for found in read.problems] == [2 * MAX_BARS]
    assert "20,000 bars" in read.problems[0].message
    assert len(read.offsets) == MAX_BARS


def test_a_bar_of_more_slots_than_any_meter_has_is_refused():
    assert not read_bars("64/16 (32+32) A" + " /" * 63).problems
    assert "64 slots" in fault("A" + " /" * 64).message


# Printing


SYMBOLS = ("A", "F#m7", "Bb", "D/F#", "G7(b9)", "C6/9", "A♭", "Am(maj7)", "C°7", "Ab(b5)")
METERS = ("2/4", "4/4", "6/8", "7/8", "7/8 (3+2+2)", "8/8 (3+3+2)", "5/16", "3/2")
marked = st.sets(st.sampled_from(MARKS)).filter(lambda marks: not {"stop", "ring"} <= marks)
cells = st.one_of(
    st.tuples(st.none() | st.sampled_from(SYMBOLS).map(parse_chord), marked.map(frozenset)).map(
        lambda pair: Cell(*pair)
    ),
    st.just(Cell(goes_on=True)),
)
meters = st.none() | st.sampled_from(METERS).map(parse_meter)
bars = st.one_of(
    st.tuples(st.lists(cells, min_size=1, max_size=8).map(tuple), meters).map(
        lambda pair: WrittenBar(*pair)
    ),
    meters.map(lambda meter: WrittenBar(meter=meter, again=True)),
)
rows_of_bars = st.lists(st.lists(bars, min_size=1, max_size=5).map(tuple), min_size=1, max_size=4)


@given(rows_of_bars.map(tuple))
def test_what_is_printed_reads_back_as_it_was(rows):
    read = read_bars(print_bars(rows))
    assert not read.problems
    assert read.rows == rows


@given(rows_of_bars.map(tuple))
def test_printing_settles(rows):
    printed = print_bars(rows)
    assert print_bars(read_bars(printed).rows) == printed


@given(st.text(alphabet="AaHm7b#/|%()N.C 24+pushring\n", max_size=60))
def test_any_text_is_read_or_reported_at_places_inside_it(text):
    read = read_bars(text)
    assert len(read.offsets) == len(read.flat)
    assert read.problems or read.rows
    for found in read.problems:
        assert 0 <= found.offset <= len(text)
        assert re.match(r"\S", found.message)
    if not read.problems:
        assert read_bars(print_bars(read.rows)).rows == read.rows


def test_comments_inside_a_block_are_passed_over():
    text = "# eight bars\n| A | C7(b9 #11) |   # the bridge\n| D | E | # home\n"
    read = read_bars(text)
    assert not read.problems
    assert [len(row) for row in read.rows] == [2, 2]
    assert str(read.flat[1].cells[0].chord) == "C7(b9 #11)"
