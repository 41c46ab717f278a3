"""The shape boxes show what the guitarist plays."""

from __future__ import annotations

from pathlib import Path

import pytest
from chart.reading import DEMOS, HARD

from backing.chart.drawing import drawing
from backing.chart.records import ChartOptions, Shape
from backing.chart.shape_boxes import box
from backing.form import read_form
from backing.players import play
from backing.theory.fretboard import parse_fingering
from backing.theory.hand import assign_fingers
from backing.timeline import unroll


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
