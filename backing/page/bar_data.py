"""The page's bars: their times, chords and rows, and how the click may divide their beats."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from backing.form.model import Tempo, WrittenBar
from backing.form.passes import ending_of, pass_rows
from backing.page.limits import DIVISIONS
from backing.page.page_json import BarData, GridData, Level, SlotData
from backing.page.shape_data import ChordTable
from backing.players.sung_words import sung_words
from backing.text.bars import bar_name
from backing.theory.rhythm import Meter, parse_note_value
from backing.timeline import Bar, Timeline


def bar_table(
    timeline: Timeline,
    places: Sequence[Place],
    at: Callable[[Fraction], float],
    chords: ChordTable,
    grids: Grids,
) -> list[BarData]:
    """Every bar in playing order, the pickup first.

    Args:
        places: of the same bars.
        at: a place in the file to seconds on the page.
        chords: the song's chords.
        grids: gets the grids of all bars.
    """
    pass_of = {id(playing): index for index, playing in enumerate(timeline.passes)}
    slots = _slots_by_bar(timeline, at, chords)
    words = {place: text.strip() for place, text in sung_words(timeline)}
    found: list[BarData] = []
    first_row = 0  # the row that its pass starts with
    for bar, place in zip(timeline.played, places, strict=True):
        index = pass_of.get(id(bar.playing), 0)
        if not found or found[-1]["passIndex"] != index or not found[-1]["number"]:
            first_row = place.row
        found.append(
            {
                "number": bar.number,
                "name": bar_name(bar.number),
                "start": at(bar.start_whole),
                "end": at(bar.end_whole),
                "passIndex": index,
                "grid": grids.of(bar),
                "beats": [at(bar.start_whole + beat) for beat in bar.meter.beat_starts],
                "row": place.row - first_row,
                "ending": place.ending,
                "simile": place.written.again,
                "bpm": _bpm(timeline, bar),
                "chords": next(slots),
                "words": words.get(bar.start_whole, ""),
            }
        )
    return found


def _slots_by_bar(
    timeline: Timeline, at: Callable[[Fraction], float], chords: ChordTable
) -> Iterator[list[SlotData]]:
    """Each bar's chords, by their written places."""
    spans = deque(sorted(timeline.spans, key=lambda span: span.slot_whole))
    for bar in timeline.played:
        slots: list[SlotData] = []
        while spans and spans[0].slot_whole < bar.end_whole:
            span = spans.popleft()
            name = str(span.chord), span.playing.transpose
            slots.append(
                {
                    "at": at(span.start_whole),
                    "slot": at(span.slot_whole),
                    "share": float((span.slot_whole - bar.start_whole) / bar.meter.bar_whole),
                    "chord": -1 if span.chord is None else chords.index_of[name],
                    "marks": sorted(span.marks),
                }
            )
        yield slots


def _bpm(timeline: Timeline, bar: Bar) -> float:
    """The tempo at a bar's start, in the beats that the song's tempo counts."""
    beat_whole = (timeline.form.settings.tempo or Tempo()).beat_whole or Fraction(1, 4)
    return float(60 / (timeline.seconds_per_whole(bar.start_whole) * beat_whole))


class Place(NamedTuple):
    """A played bar's row within the whole pass, the ending that it belongs to, and as typed."""

    row: int
    ending: int | None
    written: WrittenBar


def bar_places(timeline: Timeline) -> Iterator[Place]:
    """The places of all played bars, the pickup's first."""
    form = timeline.form
    if form.pickup is not None:
        yield Place(0, None, form.pickup)
    for playing in timeline.passes:
        entry, section = form.entries[playing.entry], form.sections[playing.section]
        rows = pass_rows(entry, section, playing.number)
        ending = ending_of(entry, section, playing.number)
        body = len(rows) - (len(section.endings[ending]) if ending is not None else 0)
        of_pass = [
            Place(index, ending if index >= body else None, bar)
            for index, row in enumerate(rows)
            for bar in row
        ]
        if per_row := playing.settings.per_row:
            of_pass = [place._replace(row=index // per_row) for index, place in enumerate(of_pass)]
        yield from of_pass if entry.bars is None else of_pass[entry.bars[0] - 1 : entry.bars[1]]


class Grids:
    """Meters with their swing: how the click may divide each beat, as shares of it."""

    def __init__(self) -> None:
        self.table: list[GridData] = []
        self._known: dict[tuple[Meter, Any], int] = {}

    def of(self, bar: Bar) -> int:
        key = bar.meter, bar.playing.swing
        if key not in self._known:
            self._known[key] = len(self.table)
            self.table.append(_grid(bar))
        return self._known[key]


def _grid(bar: Bar) -> GridData:
    meter = bar.meter
    grouped = len(meter.group_starts) < len(meter.beat_starts)
    levels: list[Level] = [
        "accent" if not start else "group" if grouped and start in meter.group_starts else "beat"
        for start in meter.beat_starts
    ]
    divisions = {text: _divided(bar, parse_note_value(text)) for text in DIVISIONS}
    return {
        "meter": str(meter),
        "levels": levels,
        "beatUnits": [int(beat / meter.unit_whole) for beat in meter.beats],
        "divisions": {"": [[0.0]] * len(levels), **divisions},
    }


def _divided(bar: Bar, step: Fraction) -> list[list[float]]:
    """Where notes a step apart sound in each beat, as shares of it; each beat starts afresh."""
    return [
        [
            float((bar.at(start + index * step) - bar.start_whole - start) / beat)
            for index in range(-(-beat // step))
        ]
        for start, beat in zip(bar.meter.beat_starts, bar.meter.beats, strict=True)
    ]
