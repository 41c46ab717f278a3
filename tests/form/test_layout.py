"""Bars laid over meters: where each slot starts, and what a meter can't hold."""

from __future__ import annotations

from fractions import Fraction

import pytest

from backing.form.bars import read_bars
from backing.form.layout import LaidBar, LayoutError, lay_out
from backing.theory.chords import parse_chord
from backing.theory.rhythm import parse_meter


def laid(text: str, meter: str = "4/4") -> tuple[LaidBar, ...]:
    read = read_bars(text)
    assert not read.problems, read.problems[0].message
    return lay_out(read.flat, parse_meter(meter))


def starts(text: str, meter: str) -> list[str]:
    """Each kept cell and its start in units of the meter, as `A@0`."""
    (bar,) = laid(text, meter)
    return [
        f"{cell.chord or ('/' if cell.goes_on else 'N.C.')}@{start / bar.meter.unit_whole}"
        for start, cell in bar.cells
    ]


def misfit(text: str, meter: str = "4/4") -> LayoutError:
    with pytest.raises(LayoutError) as caught:
        laid(text, meter)
    return caught.value


@pytest.mark.parametrize(
    ("meter", "text", "expected"),
    [
        # shared evenly, in whole beats
        ("4/4", "A", "A@0"),
        ("4/4", "A D", "A@0 D@2"),
        ("4/4", "A D E A", "A@0 D@1 E@2 A@3"),
        ("2/2", "A D", "A@0 D@1"),
        ("3/2", "A D E", "A@0 D@1 E@2"),
        ("2/4", "A D", "A@0 D@1"),
        ("3/4", "A D E", "A@0 D@1 E@2"),
        ("6/4", "A D", "A@0 D@3"),
        ("6/4", "A D E", "A@0 D@2 E@4"),
        ("3/8", "A D E", "A@0 D@1 E@2"),
        ("6/8", "A D", "A@0 D@3"),
        ("6/8", "A D E A D E", "A@0 D@1 E@2 A@3 D@4 E@5"),
        ("9/8", "A D E", "A@0 D@3 E@6"),
        ("12/8", "A D", "A@0 D@6"),
        ("12/8", "A D E A", "A@0 D@3 E@6 A@9"),
        # one slot for each beat
        ("4/4", "D / / E7", "D@0 E7@3"),
        ("4/4", "D / E7 /", "D@0 E7@2"),
        ("3/4", "D / E7", "D@0 E7@2"),
        ("5/4", "D / / E7 /", "D@0 E7@3"),
        ("2/2", "D /", "D@0"),
        ("6/8", "D /", "D@0"),
        ("12/8", "D / / E7", "D@0 E7@9"),
        ("7/8", "D / E7", "D@0 E7@4"),
        ("7/8 (3+2+2)", "D / E7", "D@0 E7@5"),
        ("5/8", "D E7", "D@0 E7@3"),
        ("5/8 (2+3)", "D E7", "D@0 E7@2"),
        ("8/8 (3+3+2)", "D / E7", "D@0 E7@6"),
        # one slot for each unit
        ("6/8", "D / / / / E7", "D@0 E7@5"),
        ("7/8", "D / / / / E7 /", "D@0 E7@5"),
        ("5/8", "D / E7 / /", "D@0 E7@2"),
        ("9/8", "D / / / / / / E7 /", "D@0 E7@7"),
        # no chord takes a slot
        ("4/4", "N.C. / D /", "N.C.@0 D@2"),
    ],
)
def test_where_slots_start(meter, text, expected):
    assert starts(text, meter) == expected.split()


@pytest.mark.parametrize(
    ("meter", "text", "example"),
    [
        ("4/4", "A D E", "A D E /"),
        ("4/4", "F#m7 A/C#(push) N.C.", "F#m7 A/C#(push) N.C. /"),
        ("3/4", "A D", "A D /"),
        ("5/4", "A D", "A D / / /"),
        ("5/4", "A D E", "A D E / /"),
        ("6/8", "A D E", "A D E / / /"),
        ("9/8", "A D", "A D /"),
        ("12/8", "A D E", "A D E /"),
        ("7/8", "A D", "A D /"),
        ("7/8", "A D E A", "A D E A / / /"),
        ("4/4", "A / D", "A / D /"),
        ("4/4", "A /", "A / / /"),
        ("6/8", "A / D", "A / D / / /"),
        ("12/8", "A D / E A", "A D / E A / / / / / / /"),
    ],
)
def test_a_bar_that_can_t_be_shared_shows_a_way_that_can(meter, text, example):
    found = misfit(text, meter)
    assert found.fix.endswith(f"such as: {example}")
    assert laid(example, meter)


def test_the_advice_names_the_length_of_each_slot():
    assert "one slot for each beat" in misfit("A D E").fix
    assert "one slot for each 1/8" in misfit("A D E", "6/8").fix


@pytest.mark.parametrize(
    ("meter", "text", "message"),
    [
        ("4/4", "A D E", "3 chords don't share the 4 beats of 4/4 evenly."),
        ("4/4", "A D E A D", "5 chords are too many for a bar of 4/4."),
        ("1/4", "A /", "2 slots are too many for a bar of 1/4."),
        ("4/4", "A /", "this bar of 4/4 has 2 slots, but with slashes it needs 4 slots."),
        ("6/8", "A / /", "this bar of 6/8 has 3 slots, but with slashes it needs 2 or 6 slots."),
        ("7/8", "A /", "this bar of 7/8 has 2 slots, but with slashes it needs 3 or 7 slots."),
    ],
)
def test_the_message_for_a_bar_that_does_not_fit(meter, text, message):
    assert misfit(text, meter).message == message


# Meters inside


def test_a_meter_in_a_bar_holds_to_the_end_of_the_pass():
    bars = laid("A | 2/4 E7 | D | 6/8 A D | %")
    assert [str(bar.meter) for bar in bars] == ["4/4", "2/4", "2/4", "6/8", "6/8"]


def test_the_pass_s_own_meter_returns_with_each_pass():
    assert [str(bar.meter) for bar in laid("A | 3/4 D")] == ["4/4", "3/4"]
    assert [str(bar.meter) for bar in laid("A | 3/4 D")] == ["4/4", "3/4"]


def test_an_ending_goes_on_in_the_meter_of_its_body():
    body = laid("A | 3/4 D")
    (bar,) = lay_out(read_bars("A D E").flat, parse_meter("4/4"), body)
    assert str(bar.meter) == "3/4"
    assert lay_out(read_bars("%").flat, parse_meter("4/4"), body)[0] == body[1]
    assert lay_out(read_bars("/ / E7").flat, parse_meter("4/4"), body)[0].cells[0].cell.goes_on


# % and first slashes


def test_percent_is_the_bar_before_with_slots_and_marks():
    bars = laid("D / / E7(push) | % | %")
    assert bars[0] == bars[1] == bars[2]


def test_percent_takes_the_new_meter_where_the_length_is_the_same():
    bars = laid("2/4 A D | 4/8 %")
    assert str(bars[1].meter) == "4/8"
    assert bars[1].cells == bars[0].cells


@pytest.mark.parametrize("text", ["A | 3/4 %", "6/8 A | 2/4 %", "A | 2/4 D | 4/4 %"])
def test_percent_can_t_follow_a_change_of_length(text):
    found = misfit(text)
    assert found.message.startswith("% can't repeat a bar of")
    assert found.bar == text.count("|")


def test_percent_can_not_come_first():
    assert (misfit("% | A").bar, misfit("% | A").message[:19]) == (0, "% has no bar before")


def test_a_section_can_not_start_with_a_slash():
    assert "first slash" in misfit("/ / A /").message
    assert laid("A | / / D /")[1].cells[0].cell.goes_on


@pytest.mark.parametrize("meter", ["4/4", "6/8", "7/8"])
def test_a_slash_alone_goes_on_through_its_bar(meter):
    first, second = laid("A | /", meter)
    assert [(start, cell.goes_on) for start, cell in second.cells] == [(0, True)]
    assert first.cells[0].cell.chord == parse_chord("A")


def test_bars_that_do_not_fit_can_be_collected():
    found: list[LayoutError] = []
    bars = lay_out(read_bars("% | A D E | A | 3/4 % | D / ").flat, parse_meter("4/4"), (), found)
    assert [misfit.bar for misfit in found] == [0, 1, 3, 4]
    assert len(bars) == 5


def test_slots_fill_their_bar_from_the_start():
    for text, meter in (("A D", "4/4"), ("A / D", "7/8"), ("A D E A D E", "6/8")):
        (bar,) = laid(text, meter)
        places = [start for start, _ in bar.cells]
        assert places[0] == 0
        assert places == sorted(set(places))
        assert all(isinstance(start, Fraction) and start < bar.meter.bar_whole for start in places)
