"""A form as a chart: each section once, in the order of its first playing.

A section that a line of the form moves to another key is shown again in that key, and a pass
that has bars of its own stands below its section. Rows are those that the writer typed;
one of more than six bars is cut into fours, and where `per-row` is said, every row holds so
many. An ending begins in the row of the section's last bars where they leave room for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.chart.guitar_line import Chords, Playing, Printed
from backing.chart.records import Bar, Block, Chart, ChartOptions, Line, Shape, Shown
from backing.chart.signs import signs
from backing.chart.words import (
    bars as bars_words,
)
from backing.chart.words import (
    clock,
    head,
    ordinal,
    roadmap,
    runs,
    said_of,
    steps,
    times,
)
from backing.form.layout import LaidBar, lay_out
from backing.form.model import Form, PassSettings, Rows, Section, WrittenBar
from backing.form.passes import labels
from backing.theory.chords import Chord
from backing.theory.fingerings import voiced
from backing.theory.fretboard import Fingering
from backing.theory.hand import assign_fingers
from backing.theory.rhythm import Meter
from backing.timeline import Bar as PlayedBar
from backing.timeline import Pass, Timeline, renamed, unroll

USUAL_ROW, LONGEST_ROW = 4, 6


def drawing(form: Form, options: ChartOptions | None = None) -> Chart:
    """All that a form's chart shows."""
    options = options or ChartOptions()
    timeline = unroll(form)
    house = _House(timeline, options)
    blocks = tuple(house.blocks())
    total = bars_words(len(timeline.bars))
    if options.times:
        start, end = timeline.seconds(timeline.start_whole), timeline.seconds(timeline.end_whole)
        total += f", {clock(end - start)}; times are those of the track, count-in included"
    return Chart(
        head(form, options),
        tuple(roadmap(timeline, house.names)),
        total,
        blocks,
        tuple(house.shapes()) if options.shapes else (),
        f"capo {form.capo}" if form.capo else "",
        options,
    )


class _Part(NamedTuple):
    """Bars of a section that belong together: its body, or an ending with its label."""

    rows: Rows
    label: str = ""
    closes: bool = False


class _House:
    """One form's chart in the making."""

    def __init__(self, timeline: Timeline, options: ChartOptions) -> None:
        self.timeline, self.form, self.options = timeline, timeline.form, options
        chords = [span.chord for span in timeline.spans if span.chord is not None]
        held = voiced(chords, self.form.tuning, self.form.shapes)
        self.held: dict[str, Fingering] = {}
        self.moved: dict[str, int] = {}
        for span, shape in zip([s for s in timeline.spans if s.chord], held, strict=True):
            self.held.setdefault(str(span.chord), shape)
            self.moved.setdefault(str(span.chord), span.playing.transpose)
        self.playing = Playing(self.form, lambda chord: self.held[str(chord)])
        self.names: dict[tuple[str, int], str] = {}
        self.meter: Meter | None = None  # the one shown last

    def blocks(self) -> Iterator[Block]:
        """The pickup, then every section that plays."""
        entry_names = list(labels(self.form))
        last = self.timeline.passes[-1]
        if self.form.pickup is not None:
            yield self._pickup(self.timeline.passes[0])
        for playing in self.timeline.passes:
            key = (playing.section, playing.transpose)
            if key in self.names:
                continue
            plain = playing.section[0].upper() + playing.section[1:]
            own = self.form.entries[playing.entry].label
            name = plain
            if playing.transpose:
                moved = steps(abs(playing.transpose))
                name = own or f"{plain}, {'up' if playing.transpose > 0 else 'down'} {moved}"
            elif own and sum(e.section == playing.section for e in self.form.entries) == 1:
                name = entry_names[playing.entry]
            self.names[key] = name
            section = self.form.sections[playing.section]
            ends = self.form.entries[last.entry].bars is None
            final = ends and (last.section, last.transpose) == key
            yield self._section(section, playing, name, final)
            yield from self._varied(section, playing, name)

    def shapes(self) -> Iterator[Shape]:
        """Every chord's shape, in the order of the song."""
        for symbol, fingering in self.held.items():
            fingers = fingering.fingers or assign_fingers(fingering) or (0,) * 6
            said, name = "", symbol
            if self.options.sounding and self.form.capo:
                chord = next(s.chord for s in self.timeline.spans if str(s.chord) == symbol)
                key = self.form.key and self.form.key.transposed(self.moved[symbol])
                name, said = str(renamed(chord, self.form.capo, key)), symbol
            yield Shape(name, said, fingering, fingers)

    def _pickup(self, playing: Pass) -> Block:
        assert self.form.pickup is not None
        bar = self.timeline.pickup
        meter = bar.meter if bar else self.form.meter
        laid = lay_out([self.form.pickup], meter)
        (drawn,) = self._bars([self.form.pickup], laid, playing.transpose)
        return Block("Pickup", (), ((drawn._replace(end="double"),),))

    def _section(self, section: Section, playing: Pass, name: str, final: bool) -> Block:
        endings = list(_alike(section.endings))
        highest = max(section.endings, default=0)
        repeats = (bool(endings) and highest > 1) or (not endings and section.times > 1)
        parts = [_Part(section.rows, closes=repeats and not endings)]
        parts += [
            _Part(rows, label, closes=repeats and highest not in numbers)
            for label, numbers, rows in endings
        ]
        settings = section.settings.under(self.form.settings)
        meter = playing.settings.meter or self.form.meter
        lines = list(self._lines(section, playing))
        shown: list[list[Bar]] = []
        joined: set[int] = set()
        below: Printed | None = None
        body: tuple[LaidBar, ...] = ()
        for number, part in enumerate(parts):
            written = [bar for row in part.rows for bar in row]
            laid = lay_out(written, meter, before=body)
            drawn = self._bars(written, laid, playing.transpose, body)
            if number == 0:
                body = laid
                drawn = [bar._replace(opens=repeats and not at) for at, bar in enumerate(drawn)]
            first_pass = (number == 0 and len(parts) == 1) or number == 1
            drawn = [bar._replace(ending=part.label) for bar in drawn]
            closing = "repeat" if part.closes else "double" if number == len(parts) - 1 else "plain"
            closing = "double" if number and closing == "plain" else closing
            closing = "final" if final and number == len(parts) - 1 else closing
            drawn[-1] = drawn[-1]._replace(closes=part.closes, end=closing)
            rows = list(_cut(part.rows, drawn, settings.per_row))
            room = settings.per_row or USUAL_ROW
            fits = number and len(shown[-1] if number == 1 else []) + len(rows[0]) <= room
            if number == 1 and fits and len(shown[-1]) < room:
                shown[-1] += rows.pop(0)
                joined.add(len(shown) - 1)
            elif number > 1 and joined:
                joined.add(len(shown))
            shown += rows
            if first_pass:
                below = self._below(section, playing, [body, laid] if number else [laid])
        assert below is not None
        lines += [Line("words", line) for line in below.lines]
        rows = _with_cues(shown, section)
        return Block(
            name,
            tuple(lines),
            tuple(_with_below(rows, below)),
            frozenset(joined),
            tuple(below.staves),
        )

    def _lines(self, section: Section, playing: Pass) -> Iterator[Line]:
        if section.times > 1:
            yield Line("words", times(section.times))
        now = section.settings.under(self.form.settings)
        yield from said_of(section.settings, self.form.meter, now)
        for numbers, said in _passes_alike(section.on_pass):
            if said.rows is not None:
                continue
            when = " and ".join(ordinal(n) for n in numbers) + " time"
            settings = list(said_of(said.settings, self.form.meter, said.settings.under(now)))
            parts = [
                f"{name} off" if part.on is False else f"{name} otherwise"
                for name, part in said.settings.parts.items()
            ]
            words = [line.words for line in settings] or parts
            yield Line("note", f"{when}: {', '.join(words)}")

    def _varied(self, section: Section, playing: Pass, name: str) -> Iterator[Block]:
        """Passes with bars of their own."""
        for numbers, said in _passes_alike(section.on_pass):
            if said.rows is None:
                continue
            meter = said.settings.meter or playing.settings.meter or self.form.meter
            written = [bar for row in said.rows for bar in row]
            laid = lay_out(written, meter)
            drawn = self._bars(written, laid, playing.transpose)
            drawn[-1] = drawn[-1]._replace(end="double")
            own = said.settings.under(section.settings.under(self.form.settings))
            rows = _with_cues(
                list(_cut(said.rows, drawn, own.per_row)), section, said.settings.words or ()
            )
            when = " and ".join(ordinal(n) for n in numbers)
            lines = tuple(said_of(said.settings, self.form.meter, own))
            yield Block(f"{name}, {when} time", lines, tuple(map(tuple, rows)))

    def _bars(
        self,
        written: Sequence[WrittenBar],
        laid: Sequence[LaidBar],
        transpose: int,
        before: Sequence[LaidBar] = (),
    ) -> list[Bar]:
        """Bars in this chart's names; each shows its meter where another was shown last."""
        drawn = []
        for bar, own, found in zip(
            written, laid, signs(laid, [bar.again for bar in written], before), strict=True
        ):
            slots = () if bar.again else tuple(self._slots(bar, own, transpose))
            last = self.meter
            new = last is None or (last.count, last.unit) != (own.meter.count, own.meter.unit)
            drawn.append(Bar(own.meter, new, bar.again, slots, found))
            self.meter = own.meter
        return drawn

    def _slots(self, bar: WrittenBar, laid: LaidBar, transpose: int) -> Iterator[Shown]:
        """A bar's slots as typed, slashes with them, each in its place."""
        key = self.form.key
        up = self.form.capo if self.options.sounding else 0
        starts = {laid_cell.start_whole for laid_cell in laid.cells}
        for at, cell in zip(_places(bar, laid), bar.cells, strict=True):
            if cell.goes_on:
                yield Shown(at, cell)
                continue
            assert at in starts
            chord = renamed(cell.chord, transpose, key)
            chord = renamed(chord, up, key and key.transposed(transpose)) if up else chord
            yield Shown(at, cell._replace(chord=chord))

    def _below(self, section: Section, playing: Pass, laid: Sequence[Sequence[LaidBar]]) -> Printed:
        """What the guitars play in a section's first pass."""
        all_bars = [bar for part in laid for bar in part]
        played, chords = [], []
        held: Chord | None = None
        busy = False
        for index, bar in enumerate(all_bars):
            played.append(PlayedBar(index + 1, Fraction(0), bar.meter, playing, index))
            slots: list[tuple[Fraction, Chord | None]] = []
            plain = True
            for start, cell in bar.cells:
                if not cell.goes_on:
                    held = renamed(cell.chord, playing.transpose, self.form.key)
                    busy = bool(cell.marks) or cell.chord is None
                plain = plain and not busy
                slots.append((start, held))
            chords.append(Chords(tuple(slots), plain and all(self._known(c) for _, c in slots)))
        return self.playing.of(played, chords)

    def _known(self, chord: Chord | None) -> bool:
        return chord is not None and str(chord) in self.held


def _places(bar: WrittenBar, laid: LaidBar) -> list[Fraction]:
    """Where each typed slot starts; those of slashes, too."""
    count, meter = len(bar.cells), laid.meter
    if len(laid.cells) == count:
        return [cell.start_whole for cell in laid.cells]
    if count == meter.count:
        return [meter.unit_whole * number for number in range(count)]
    return list(meter.beat_starts[:count])


def _cut(rows: Rows, bars: Sequence[Bar], per_row: int | None) -> Iterator[list[Bar]]:
    """Bars in rows: as typed, or so many in each."""
    if per_row is not None:
        for at in range(0, len(bars), per_row):
            yield list(bars[at : at + per_row])
        return
    at = 0
    for row in rows:
        size = len(row) if len(row) <= LONGEST_ROW else USUAL_ROW
        for start in range(0, len(row), size):
            count = min(size, len(row) - start)
            yield list(bars[at + start : at + start + count])
        at += len(row)


def _with_cues(
    rows: Sequence[Sequence[Bar]], section: Section, own: Sequence[str] | None = None
) -> list[list[Bar]]:
    """Word cues at the bars that begin the rows as typed."""
    words = section.settings.words or () if own is None else own
    starts, at = [], 0
    for typed in (section.rows, *list(section.endings.values())[:1]):
        for row_typed in typed:
            starts.append(at)
            at += len(row_typed)
    cues = dict(zip(starts, words, strict=False))
    found, number = [], 0
    for row in rows:
        found.append([bar._replace(cue=cues.get(number + i, "")) for i, bar in enumerate(row)])
        number += len(row)
    return found


def _with_below(rows: Iterable[Sequence[Bar]], below: Printed) -> Iterator[tuple[Bar, ...]]:
    number = 0
    for row in rows:
        found = []
        for bar in row:
            tabs = tuple(staff.get(number) for staff in below.tabs)
            found.append(
                bar._replace(
                    strokes=below.strokes.get(number, ()),
                    tabs=tabs if any(tabs) else (),
                    alike=below.alike.get(number, ()),
                )
            )
            number += 1
        yield tuple(found)


def _alike(endings: Mapping[int, Rows]) -> Iterator[tuple[str, tuple[int, ...], Rows]]:
    """Endings by their bars: the label of the bracket (1.–3.), the numbers, the rows."""
    left = list(endings)
    while left:
        rows = endings[left[0]]
        same = tuple(number for number in left if endings[number] == rows)
        left = [number for number in left if number not in same]
        yield runs(same), same, rows


def _passes_alike(
    on_pass: Mapping[int, PassSettings],
) -> Iterator[tuple[list[int], PassSettings]]:
    left = list(on_pass)
    while left:
        said = on_pass[left[0]]
        same = [number for number in left if on_pass[number] == said]
        left = [number for number in left if number not in same]
        yield same, said
