"""A riff's bars on a chart: what stops silence, and how many bars show it whole."""

from __future__ import annotations

from fractions import Fraction

import pytest

from backing.chart.riff_tab import Silence, riff_bars
from backing.form.tab_rows import read_riff

EIGHTH = Fraction(1, 8)
ONE = read_riff(EIGHTH, "\n".join(["|0-0-0-0-|", *["|--------|"] * 5]))
TWO = read_riff(EIGHTH, "\n".join(["|0-0-0-0-|5-------|", *["|--------|--------|"] * 5]))
STOP = (Silence(Fraction(0), Fraction(1), is_struck=True),)


@pytest.mark.parametrize(
    ("riff", "stops", "numbers"),
    [
        (ONE, [(), ()], [4]),
        (ONE, [STOP, ()], [1, 4]),
        (ONE, [STOP, STOP], [1]),
        (TWO, [STOP, (), ()], [1, 1, 4]),
        (TWO, [(), (), STOP], [4, 1]),
        (TWO, [()], [4]),
    ],
)
def test_a_riff_is_shown_until_it_has_been_shown_whole(riff, stops, numbers) -> None:
    assert [len(tab.frets) for tab in riff_bars(riff, 0, stops)] == numbers


def test_a_stop_is_a_rest_after_an_eighth() -> None:
    (stopped, _) = riff_bars(ONE, 0, [STOP, ()])
    assert stopped.rhythm == ((Fraction(0), EIGHTH, True), (EIGHTH, Fraction(7, 8), False))
    (through,) = riff_bars(ONE._replace(plays_through=True), 0, [STOP])
    assert len(through.frets) == 4


def test_rests_on_every_sounding_string_are_a_rest_in_the_rhythm() -> None:
    rows = ["|0---r---|", "|2-----r-|", *["|--------|"] * 4]
    (tab,) = riff_bars(read_riff(EIGHTH, "\n".join(rows)), 0, [()])
    assert tab.rhythm == (
        (Fraction(0), Fraction(3, 4), True),
        (Fraction(3, 4), Fraction(1, 4), False),
    )
