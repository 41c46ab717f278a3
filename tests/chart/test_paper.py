"""Nothing leaves the type area or is overprinted, on any paper, for any form.

Each PDF is measured by PDFium (see `measuring`), not by the typesetter that made it.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from chart.hard_forms import FORMS
from chart.measuring import faults, pages, rows_of
from chart.reading import DEMOS, HARD, bars_read, bars_written, text_of, without_meters
from click.testing import CliRunner
from form_strategies import forms
from hypothesis import HealthCheck, given, settings

from backing.chart import draw
from backing.chart.drawing import drawing
from backing.chart.records import ChartOptions
from backing.chart.rows import rows, scale
from backing.chart.typesetter import typeset
from backing.chart.typst_source import PAPERS, TOP
from backing.commands.chart import chart as command
from backing.errors import BackingError
from backing.form import read_form, read_form_text

ALL_OPTIONS = {"sounding": True, "left_handed": True, "times": True}


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("path", [*DEMOS, *HARD], ids=lambda path: path.stem)
def test_demos_stay_on_the_paper(path: Path, paper: str) -> None:
    form = read_form(path)
    assert faults(draw(form, ChartOptions(paper=paper))) == []
    assert faults(draw(form, ChartOptions(paper=paper, **ALL_OPTIONS))) == []


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", FORMS)
def test_hard_forms_stay_on_the_paper(name: str, paper: str) -> None:
    pdf = draw(read_form_text(FORMS[name]), ChartOptions(paper=paper))
    assert faults(pdf) == []
    for page in pages(pdf)[:-1]:  # no page but the last is left more than half empty
        assert min(box.bottom for box in page.body) < page.height / 2


@pytest.mark.parametrize(
    "name", ["32 bars of tab", "40 shapes", "words", "60 lines of form", "capo 7", "two staves"]
)
def test_hard_forms_stay_on_the_paper_with_every_option(name: str) -> None:
    form = read_form_text(FORMS[name])
    for paper in PAPERS:
        assert faults(draw(form, ChartOptions(paper=paper, **ALL_OPTIONS))) == []
        assert faults(draw(form, ChartOptions(paper=paper, shapes=False))) == []


@pytest.mark.parametrize("name", FORMS)
def test_no_bar_is_lost_at_a_page_turn(name: str) -> None:
    form = read_form_text(FORMS[name])
    still = form._replace(entries=tuple(e._replace(transpose=0) for e in form.entries))
    bars = bars_read(draw(still, ChartOptions(shapes=False)))
    assert without_meters(bars) == without_meters(bars_written(still))


@settings(max_examples=30, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))
@given(forms())
def test_any_form_stays_on_the_paper(text: str) -> None:
    form = read_form_text(text)
    assert faults(draw(form)) == []
    assert faults(draw(form, ChartOptions(paper="letter", **ALL_OPTIONS))) == []


def test_a_section_taller_than_a_page_continues_under_its_name() -> None:
    form = read_form_text(FORMS["60 bars of tab"])
    pdf = draw(form)
    counts = [len(rows_of(page)) for page in pages(pdf)]
    assert sum(counts) == 15
    assert min(counts) >= 4
    assert text_of(pdf).count("Verse, continued") == len(counts) - 1


def test_a_section_that_fits_on_a_page_stays_whole() -> None:
    text = "\n".join("      | C | G | Am | F |\n      | F | G | C | C |" for _ in range(2))
    parts = "".join(f"  part {at}:\n    bars: |\n{text}\n" for at in range(9))
    names = ", ".join(f"part {at}" for at in range(9))
    pdf = draw(read_form_text(f"title: T\ntempo: 96\nsections:\n{parts}form: [{names}]\n"))
    counts = [len(rows_of(page)) for page in pages(pdf)]
    assert len(counts) > 1
    assert all(count % 4 == 0 for count in counts)
    assert "continued" not in text_of(pdf)


def test_shapes_continue_under_their_name() -> None:
    pdf = draw(read_form_text(FORMS["84 shapes"]))
    text = text_of(pdf)
    assert (text.count("Verse, continued"), text.count("continued")) == (1, 2)


def test_a_word_that_is_broken_copies_as_it_was_typed() -> None:
    form = read_form_text(FORMS["words"])
    text = "".join(text_of(draw(form)).split())
    assert text.count(form.title) >= 1
    assert "\u200b" not in text


def test_what_fits_on_no_page_is_an_error(tmp_path: Path) -> None:
    endings = "\n".join(f'      {n}: "| {"F" if n % 2 else "Am"} |"' for n in range(1, 900))
    bars = " | ".join("CG" * 7)
    path = tmp_path / "tall.yaml"
    path.write_text(
        f'title: T\ntempo: 96\nsections:\n  verse:\n    per-row: 16\n    bars: "| {bars} |"\n'
        f"    endings:\n{endings}\nform: [verse x899]\n"
    )
    result = CliRunner().invoke(command, [str(path), "--out", str(tmp_path / "tall.pdf")])
    assert result.exit_code == 2
    assert "a row of bars in Verse is taller than a page" in result.output
    assert "panicked" not in result.output
    assert not (tmp_path / "tall.pdf").exists()


def test_a_chord_wider_than_the_row_is_an_error() -> None:
    chart = drawing(read_form_text(FORMS["long chords"]))
    with pytest.raises(BackingError, match="the chord F♯m7♭5/C♯ is wider than the chart's paper"):
        list(rows(chart.blocks[0], 60.0, scale(chart.blocks, 60.0)))


def _sheet(body: str) -> bytes:
    setting = (
        "#set page(width: 595.28pt, height: 841.89pt, margin: (x: 40pt, y: 36pt), fill: white)"
    )
    return typeset(f"{setting}\n{body}")[0]


@pytest.mark.parametrize(
    ("body", "fault"),
    [
        ("#place(dx: 500pt, [far to the right])", "outside the type area"),
        ("#place(dx: -20pt, line(length: 30pt))", "outside the type area"),
        ("#place(dy: 760pt, rect(width: 9pt, height: 20pt))", "outside the type area"),
        ("#place(dy: 780pt, [below])", "outside the type area"),
        ("#place[one upon]#place(dx: 9pt, [another])", "text on text"),
        ("#place[struck out]#place(dy: 3pt, line(length: 30pt, stroke: 2pt))", "text on a sign"),
        ("#place(line(length: 9pt, angle: 90deg))#place(dy: 5pt, line(length: 9pt, angle: 90deg))",
         "a line on a line"),
        ("#set line(length: 99pt, stroke: 0.4pt)\n#place(line())#place(dy: 20pt, line())",
         "rows 20.0 points apart"),
    ],
)  # fmt: skip
def test_measuring_finds_mistakes(body: str, fault: str) -> None:
    assert any(fault in sentence for sentence in faults(_sheet(body)))


def test_measuring_accepts_what_is_right() -> None:
    assert faults(_sheet("A line of text.\n\n#line(length: 100%)")) == []
    assert TOP == 36
