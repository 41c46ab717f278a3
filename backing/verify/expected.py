"""What a form must come to, by short arithmetic of its own: a beat at a time, no Timeline.

Times are exact seconds from the start of the file (count-in included), as Fractions.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from backing.form.model import Cell, Entry, Form, Section, Settings, Tempo, WrittenBar
from backing.form.passes import labels, pass_label
from backing.theory.rhythm import Meter

RING_OUT_S = 2


class ExpectedPass(NamedTuple):
    """One row of the table. `first_bar` counts from 1."""

    label: str
    first_bar: int
    bars: int
    start_s: Fraction
    seconds: Fraction


class ExpectedBar(NamedTuple):
    """A bar line with its meter, and whether the click must sound there."""

    start_s: Fraction
    start_quarters: Fraction
    meter: Meter
    clicked: bool


class ExpectedChord(NamedTuple):
    """A slot: its written time, its sounding chord and what the bass owes it.

    `sounding` is the root and the tones as pitch classes, None at N.C.; `bass_class` is
    None where no bass must be struck; `bass_s` is when it is (a push comes early).
    """

    start_s: Fraction
    written: str
    sounding: tuple[int, frozenset[int]] | None
    bass_class: int | None
    bass_s: Fraction


@dataclass(frozen=True, slots=True)
class Expected:
    """All that a file is held against. `seconds` is the form alone; `end_s` the file's end."""

    title: str
    count_in_s: Fraction
    seconds: Fraction
    end_s: Fraction
    passes: tuple[ExpectedPass, ...]
    bars: tuple[ExpectedBar, ...]
    count_in_bars: tuple[ExpectedBar, ...]
    chords: tuple[ExpectedChord, ...]
    tempos: tuple[tuple[Fraction, Fraction], ...]
    """Quarters from the start, and quarters a minute from there on."""


def expect(form: Form, count_in: bool = True) -> Expected:
    """Work a form out, bar by bar and beat by beat."""
    return _Sum(form).work(form.count_in_bars if count_in else 0)


class _Sum:
    """Running sums of quarters and seconds over a form."""

    def __init__(self, form: Form) -> None:
        self.form = form
        self.at_s = Fraction(0)
        self.at_quarters = Fraction(0)
        self.tempos: list[tuple[Fraction, Fraction]] = []
        self.passes: list[ExpectedPass] = []
        self.bars: list[ExpectedBar] = []
        self.chords: list[ExpectedChord] = []
        self.slots: list[tuple[Fraction, Fraction]] = []

    def work(self, count_in: int) -> Expected:
        plan = list(_plan(self.form))
        first_settings, first_bars, _, _ = plan[0]
        first_meter = first_bars[0][1]
        start = _bpm(first_settings.tempo)
        before = []
        for _ in range(count_in):
            before.append(ExpectedBar(self.at_s, self.at_quarters, first_meter, True))
            for beat in first_meter.beats:
                self._beat(beat, start)
        count_in_s = self.at_s
        for settings, bars, label, (number, of) in plan:
            self._pass(settings, bars, label, number, of)
        last_bpm = self.tempos[-1][1]
        sixty_fourths = -(-RING_OUT_S * last_bpm * 16 // 60)
        end_s = self.at_s + sixty_fourths / 16 * 60 / last_bpm
        return Expected(
            self.form.title,
            count_in_s,
            self.at_s - count_in_s,
            end_s,
            tuple(self.passes),
            tuple(self.bars),
            tuple(before),
            tuple(self.chords),
            tuple(self.tempos),
        )

    def _pass(
        self,
        settings: Settings,
        bars: Sequence[tuple[WrittenBar, Meter]],
        label: str,
        number: int,
        of: int,
    ) -> None:
        start_s, first_bar = self.at_s, len(self.bars) + 1
        click = settings.parts.get("click")
        bpms = _beat_tempos(settings.tempo, [len(meter.beats) for _, meter in bars], number, of)
        for index, (written, meter) in enumerate(bars):
            heard = click is None or click.on is not False
            if click is not None and click.heard is not None:
                heard = heard and len(self.bars) % click.heard.cycle < click.heard.bars
            self.bars.append(ExpectedBar(self.at_s, self.at_quarters, meter, heard))
            bar_quarters, bar_s = self.at_quarters, [self.at_s]
            for beat, bpm in zip(meter.beats, bpms[index], strict=True):
                self._beat(beat, bpm)
                bar_s.append(self.at_s)
            for start, cell in _cells(written, meter):
                self._chord(cell, settings, meter, bar_quarters, bar_s, bpms[index], start)
        self.passes.append(ExpectedPass(label, first_bar, len(bars), start_s, self.at_s - start_s))

    def _beat(self, beat: Fraction, bpm: Fraction) -> None:
        if not self.tempos or self.tempos[-1][1] != bpm:
            self.tempos.append((self.at_quarters, bpm))
        self.at_quarters += beat * 4
        self.at_s += beat * 240 / bpm

    def _chord(
        self,
        cell: Cell,
        settings: Settings,
        meter: Meter,
        bar_quarters: Fraction,
        bar_s: Sequence[Fraction],
        bpms: Sequence[Fraction],
        start: Fraction,
    ) -> None:
        """Note a chord: its time is its beat's time and what is left of it at the beat's tempo."""
        left, beat = start, 0
        while beat + 1 < len(meter.beats) and left >= meter.beats[beat]:
            left, beat = left - meter.beats[beat], beat + 1
        start_s = bar_s[beat] + left * 240 / bpms[beat]
        quarters = bar_quarters + start * 4
        struck_s = start_s
        if "push" in cell.marks and self.slots:
            before, struck_before = self.slots[-1][1], self.slots[-1][0]
            early = min(Fraction(1, 2), (quarters - before) / 2)
            struck_s, quarters = (
                self._seconds_back(quarters - early, struck_before),
                quarters - early,
            )
        self.slots.append((struck_s, quarters))
        chord, capo = cell.chord, self.form.capo
        if chord is None:
            self.chords.append(ExpectedChord(start_s, "N.C.", None, None, struck_s))
            return
        bass = settings.parts.get("bass")
        owed = None if bass is not None and bass.on is False else (chord.bass_class + capo) % 12
        tones = frozenset((tone + capo) % 12 for tone in chord.pitch_classes)
        sounding = ((chord.root.pitch_class + capo) % 12, tones)
        self.chords.append(ExpectedChord(start_s, str(chord), sounding, owed, struck_s))

    def _seconds_back(self, quarters: Fraction, not_before: Fraction) -> Fraction:
        """The time of a place already passed, from the tempos noted so far."""
        at_s = self.at_s
        end = self.at_quarters
        for start, bpm in reversed(self.tempos):
            if quarters >= start:
                return at_s - (end - quarters) * 60 / bpm
            at_s, end = at_s - (end - start) * 60 / bpm, start
        return not_before


def _plan(
    form: Form,
) -> Iterator[tuple[Settings, list[tuple[WrittenBar, Meter]], str, tuple[int, int]]]:
    """Each pass in playing order: its settings, its bars with their meters, its label and count."""
    for entry, label in zip(form.entries, labels(form), strict=True):
        section = form.sections[entry.section]
        settings = entry.settings.under(section.settings.under(form.settings))
        of = entry.times if entry.bars else entry.times * section.times
        for number in range(1, of + 1):
            yield (
                settings,
                _bars(form, entry, section, settings, number),
                pass_label(label, number, of),
                (number, of),
            )


def _bars(
    form: Form, entry: Entry, section: Section, settings: Settings, number: int
) -> list[tuple[WrittenBar, Meter]]:
    rows = list(section.rows)
    if section.endings:
        cycle = max(section.endings)
        rows += section.endings[entry.ending or ((number - 1) % cycle + 1 if not entry.bars else 1)]
    meter = settings.meter or form.meter
    bars: list[tuple[WrittenBar, Meter]] = []
    for bar in (bar for row in rows for bar in row):
        meter = bar.meter or meter
        bars.append((bars[-1][0] if bar.again else bar, meter))
    if entry.bars is None:
        return bars
    first, last = entry.bars
    if bars[first - 1][0].cells[0].goes_on:
        bars[first - 1] = (_resumed(bars, first - 1), bars[first - 1][1])
    return bars[first - 1 : last]


def _resumed(bars: Sequence[tuple[WrittenBar, Meter]], at: int) -> WrittenBar:
    """A bar whose first slash becomes the chord that was sounding."""
    sounding = next(
        c for bar, _ in reversed(bars[:at]) for c in reversed(bar.cells) if not c.goes_on
    )
    again = Cell(sounding.chord, sounding.marks - {"push"})
    return WrittenBar((again, *bars[at][0].cells[1:]), bars[at][0].meter)


def _cells(bar: WrittenBar, meter: Meter) -> Iterator[tuple[Fraction, Cell]]:
    """A bar's chords with their starts: by units, by beats, or an equal number of beats each."""
    count = len(bar.cells)
    lengths = (
        [meter.bar_whole / meter.count] * meter.count if count == meter.count else list(meter.beats)
    )
    each = len(lengths) // count
    for index, cell in enumerate(bar.cells):
        if not cell.goes_on:
            yield sum(lengths[: index * each], Fraction(0)), cell


def _bpm(tempo: Tempo | None) -> Fraction:
    """Quarters a minute."""
    assert tempo is not None and tempo.bpm is not None and tempo.beat_whole is not None
    return tempo.bpm * tempo.beat_whole * 4


def _beat_tempos(
    tempo: Tempo | None, beats: Sequence[int], number: int, of: int
) -> list[list[Fraction]]:
    """Quarters a minute of every beat of every bar of a pass."""
    start = _bpm(tempo)
    steady = [[start] * count for count in beats]
    if tempo is None or tempo.to_bpm is None or tempo.beat_whole is None or tempo.over_bars is None:
        return steady
    end, over = tempo.to_bpm * tempo.beat_whole * 4, tempo.over_bars
    if tempo.from_first and number > 1:
        return [[end] * count for count in beats]
    if not tempo.from_first and number < of:
        return steady
    cut = over if tempo.from_first else len(beats) - over
    changing = beats[:cut] if tempo.from_first else beats[cut:]
    total, k, changed = sum(changing), 0, []
    for count in changing:
        changed.append([start + (end - start) * (k + beat + 1) / total for beat in range(count)])
        k += count
    return (
        changed + [[end] * c for c in beats[cut:]] if tempo.from_first else steady[:cut] + changed
    )
