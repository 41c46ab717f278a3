"""What a chart's PDF says is what its form says: bars, chords, roadmap, metadata, type sizes."""

from __future__ import annotations

import re
from io import BytesIO
from itertools import accumulate
from pathlib import Path

import pytest
from chart.reading import (
    DEMOS,
    HARD,
    bars_read,
    bars_written,
    section_bars,
    text_of,
    without_meters,
)
from form_strategies import forms
from hypothesis import HealthCheck, given, settings
from pypdf import PdfReader, PdfWriter

from backing.chart import draw, draw_chart
from backing.chart.records import ChartOptions
from backing.form import read_form, read_form_text
from backing.timeline import unroll

FLOOR = 9.0  # points: nothing on a chart is smaller


def _id(path: Path) -> str:
    return path.stem


@pytest.mark.parametrize("path", DEMOS, ids=_id)
def test_the_bars_of_every_demo_read_back_as_written(path: Path) -> None:
    form = read_form(path)
    assert without_meters(bars_read(draw(form))) == without_meters(bars_written(form))


def test_meters_stand_where_they_change() -> None:
    bars = bars_read(draw(read_form(DEMOS[0].parent / "short-step.yaml")))
    assert bars[0][0] == "4/4"
    assert ["2/4", "E7"] in bars
    assert ["4/4", "F#m"] in bars
    assert ["2/4", "N.C."] in bars
    assert sum("/" in bar[0] and bar[0][0].isdigit() for bar in bars) == 5


@pytest.mark.parametrize("path", [path for path in HARD if path.stem != "seven-eight"], ids=_id)
def test_the_bars_of_hard_forms_read_back_too(path: Path) -> None:
    form = read_form(path)
    assert without_meters(bars_read(draw(form))) == without_meters(bars_written(form))


@settings(max_examples=12, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck))
@given(forms())
def test_any_form_reads_back(text: str) -> None:
    form = read_form_text(text.replace("9 | 10", "9 10"))  # a name's bar line would be read as one
    still = form._replace(entries=tuple(e._replace(transpose=0) for e in form.entries))
    bars = bars_read(draw(still, ChartOptions(shapes=False)))
    assert without_meters(bars) == without_meters(bars_written(still))


def test_a_line_that_moves_is_shown_in_its_own_key() -> None:
    form = read_form_text(
        'title: T\ntempo: 90\nkey: D\nsections:\n  a: {bars: "| D | A/C# | Bb7 |"}\n'
        "form:\n  - a\n  - {section: a, transpose: +2, label: Higher}\n"
    )
    assert without_meters(bars_read(draw(form))) == [
        ["D"], ["A/C#"], ["Bb7"], ["E"], ["B/D#"], ["C7"],
    ]  # fmt: skip


def test_sounding_names_are_higher_by_the_capo() -> None:
    form = read_form(DEMOS[0].parent / "orchard-wall.yaml")
    bars = without_meters(bars_read(draw(form, ChartOptions(sounding=True))))
    assert bars[:4] == [["A"], ["Dadd9"], ["A"], ["Esus4", "E"]]
    assert "as G" in text_of(draw(form, ChartOptions(sounding=True)))


@pytest.mark.parametrize("path", DEMOS, ids=_id)
def test_the_roadmap_counts_as_the_timeline_does(path: Path) -> None:
    form = read_form(path)
    timeline = unroll(form)
    text = text_of(draw(form))
    firsts = {}
    for bar in timeline.bars:
        firsts.setdefault(bar.playing.entry, bar)
    for first in firsts.values():
        name = first.playing.label.split(" (")[0]
        assert f"{first.number} {name}," in text
    assert f"{len(timeline.bars)} bars in total" in text


def test_times_are_from_the_start_of_the_track() -> None:
    form = read_form(DEMOS[0].parent / "starter.yaml")
    text = text_of(draw(form, ChartOptions(times=True)))
    # One bar of count-in at 96: 2.5 s; four bars more: 12.5 s (rounded to even: 0:12).
    assert "0:02 1 Verse" in text
    assert "0:12 5 Ending" in text
    assert "0:02" not in text_of(draw(form))


@pytest.mark.parametrize("path", [*DEMOS, *HARD], ids=_id)
def test_pages_and_their_metadata(path: Path) -> None:
    form = read_form(path)
    reader = PdfReader(BytesIO(draw(form)))
    assert len(reader.pages) == (2 if path.stem == "two-pages" else 1)
    assert reader.metadata is not None
    assert reader.metadata.title == form.title
    assert reader.metadata.author == form.by
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert [round(float(side)) for side in reader.pages[0].mediabox[2:]] == [595, 842]


def test_letter_paper() -> None:
    reader = PdfReader(BytesIO(draw(read_form(DEMOS[0]), ChartOptions(paper="letter"))))
    assert [round(float(side)) for side in reader.pages[0].mediabox[2:]] == [612, 792]


@pytest.mark.parametrize("path", [*DEMOS, *HARD], ids=_id)
def test_no_letter_is_small_or_off_the_page(path: Path) -> None:
    pages = PdfReader(BytesIO(draw(read_form(path)))).pages
    sizes, places = [], []

    def visit(text: str, cm: list[float], tm: list[float], font: object, size: float) -> None:
        if text.strip():
            sizes.append(size * abs(tm[3] or tm[0]) * abs(cm[3] or cm[0]))
            places.append(tm[4] * cm[0] + cm[4])

    for page in pages:
        page.extract_text(visitor_text=visit)
    assert sizes
    assert min(sizes) >= FLOOR - 0.01
    assert min(places) >= 35
    assert max(places) <= 595 - 35


def test_a_page_turns_between_sections() -> None:
    form = read_form(HARD[0].parent / "two-pages.yaml")
    first, second = (bars_read(page) for page in _single_pages(draw(form)))
    bars = [len(list(section_bars(section))) for section in form.sections.values()]
    assert len(first) in accumulate(bars)
    assert len(first) + len(second) == sum(bars)


def _single_pages(pdf: bytes) -> list[bytes]:
    found = []
    for page in PdfReader(BytesIO(pdf)).pages:
        out, writer = BytesIO(), PdfWriter()
        writer.add_page(page)
        writer.write(out)
        found.append(out.getvalue())
    return found


def test_the_tempo_counts_the_right_note() -> None:
    text = text_of(draw(read_form(DEMOS[0].parent / "greensleeves.yaml")))
    assert re.search(r"♩\.\s+= 50", text)  # three eighths are a beat


def test_letters_that_no_font_has_are_reported() -> None:
    form = read_form_text(
        'title: "\U00012000"\ntempo: 90\nsections: {a: {bars: "| D |"}}\nform: [a]\n'
    )
    (warning,) = draw_chart(form).warnings
    assert "cuneiform" in warning
    assert not draw_chart(read_form(DEMOS[0])).warnings
