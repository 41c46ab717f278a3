"""A form as a chart: each section once, in the order of its first playing.

A section that a line of the form moves to another key is shown again in that key, and a pass
that has bars of its own stands below its section. Rows are those that the writer typed;
one of more than six bars is cut into fours, and with `per-row` every row has that many bars.
An ending begins in the row of the section's last bars where they leave room for it.
"""

from __future__ import annotations

from collections.abc import Iterator

from backing.chart.records import Block, Chart, ChartOptions, Shape
from backing.chart.sections import SectionDrawer
from backing.chart.words import head, roadmap
from backing.form.model import Form
from backing.form.passes import labels
from backing.form.transposed import renamed
from backing.text.bars import bars
from backing.text.counts import moved
from backing.text.times import clock
from backing.theory.fingerings import voiced
from backing.theory.fretboard import Fingering
from backing.theory.hand import assign_fingers
from backing.timeline import Pass, Timeline, unroll


def drawing(form: Form, options: ChartOptions | None = None) -> Chart:
    """All that a form's chart shows."""
    options = options or ChartOptions()
    timeline = unroll(form)
    drawer = _ChartDrawer(timeline, options)
    blocks = tuple(drawer.blocks())
    total = f"{bars(len(timeline.bars))} in total"
    if options.times:
        start, end = timeline.seconds(timeline.start_whole), timeline.seconds(timeline.end_whole)
        length = clock(end - start, decimals=0)
        total += f", {length}; times are from the start of the track, with its count-in"
    return Chart(
        head(form, options),
        tuple(roadmap(timeline, drawer.names)),
        total,
        blocks,
        tuple(drawer.shape_boxes()) if options.shapes and not form.instrument.is_bass else (),
        f"capo {form.capo}" if form.capo else "",
        options,
    )


class _ChartDrawer:
    """Draws one form's chart; `names` are the blocks' names by section and transposition."""

    def __init__(self, timeline: Timeline, options: ChartOptions) -> None:
        self.timeline, self.form, self.options = timeline, timeline.form, options
        spans = [span for span in timeline.spans if span.chord is not None]
        chords = [span.chord for span in spans if span.chord]
        held = voiced(chords, self.form.tuning, self.form.shapes, self.form.voicing)
        self.shapes: dict[str, Fingering] = {}
        self.transposed: dict[str, int] = {}  # by chord, how far its first place is moved
        for span, shape in zip(spans, held, strict=True):
            self.shapes.setdefault(str(span.chord), shape)
            self.transposed.setdefault(str(span.chord), span.playing.transpose)
        self.sections = SectionDrawer(self.form, options, self.shapes)
        self.names: dict[tuple[str, int], str] = {}

    def blocks(self) -> Iterator[Block]:
        """The pickup, then every section that plays."""
        last = self.timeline.passes[-1]
        ends_whole = self.form.entries[last.entry].bars is None
        if self.form.pickup is not None:
            bar = self.timeline.pickup
            meter = bar.meter if bar else self.form.meter
            leading = bar.playing if bar else self.timeline.passes[0]
            yield self.sections.pickup(self.form.pickup, meter, leading)
        lines = list(labels(self.form))
        drawn: set[int] = set()
        for playing in self.timeline.passes:
            key = (playing.section, playing.transpose)
            section = self.form.sections[playing.section]
            if key not in self.names:
                self.names[key] = name = self._name(playing)
                ends_song = ends_whole and (last.section, last.transpose) == key
                yield self.sections.section(section, playing, name, ends_song)
                yield from self.sections.changed_passes(section.on_pass, section, playing, name)
            if playing.entry not in drawn:
                drawn.add(playing.entry)
                own, line = self.form.entries[playing.entry].on_pass, lines[playing.entry]
                yield from self.sections.changed_passes(own, section, playing, line)

    def shape_boxes(self) -> Iterator[Shape]:
        """Every chord's shape, in the order of the song."""
        for symbol, fingering in self.shapes.items():
            fingers = fingering.fingers or assign_fingers(fingering) or (0,) * len(fingering.frets)
            if not (self.options.sounding and self.form.capo):
                yield Shape(symbol, "", fingering, fingers)
                continue
            chord = next(s.chord for s in self.timeline.spans if str(s.chord) == symbol)
            key = self.form.key and self.form.key.transposed(self.transposed[symbol])
            sounding = str(renamed(chord, self.form.capo, key))
            yield Shape(sounding, symbol, fingering, fingers)

    def _name(self, playing: Pass) -> str:
        """What a section is called: its own name, or its line's label where that is unambiguous."""
        plain = playing.section[0].upper() + playing.section[1:]
        label = self.form.entries[playing.entry].label
        if playing.transpose:
            return label or f"{plain}, {moved(playing.transpose)}"
        played_once = sum(e.section == playing.section for e in self.form.entries) == 1
        if label and played_once:
            return list(labels(self.form))[playing.entry]
        return plain
