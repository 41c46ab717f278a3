"""The shape boxes show what the guitarist plays."""

from __future__ import annotations

from pathlib import Path

import pytest
from chart.reading import DEMOS, HARD

from backing.chart.drawing import drawing
from backing.chart.records import ChartOptions, Shape
from backing.chart.shape_boxes import box
from backing.console.sketch import sketch
from backing.form import read_form, read_form_text
from backing.lesson.contents import facts
from backing.page.limits import FARTHEST_MOVE
from backing.page.shape_data import ChordTable
from backing.players import play
from backing.theory.fretboard import parse_fingering
from backing.theory.hand import assign_fingers
from backing.timeline import unroll
from backing.verify import expect


@pytest.mark.parametrize("path", [*DEMOS, *HARD], ids=lambda path: path.stem)
def test_every_chord_of_a_form_has_the_shape_that_sounds(path: Path) -> None:
    form = read_form(path)
    timeline = unroll(form)
    shapes = {shape.symbol: shape.fingering for shape in drawing(form).shapes}
    spans = [span for span in timeline.spans if span.chord is not None]
    if form.instrument.is_bass:  # the guitar's shapes are no concern of a bass student
        assert not shapes
        return
    assert list(shapes) == list(dict.fromkeys(str(span.chord) for span in spans))
    riffs = {
        id(span.playing)
        for span in spans
        if any(part.riff for part in span.playing.settings.parts.values())
    }
    notes = [n for t in play(timeline).tracks if t.part == "guitar" for n in t.notes]
    heard: dict[str, set[tuple[int, int]]] = {}
    for span in spans:
        if id(span.playing) in riffs:
            continue
        heard.setdefault(str(span.chord), set()).update(
            (note.string or 0, note.pitch)
            for note in notes
            if span.start_whole <= note.start_whole < span.end_whole
        )
    picks = any(p.pick for s in spans for p in s.playing.settings.parts.values())
    for symbol, sounding in heard.items():
        pitches = shapes[symbol].pitches(form.tuning, form.capo)
        held = {
            (len(pitches) - index, pitch)
            for index, pitch in enumerate(pitches)
            if pitch is not None
        }
        assert sounding <= held
        assert picks or path not in DEMOS or not sounding or sounding == held


def test_shell_voicings_are_named_and_drawn_as_they_are_played() -> None:
    text = """\
title: Comping
tempo: 120
voicing: shell
shapes: {Cmaj7: x35453}
parts: {bass: off, guitar: {strum: {step: 1/4, play: "D D D D"}}}
sections: {a: {bars: "| Dm7 | G13 | Cmaj7 |"}}
form: [a]
"""
    form = read_form_text(text)
    chart = drawing(form)
    assert {shape.symbol: str(shape.fingering) for shape in chart.shapes} == {
        "Dm7": "x535xx",
        "G13": "3x345x",
        "Cmaj7": "x35453",
    }
    assert any("shell voicings" in line for line in chart.head.facts)
    notes = [n for t in play(unroll(form)).tracks if t.part == "guitar" for n in t.notes]
    for bar, shape in enumerate(chart.shapes, start=1):
        sounding = {note.pitch for note in notes if bar <= note.start_whole < bar + 1}
        assert sounding == {pitch for pitch in shape.fingering.pitches() if pitch is not None}
    # The other outputs that name a song's tuning name its voicing too, and the page has its shapes.
    assert "shell voicings" in facts(form)
    assert "shell voicings" in sketch(form, expect(form))
    table = ChordTable(unroll(form))
    assert [table.shapes[chord["shapes"][FARTHEST_MOVE]]["text"] for chord in table.table] == [
        "x535xx",
        "3x345x",
        "x35453",
    ]
    assert all(
        len(table.shapes[shape]["frets"]) - table.shapes[shape]["frets"].count(None) <= 4
        for shape in table.table[0]["shapes"]
    )


def test_shapes_and_fingers_in_the_form_are_used() -> None:
    form = read_form(DEMOS[0].parent / "orchard-wall.yaml")
    shapes = {shape.symbol: shape for shape in drawing(form).shapes}
    assert str(shapes["G"].fingering) == "320033"
    assert box(shapes["G"])["strings"] == [
        (0, 3, "2"), (1, 2, "1"), (2, 0, ""), (3, 0, ""), (4, 3, "3"), (5, 3, "4"),
    ]  # fmt: skip


def _shape(text: str) -> Shape:
    fingering = parse_fingering(text)
    return Shape("F", "", fingering, assign_fingers(fingering) or ())


def test_a_barre_and_a_place_up_the_neck() -> None:
    made = box(_shape("577655"))
    assert made["base"] == 5
    assert made["barres"] == [(1, 0, 5, 1)]
    assert [fret for _, fret, _ in made["strings"]] == [1, 3, 3, 2, 1, 1]
    assert box(_shape("x02220"))["base"] == 1


def test_muted_and_open_strings() -> None:
    assert [fret for _, fret, _ in box(_shape("xx0232"))["strings"]] == [-1, -1, 0, 2, 3, 2]


def test_left_handed_boxes_are_mirrored() -> None:
    shape = _shape("133211")
    right, left = box(shape), box(shape, left_handed=True)
    assert [(5 - n, fret, finger) for n, fret, finger in right["strings"]][::-1] == left["strings"]
    assert left["barres"] == right["barres"] == [(1, 0, 5, 1)]


def test_shapes_can_be_left_out() -> None:
    assert drawing(read_form(DEMOS[0]), ChartOptions(shapes=False)).shapes == ()
