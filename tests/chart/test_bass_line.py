"""A bass student's line on a chart: notes held over a bar line are no ghost notes."""

from __future__ import annotations

import pytest
from chart.reading import text_of

from backing.chart import draw
from backing.chart.bass_line import BassLines
from backing.form import read_form_text
from backing.players import play
from backing.timeline import unroll

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


@pytest.mark.parametrize("feel", ["straight", "swing", "{swing: 3/1}"])
@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8", "7/8"])
def test_the_printed_line_has_the_notes_that_are_played(meter: str, feel: str) -> None:
    """Passing notes and walks too: bar by bar the strings' notes, whatever the feel."""
    for line in ("root-fifth", "walking"):
        form = read_form_text(
            f"title: Over the Line\ntempo: {{bpm: 110, beat: 1/4}}\nmeter: {meter}\nfeel: {feel}\n"
            "instrument: bass\nform: [a]\n"
            f"parts: {{bass: {{line: {line}}}}}\n"
            'sections: {a: {bars: "| G | D/F# | Em | / | C | D7 |"}}\n'
        )
        (track,) = [track for track in play(unroll(form)).tracks if track.part == "bass"]
        tabs = BassLines(form).tabs("a", 0, 6)
        printed = [
            form.bass_tuning[4 - fret.string] + int(fret.text)
            for index in range(6)
            for fret in tabs[index].frets
        ]
        assert printed == [note.pitch for note in track.notes]
