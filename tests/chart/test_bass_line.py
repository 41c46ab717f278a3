"""A bass student's line on a chart: notes held over a bar line are no ghost notes."""

from __future__ import annotations

from chart.reading import text_of

from backing.chart import draw
from backing.form import read_form_text

HEAD = "title: Over the Line\ntempo: 96\ninstrument: bass\nform: [a]\n"
HELD, GHOST = "held, not plucked again", "ghost note"
ROWS = ["|----|", "|----|", "|-(5)|", "|----|"]
TAB = "riffs:\n  a:\n    step: 1/4\n    tab: |\n" + "".join(f"      {row}\n" for row in ROWS)


def legend(text: str) -> tuple[bool, bool]:
    """Whether the chart explains held numbers and ghost notes."""
    words = " ".join(text_of(draw(read_form_text(HEAD + text))).split())
    return HELD in words, GHOST in words


def test_a_pushed_chord_is_held_over_the_bar_line() -> None:
    assert legend('sections: {a: {bars: "| G | D(push) | C |"}}\n') == (True, False)
    assert legend('sections: {a: {bars: "| G | D | C |"}}\n') == (False, False)


def test_a_ghost_note_of_a_riff_is_one() -> None:
    plays = "parts: {bass: {riff: a}}"
    found = legend(TAB + f'sections: {{a: {{bars: "| G | D(push) | C |", {plays}}}}}\n')
    assert found == (False, True)
