"""A form as the page's script reads it: bars, passes, chords, riffs and the click, in seconds.

Times are exact ones rounded once to a double, from bar 1's bar line at the tempo as written;
a pickup's are negative. What sounds is told in `notes`, what a chord looks like in `shapes`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from hashlib import sha256
from itertools import groupby
from typing import Any, NamedTuple

from backing.form.model import Feel, Form, Tempo, WrittenBar
from backing.form.passes import ending_of, labels, pass_rows
from backing.page.shape_data import Chords
from backing.players import PARTS
from backing.players.click import ACCENT, BEAT, BETWEEN, DEFAULT_SOUND, GROUP
from backing.players.cues import settings_of
from backing.players.riff import Tabbed, riff_cues
from backing.text.bars import pass_name
from backing.text.feel import feel
from backing.text.tempo import beats_per_minute, equation, note_value_name
from backing.theory.fretboard import STANDARD_TUNING
from backing.theory.pitch import note_name
from backing.theory.rhythm import Meter, note_value_text, parse_note_value
from backing.timeline import Bar, Timeline

#: What a student may divide the beats into.
DIVISIONS = ("1/8", "1/8t", "1/16")
#: Each kind of click as a share of an accent's loudness, as the click's velocities have it.
CLICK_GAINS = {
    "accent": 1.0,
    "group": GROUP / ACCENT,
    "beat": BEAT / ACCENT,
    "between": BETWEEN / ACCENT,
}

Json = dict[str, Any]


def song_data(timeline: Timeline) -> Json:
    """All that the page shows of a song, and its click; parts and samples are added later."""
    form = timeline.form
    zero = timeline.seconds(timeline.start_whole)

    def at(whole: Fraction) -> float:
        return float(timeline.seconds(whole) - zero)

    chords = Chords(timeline)
    grids = _Grids()
    places = list(_places(timeline))
    bars = _bars(timeline, places, at, chords, grids)
    return {
        "title": form.title,
        "by": form.by,
        "id": sha256(f"{form.title}\n{form.by}".encode()).hexdigest()[:16],
        "lang": "en",
        "key": str(form.key or ""),
        "soundingKey": str(form.key.transposed(form.capo) if form.key else ""),
        "capo": form.capo,
        "tuning": _tuning(form),
        "meter": str(form.meter),
        "feel": _feel(form.settings.feel),
        "note": form.settings.note or "",
        "tempo": _tempo(form),
        "countIn": form.count_in_bars,
        "end": at(timeline.end_whole),
        "ring": at(timeline.end_whole + timeline.ring_out_whole) - at(timeline.end_whole),
        "grids": grids.table,
        "bars": bars,
        "chords": chords.table,
        "shapes": chords.shapes,
        "passes": _passes(timeline, places, bars),
        "riffs": list(_riffs(timeline, at)),
    }


# Bars


def _bars(
    timeline: Timeline,
    places: Sequence[_Place],
    at: Callable[[Fraction], float],
    chords: Chords,
    grids: _Grids,
) -> list[Json]:
    number_of = {id(playing): index for index, playing in enumerate(timeline.passes)}
    beat_whole = (timeline.form.settings.tempo or Tempo()).beat_whole or Fraction(1, 4)
    spans = sorted(timeline.spans, key=lambda span: span.slot_whole)
    found: list[Json] = []
    place = 0
    first = 0  # the row that its pass starts with
    for bar, (row, ending, written) in zip(timeline.played, places, strict=True):
        if not found or found[-1]["pass"] != number_of[id(bar.playing)] or not found[-1]["n"]:
            first = row
        slots = []
        while place < len(spans) and spans[place].slot_whole < bar.end_whole:
            span = spans[place]
            place += 1
            name = str(span.chord), span.playing.transpose
            share = (span.slot_whole - bar.start_whole) / bar.meter.bar_whole
            slots.append(
                {
                    "at": at(span.start_whole),
                    "slot": at(span.slot_whole),
                    "share": float(share),
                    "chord": -1 if span.chord is None else chords.index_of[name],
                    "marks": sorted(span.marks),
                }
            )
        bpm = 240 / timeline.seconds_per_whole(bar.start_whole) / (4 * beat_whole)
        found.append(
            {
                "n": bar.number,
                "start": at(bar.start_whole),
                "end": at(bar.end_whole),
                "pass": number_of[id(bar.playing)],
                "grid": grids.of(bar),
                "beats": [at(bar.start_whole + beat) for beat in bar.meter.beat_starts],
                "row": row - first,
                "ending": ending,
                "simile": written.again,
                "bpm": float(bpm),
                "chords": slots,
            }
        )
    return found


class _Place(NamedTuple):
    """Of a played bar: its row within the whole pass, the ending that it is of, what is typed."""

    row: int
    ending: int | None
    written: WrittenBar


def _places(timeline: Timeline) -> Iterator[_Place]:
    form = timeline.form
    if form.pickup is not None:
        yield _Place(0, None, form.pickup)
    for playing in timeline.passes:
        entry, section = form.entries[playing.entry], form.sections[playing.section]
        rows = pass_rows(entry, section, playing.number)
        ending = ending_of(entry, section, playing.number)
        body = len(rows) - (len(section.endings[ending]) if ending is not None else 0)
        of_pass = [
            _Place(index, ending if index >= body else None, bar)
            for index, row in enumerate(rows)
            for bar in row
        ]
        if per_row := playing.settings.per_row:
            of_pass = [place._replace(row=index // per_row) for index, place in enumerate(of_pass)]
        yield from of_pass if entry.bars is None else of_pass[entry.bars[0] - 1 : entry.bars[1]]


class _Grids:
    """Meters with their swing: how the click may divide each beat, as shares of it."""

    def __init__(self) -> None:
        self.table: list[Json] = []
        self._known: dict[tuple[Meter, Any], int] = {}

    def of(self, bar: Bar) -> int:
        key = bar.meter, bar.playing.swing
        if key not in self._known:
            self._known[key] = len(self.table)
            self.table.append(_grid(bar))
        return self._known[key]


def _grid(bar: Bar) -> Json:
    meter = bar.meter
    grouped = len(meter.group_starts) < len(meter.beat_starts)
    levels = [
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


# Passes


def _passes(timeline: Timeline, places: Sequence[_Place], bars: Sequence[Json]) -> list[Json]:
    form = timeline.form
    names = list(labels(form))
    click = settings_of("click", True)
    before = len(timeline.played) - len(timeline.bars)
    counts = [len(list(group)) for _, group in groupby(timeline.bars, lambda b: id(b.playing))]
    found: list[Json] = []
    seen: dict[str, int] = {}
    first = before
    for index, (playing, count) in enumerate(zip(timeline.passes, counts, strict=True)):
        settings = playing.settings
        said = click(playing)
        name = names[playing.entry]
        table: Json = {
            "name": name,
            "number": playing.number,
            "of": playing.of,
            "text": pass_name(name, playing.number, playing.of),
            "section": playing.section,
            "first": first,
            "last": first + count - 1,
            "note": "" if settings.note == form.settings.note else settings.note or "",
            "words": list(settings.words or ())[places[first].row :],
        }
        printed = repr((playing.section, table["note"], table["words"], _printed(bars, table)))
        table["alike"] = seen.get(printed)
        seen.setdefault(printed, index)
        table["click"] = {
            "on": bool(said.on),
            "sound": said.sound or DEFAULT_SOUND,
            "subdivide": note_value_text(said.subdivide_whole) if said.subdivide_whole else "",
            "accent": said.accent is not False,
            "heard": list(said.heard) if said.heard else None,
        }
        found.append(table)
        first += count
    return found


def _printed(bars: Sequence[Json], table: Json) -> list[Any]:
    """What of a pass's bars is seen on the chart."""
    return [
        (
            bar["grid"],
            bar["row"],
            bar["ending"],
            [(slot["share"], slot["chord"], slot["marks"]) for slot in bar["chords"]],
        )
        for bar in bars[table["first"] : table["last"] + 1]
    ]


# Riffs


def _riffs(timeline: Timeline, at: Callable[[Fraction], float]) -> Iterator[Json]:
    """Each pass's riff as its tab is printed: a note a cell, by bar."""
    before = len(timeline.played) - len(timeline.bars)
    for part in PARTS:
        settings = settings_of(part.name, part.on)
        if not part.programs or not any(settings(one).riff for one in timeline.passes):
            continue
        starts = {id(bar): index + before for index, bar in enumerate(timeline.bars)}
        cues = iter(riff_cues(timeline, settings))
        cue = next(cues, None)
        number = {id(playing): index for index, playing in enumerate(timeline.passes)}
        notes: dict[int, list[Json]] = {}
        for bar in timeline.bars:
            while cue is not None and cue.start_whole < bar.end_whole:
                if isinstance(cue.stroke, Tabbed):
                    of_pass = notes.setdefault(number[id(bar.playing)], [])
                    of_pass.append(_tabbed(cue.stroke, cue.start_whole, bar, starts[id(bar)], at))
                cue = next(cues, None)
        for index, of_pass in notes.items():
            _end(of_pass)
            yield {"part": part.name, "pass": index, "notes": of_pass}


def _tabbed(
    tabbed: Tabbed, start: Fraction, bar: Bar, index: int, at: Callable[[Fraction], float]
) -> Json:
    note = tabbed.note
    fret = "x" if note.fret is None else str(note.fret + bar.playing.transpose)
    return {
        "bar": index,
        "at": at(start),
        "end": at(tabbed.until_whole),
        "share": float((start - bar.start_whole) / bar.meter.bar_whole),
        "string": note.string,
        "fret": fret,
        "how": (note.link or "") + "b" * note.bend + "~" * note.shake,
    }


def _end(notes: Sequence[Json]) -> None:
    """Let each note last to the next on its string."""
    following: dict[int, float] = {}
    for note in reversed(notes):
        note["end"] = min(note["end"], following.get(note["string"], note["end"]))
        following[note["string"]] = note["at"]


# The head


def _tempo(form: Form) -> Json:
    tempo = form.settings.tempo or Tempo()
    bpm, beat = float(tempo.bpm or 0), tempo.beat_whole or Fraction(1, 4)
    name, number = note_value_name(beat), beats_per_minute(tempo.bpm or Fraction(0))
    return {"bpm": bpm, "beat": name, "text": equation(name, number)}


def _tuning(form: Form) -> str:
    if form.tuning == STANDARD_TUNING:
        return ""
    return " ".join(note_name(note) for note in form.tuning)


def _feel(one: Feel | None) -> str:
    if one is None or one.ratio == 1:
        return ""
    return feel(one.ratio, one.level_whole)
