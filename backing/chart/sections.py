"""Sections as blocks of a chart: bars, endings, and passes that have their own bars."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.chart.bar_rows import (
    USUAL_ROW,
    cut_rows,
    joined_rows,
    slot_places,
    with_playing,
)
from backing.chart.guitar_line import Chords, GuitarLines, Printed
from backing.chart.records import Bar, Block, ChartOptions, Line, Shown
from backing.chart.riff_tab import Silence
from backing.chart.signs import signs
from backing.chart.verses import Verses, numbers_of, verse_lines, with_words
from backing.chart.words import changed_passes, margin_lines, which_time
from backing.form.layout import LaidBar, lay_out
from backing.form.model import Form, PassSettings, Rows, Section, WrittenBar
from backing.form.transposed import renamed
from backing.text.bars import ending_numbers
from backing.text.counts import times
from backing.text.lists import same_values
from backing.theory.chords import Chord
from backing.theory.fretboard import Fingering
from backing.theory.rhythm import Meter
from backing.timeline import Bar as PlayedBar
from backing.timeline import Pass


class _Part(NamedTuple):
    """Bars of a section that belong together: its body, or an ending.

    `label` names the ending's passes; `opens` and `closes` are repeat signs; `end` is the kind of
    its last bar line.
    """

    rows: Rows
    label: str = ""
    opens: bool = False
    closes: bool = False
    end: str = "plain"


class SectionDrawer:
    """Draws a form's sections in order, and knows what the page has shown already.

    Args:
        form: as read.
        options: of the chart.
        shapes: how each chord of the song is held, by its name.
    """

    def __init__(self, form: Form, options: ChartOptions, shapes: Mapping[str, Fingering]) -> None:
        self.form, self.options, self.shapes = form, options, shapes
        self.guitars = GuitarLines(form, lambda chord: shapes[str(chord)])
        self._shown_meter: Meter | None = None

    def pickup(self, bar: WrittenBar, meter: Meter, playing: Pass) -> Block:
        """The bar before bar 1, with the riffs that it has itself."""
        laid = lay_out([bar], meter)
        (drawn,) = self._bars([bar], laid, playing.transpose)
        row = (drawn._replace(end="double"),)
        if not self.form.pickup_parts:
            return Block("Pickup", (), (row,))
        below = self._below(playing, laid, only_riffs=True)
        lines = tuple(Line("words", line) for line in below.lines)
        shown = tuple(with_playing([row], below))
        return Block("Pickup", lines, shown, staves=tuple(below.staves))

    def section(self, section: Section, playing: Pass, name: str, ends_song: bool) -> Block:
        """A section as its first pass plays it, with all its endings.

        Args:
            playing: its first pass in this key.
            name: what it is called on the chart.
            ends_song: whether its last bar is the song's.
        """
        settings = section.settings.under(self.form.settings)
        meter = playing.settings.meter or self.form.meter
        laid: list[tuple[LaidBar, ...]] = []
        rows: list[list[list[Bar]]] = []
        lines = list(self._lines(section))
        for part in _parts(section, ends_song):
            body = laid[0] if laid else ()
            written = [bar for row in part.rows for bar in row]
            laid.append(lay_out(written, meter, before=body))
            bars = self._bars(written, laid[-1], playing.transpose, body)
            rows.append(list(cut_rows(part.rows, _as_part(bars, part), settings.per_row)))
        below = self._below(playing, [bar for bars in laid[:2] for bar in bars])
        lines += [Line("words", line) for line in below.lines]
        shown, joined = joined_rows(rows, settings.per_row or USUAL_ROW)
        verses = Verses(self.form, section, playing.transpose).below()
        return Block(
            name,
            (*lines, *verse_lines(verses)),
            tuple(with_playing(with_words(shown, verses), below)),
            joined,
            tuple(below.staves),
            numbers_of(verses),
        )

    def changed_passes(
        self, on_pass: Mapping[int, PassSettings], section: Section, playing: Pass, name: str
    ) -> Iterator[Block]:
        """Passes with bars of their own, each set of bars once.

        Args:
            on_pass: what passes change, of the section or of a line that plays it.
            section: whose passes they are.
            playing: a pass of the section in this key.
            name: what the section or the line is called on the chart.
        """
        line = None if on_pass is section.on_pass else playing.entry
        for numbers, changes in same_values(on_pass):
            if changes.rows is None:
                continue
            meter = changes.settings.meter or playing.settings.meter or self.form.meter
            written = [bar for row in changes.rows for bar in row]
            bars = self._bars(written, lay_out(written, meter), playing.transpose)
            bars[-1] = bars[-1]._replace(end="double")
            settings = changes.settings.under(section.settings.under(self.form.settings))
            rows = list(cut_rows(changes.rows, bars, settings.per_row))
            verses = Verses(self.form, section, playing.transpose).below(
                [(line, number) for number in numbers]
            )
            yield Block(
                f"{name}, {which_time(numbers)}",
                (
                    *margin_lines(changes.settings, self.form.meter, settings),
                    *verse_lines(verses),
                ),
                tuple(map(tuple, with_words(rows, verses))),
                verses=numbers_of(verses),
            )

    def _lines(self, section: Section) -> Iterator[Line]:
        """What stands in the margin: how often it plays, its settings, what passes change."""
        if section.times > 1:
            yield Line("words", times(section.times))
        settings = section.settings.under(self.form.settings)
        yield from margin_lines(section.settings, self.form.meter, settings)
        for change in changed_passes(section.on_pass, self.form, settings):
            yield Line("note", change)

    def _bars(
        self,
        written: Sequence[WrittenBar],
        laid: Sequence[LaidBar],
        transpose: int,
        before: Sequence[LaidBar] = (),
    ) -> list[Bar]:
        """Bars in this chart's names; each shows its meter where another was shown last."""
        drawn = []
        repeats = [bar.again for bar in written]
        for bar, own, found in zip(written, laid, signs(laid, repeats, before), strict=True):
            slots = () if bar.again else tuple(self._slots(bar, own, transpose))
            last = self._shown_meter
            new = last is None or (last.count, last.unit) != (own.meter.count, own.meter.unit)
            drawn.append(Bar(own.meter, new, bar.again, slots, found))
            self._shown_meter = own.meter
        return drawn

    def _slots(self, bar: WrittenBar, laid: LaidBar, transpose: int) -> Iterator[Shown]:
        """A bar's slots as typed, slashes with them, each in its place."""
        key = self.form.key
        up = self.form.capo if self.options.sounding else 0
        starts = {laid_cell.start_whole for laid_cell in laid.cells}
        for at, cell in zip(slot_places(bar, laid), bar.cells, strict=True):
            if cell.goes_on:
                yield Shown(at, cell)
                continue
            assert at in starts
            chord = renamed(cell.chord, transpose, key)
            chord = renamed(chord, up, key and key.transposed(transpose)) if up else chord
            yield Shown(at, cell._replace(chord=chord))

    def _below(self, playing: Pass, laid: Sequence[LaidBar], only_riffs: bool = False) -> Printed:
        """What is printed below a section, as its first pass plays it, or below a pickup."""
        played, chords = [], []
        held: Chord | None = None
        stopped = False
        busy = False  # whether a mark or N.C. keeps the pattern from being played as it is written
        for index, bar in enumerate(laid):
            played.append(PlayedBar(index + 1, Fraction(0), bar.meter, playing, index))
            slots: list[tuple[Fraction, Chord | None]] = []
            plain, silences = True, []
            ends = [start for start, _ in bar.cells[1:]] + [bar.meter.bar_whole]
            for (start, cell), end in zip(bar.cells, ends, strict=True):
                starts_here = not cell.goes_on
                if starts_here:
                    stopped = "stop" in cell.marks
                    held = renamed(cell.chord, playing.transpose, self.form.key)
                    busy = bool(cell.marks) or cell.chord is None
                if stopped:
                    silences.append(Silence(start, end, starts_here))
                plain = plain and not busy
                slots.append((start, held))
            known = all(chord is not None and str(chord) in self.shapes for _, chord in slots)
            chords.append(Chords(tuple(slots), plain and known, tuple(silences)))
        return self.guitars.below(played, chords, only_riffs)


def _parts(section: Section, ends_song: bool) -> list[_Part]:
    """A section's body and its endings with their repeat signs and last bar lines."""
    highest = max(section.endings, default=0)
    repeats = (highest or section.times) > 1
    parts = [_Part(section.rows, opens=repeats, closes=repeats and not section.endings)]
    for numbers, rows in same_values(section.endings):
        closes = repeats and highest not in numbers
        parts.append(_Part(rows, ending_numbers(numbers), closes=closes, end="double"))
    parts[-1] = parts[-1]._replace(end="double")
    parts = [part._replace(end="repeat") if part.closes else part for part in parts]
    if ends_song:
        parts[-1] = parts[-1]._replace(end="final")
    return parts


def _as_part(bars: Sequence[Bar], part: _Part) -> list[Bar]:
    """Bars under their part's label and between its signs."""
    drawn = [bar._replace(ending=part.label) for bar in bars]
    drawn[0] = drawn[0]._replace(opens=part.opens)
    drawn[-1] = drawn[-1]._replace(closes=part.closes, end=part.end)
    return drawn
