"""A riff's bars on a chart: what stops silence, and how many bars show it whole."""

from __future__ import annotations

from fractions import Fraction

import pytest

from backing.chart.drawing import drawing
from backing.chart.riff_tab import Silence, riff_bars
from backing.form import read_form_text
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


@pytest.mark.parametrize(
    ("parts", "lines"),
    [
        ("guitar: {riff: run}", ["riff: run"]),
        ("guitar: off, lead: {riff: run}", ["riff: run"]),
        ("guitar: {riff: run}, lead: {riff: run}", ["riff: run (ukulele, lead)"]),
        ("guitar: {riff: run}, lead: {riff: walk}", ["riff: run", "riff: walk (lead)"]),
        ("guitar: {strum: easy}, lead: {pick: arpeggio}", ["strum: easy", "pick: arpeggio (lead)"]),
        ("guitar: {riff: run}, bass: {riff: low}", ["riff: run", "riff: low (bass)"]),
    ],
)
def test_the_margin_has_each_pattern_once_and_whose_it_is(parts: str, lines: list[str]) -> None:
    """Where more parts than one have a pattern; the student's own needs no name."""
    rows = "\\n".join(f"{name}|0---|" for name in "AECG")
    low = "\\n".join(f"{name}|0---|" for name in "GDAE")
    text = (
        "title: Whose\ntempo: 90\ninstrument: ukulele\n"
        f'riffs:\n  run: {{step: 1/4, tab: "{rows}"}}\n'
        f'  walk: {{step: 1/4, tab: "{rows.replace("0---", "--0-")}"}}\n'
        f'  low: {{step: 1/4, tab: "{low}"}}\nstrums: {{easy: {{step: 1/4, play: D}}}}\n'
        f'sections: {{a: {{bars: "| C | F |", parts: {{{parts}}}}}}}\nform: [a]\n'
    )
    (block,) = drawing(read_form_text(text)).blocks
    assert [line.text for line in block.lines] == lines
