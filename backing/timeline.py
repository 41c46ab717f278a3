"""The form in playing order: every bar, pass and chord at its exact place.

Positions are fractions of a whole note from the start of the file, count-in included;
seconds are exact too. Nothing is rounded here, so nothing drifts.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from backing.form.layout import LaidBar, lay_out
from backing.form.model import Form, Mark, Settings, Tempo
from backing.form.passes import ending_of, labels, pass_label, passes_played
from backing.score import TempoChange
from backing.theory.chords import Chord
from backing.theory.rhythm import Meter

PUSH_WHOLE = Fraction(1, 8)
RING_OUT_S = 2


class Pass(NamedTuple):
    """One playing of a section's bars; `number` counts from 1 within its line of the form."""

    label: str
    section: str
    entry: int
    number: int
    of: int
    settings: Settings


class Bar(NamedTuple):
    """A played bar. `number` counts from 1; count-in bars have 0 and below.

    `pattern_bar` is the bar's place in its pass, from 0: which bar of a pattern it takes.
    """

    number: int
    start_whole: Fraction
    meter: Meter
    playing: Pass
    pattern_bar: int

    @property
    def end_whole(self) -> Fraction:
        """The next bar line."""
        return self.start_whole + self.meter.bar_whole


class Span(NamedTuple):
    """A chord (None is N.C.) from where it sounds to the next one, over bar lines where it goes on.

    `slot_whole` is where it is written; a pushed chord sounds before it.
    """

    start_whole: Fraction
    slot_whole: Fraction
    end_whole: Fraction
    chord: Chord | None
    marks: frozenset[Mark]
    playing: Pass


@dataclass(frozen=True, slots=True)
class Timeline:
    """A form unrolled. `tempos` starts at 0 with the count-in's."""

    form: Form
    count_in: tuple[Bar, ...]
    bars: tuple[Bar, ...]
    passes: tuple[Pass, ...]
    spans: tuple[Span, ...]
    tempos: tuple[TempoChange, ...]
    _tempo_starts: tuple[Fraction, ...] = field(repr=False, compare=False)
    _tempo_seconds: tuple[Fraction, ...] = field(repr=False, compare=False)

    @property
    def start_whole(self) -> Fraction:
        """Bar 1's bar line: the count-in's length."""
        return self.bars[0].start_whole

    @property
    def end_whole(self) -> Fraction:
        """The last bar line."""
        return self.bars[-1].end_whole

    @property
    def ring_out_whole(self) -> Fraction:
        """How long a ringing chord may sound past the last bar line: two seconds, in whole notes.

        Rounded up to a 64th note, to keep positions simple.
        """
        length = RING_OUT_S / self.seconds_per_whole(self.end_whole)
        return Fraction(-(-length * 64 // 1), 64)

    def seconds(self, whole: Fraction) -> Fraction:
        """The exact time of a position, from the start of the file."""
        at = max(0, bisect_right(self._tempo_starts, whole) - 1)
        since = whole - self._tempo_starts[at]
        return self._tempo_seconds[at] + since * _seconds_per_whole(self.tempos[at])

    def seconds_per_whole(self, whole: Fraction) -> Fraction:
        """How long a whole note lasts at a position."""
        return _seconds_per_whole(self.tempos[max(0, bisect_right(self._tempo_starts, whole) - 1)])


def unroll(form: Form, count_in: bool = True) -> Timeline:
    """Put a form into playing order.

    Args:
        form: as read; the reader has checked that its bars fit their meters.
        count_in: False leaves the count-in out, so that bar 1 stands at 0.
    """
    passes = tuple(_passes(form))
    laid = _Layouts(form)
    first_meter = laid.of(passes[0])[0].meter
    count = form.count_in_bars if count_in else 0
    before = tuple(
        Bar(number - count + 1, number * first_meter.bar_whole, first_meter, passes[0], 0)
        for number in range(count)
    )
    bars: list[Bar] = []
    slots: list[tuple[Fraction, Chord | None, frozenset[Mark], Pass]] = []
    changes = [TempoChange(Fraction(0), _quarter_bpm(passes[0], None))]
    at = count * first_meter.bar_whole
    for playing in passes:
        first = laid.first_bar(playing)
        of_pass = laid.of(playing)
        for index, bar in enumerate(of_pass):
            bars.append(Bar(len(bars) + 1, at, bar.meter, playing, first + index))
            for start, cell in bar.cells:
                if not cell.goes_on:
                    slots.append((at + start, cell.chord, cell.marks, playing))
            at += bar.meter.bar_whole
        changes += _tempo_changes(playing, bars[-len(of_pass) :])
    tempos = _without_repeats(changes)
    seconds = tuple(_running_seconds(tempos))
    starts = tuple(change.start_whole for change in tempos)
    return Timeline(form, before, tuple(bars), passes, _spans(slots, at), tempos, starts, seconds)


class _Layouts:
    """Each pass's bars laid over their meters, worked out once for all passes alike."""

    def __init__(self, form: Form) -> None:
        self.form = form
        self.known: dict[tuple[str, int | None, Meter], tuple[LaidBar, ...]] = {}

    def of(self, playing: Pass) -> tuple[LaidBar, ...]:
        entry = self.form.entries[playing.entry]
        section = self.form.sections[playing.section]
        key = (
            section.name,
            ending_of(entry, section, playing.number),
            playing.settings.meter or self.form.meter,
        )
        if key not in self.known:
            rows = section.rows + (section.endings[key[1]] if key[1] is not None else ())
            self.known[key] = lay_out([bar for row in rows for bar in row], key[2])
        whole = self.known[key]
        return whole if entry.bars is None else _cut(whole, *entry.bars)

    def first_bar(self, playing: Pass) -> int:
        """The pass's first bar as its section counts, from 0."""
        bars = self.form.entries[playing.entry].bars
        return bars[0] - 1 if bars else 0


def _cut(bars: Sequence[LaidBar], first: int, last: int) -> tuple[LaidBar, ...]:
    """Bars `first`-`last` of a pass; a first slash takes up the chord that the bars before left."""
    kept = list(bars[first - 1 : last])
    cell = kept[0].cells[0].cell
    if cell.goes_on:
        left = next(
            c
            for bar in reversed(bars[: first - 1])
            for _, c in reversed(bar.cells)
            if not c.goes_on
        )
        again = type(cell)(left.chord, left.marks - {"push"})
        kept[0] = LaidBar(
            kept[0].meter, (kept[0].cells[0]._replace(cell=again), *kept[0].cells[1:])
        )
    return tuple(kept)


def _passes(form: Form) -> Iterator[Pass]:
    for index, (entry, label) in enumerate(zip(form.entries, labels(form), strict=True)):
        section = form.sections[entry.section]
        settings = entry.settings.under(section.settings.under(form.settings))
        of = passes_played(entry, section)
        for number in range(1, of + 1):
            yield Pass(pass_label(label, number, of), section.name, index, number, of, settings)


def _tempo_changes(playing: Pass, bars: Sequence[Bar]) -> Iterator[TempoChange]:
    tempo = playing.settings.tempo or Tempo()
    over = tempo.over_bars or 0
    start = _quarter_bpm(playing, playing.number)
    yield TempoChange(bars[0].start_whole, start)
    if tempo.to_bpm is None or playing.number != (1 if tempo.from_first else playing.of):
        return
    changing = bars[:over] if tempo.from_first else bars[-over:]
    beats = [bar.start_whole + beat for bar in changing for beat in bar.meter.beat_starts]
    target = _target(tempo)
    for k, at in enumerate(beats, 1):
        yield TempoChange(at, start + (target - start) * k / len(beats))


def _quarter_bpm(playing: Pass, number: int | None) -> Fraction:
    """Quarters a minute as a pass sets out; after a change from the first bars, where that led."""
    tempo = playing.settings.tempo or Tempo()
    if tempo.from_first and number is not None and number > 1:
        return _target(tempo)
    return (tempo.bpm or Fraction(0)) * (tempo.beat_whole or Fraction(0)) * 4


def _target(tempo: Tempo) -> Fraction:
    return (tempo.to_bpm or Fraction(0)) * (tempo.beat_whole or Fraction(0)) * 4


def _without_repeats(changes: Sequence[TempoChange]) -> tuple[TempoChange, ...]:
    """One change a place (the last said), and none that changes nothing."""
    kept: list[TempoChange] = []
    for change in changes:
        if kept and kept[-1].start_whole == change.start_whole:
            kept.pop()
        if not kept or kept[-1].quarter_bpm != change.quarter_bpm:
            kept.append(change)
    return tuple(kept)


def _running_seconds(tempos: Sequence[TempoChange]) -> Iterator[Fraction]:
    total = Fraction(0)
    for index, change in enumerate(tempos):
        if index:
            before = tempos[index - 1]
            total += (change.start_whole - before.start_whole) * _seconds_per_whole(before)
        yield total


def _seconds_per_whole(change: TempoChange) -> Fraction:
    return 240 / change.quarter_bpm


def _spans(
    slots: Sequence[tuple[Fraction, Chord | None, frozenset[Mark], Pass]], end_whole: Fraction
) -> tuple[Span, ...]:
    """Slots to spans; a push is an eighth, or half of the chord before where that is short."""
    starts: list[Fraction] = []
    for slot, _, marks, _ in slots:
        pushed = "push" in marks and starts
        starts.append(max(slot - PUSH_WHOLE, (starts[-1] + slot) / 2) if pushed else slot)
    ends = [*starts[1:], end_whole]
    return tuple(
        Span(start, slot, end, chord, marks, playing)
        for start, end, (slot, chord, marks, playing) in zip(starts, ends, slots, strict=True)
    )
