"""The form in playing order: every bar, pass and chord at its exact place.

Positions are fractions of a whole note from the start of the file, count-in included;
seconds are exact too. Nothing is rounded here, so nothing drifts.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import islice
from typing import NamedTuple

from backing.form.layout import LaidBar, lay_out
from backing.form.model import Form, Mark, Settings, Tempo
from backing.form.pass_layout import Layouts
from backing.form.passes import (
    labels,
    pass_label,
    passes_at_once,
    passes_played,
    settings_by_pass,
)
from backing.form.playing_order import turns
from backing.form.transposed import moved_bars
from backing.score import TempoChange
from backing.tempo_map import running_seconds, seconds_per_whole, without_repeats
from backing.theory.chords import Chord
from backing.theory.rhythm import Meter, later
from backing.theory.swing import ratio_by_tempo, swung_in_bar

PUSH_WHOLE = Fraction(1, 8)
RING_OUT_S = 2


class Pass(NamedTuple):
    """One playing of a section's bars; `number` counts from 1 within its line of the form.

    `opens` is whether the line starts here: no pass of it comes right before.
    """

    label: str
    section: str
    entry: int
    number: int
    of: int
    settings: Settings
    transpose: int = 0
    opens: bool = True

    @property
    def quarter_bpm(self) -> Fraction:
        """Quarters a minute where this pass starts, as written, whatever speed is practiced."""
        tempo = self.settings.tempo or Tempo()
        return (tempo.bpm or Fraction(0)) * (tempo.beat_whole or Fraction(0)) * 4

    @property
    def swing(self) -> tuple[Fraction, Fraction] | None:
        """The level and ratio of this pass's swing; None where it is straight."""
        feel = self.settings.feel
        if feel is None or feel.ratio == 1:
            return None
        ratio = ratio_by_tempo(self.quarter_bpm) if feel.ratio is None else feel.ratio
        return feel.level_whole, ratio


class Bar(NamedTuple):
    """A played bar. `number` counts from 1; the bars before bar 1 have 0, -1 and so on.

    `pattern_bar` is the bar's place in its pass, from 0: which bar of a pattern it takes.
    `of_pass` is how many bars its pass has.
    """

    number: int
    start_whole: Fraction
    meter: Meter
    playing: Pass
    pattern_bar: int
    of_pass: int = 1

    @property
    def end_whole(self) -> Fraction:
        """The next bar line."""
        return later(self.start_whole, self.meter.bar_whole)

    def at(self, offset_whole: Fraction) -> Fraction:
        """Where something written at an offset (whole notes) from this bar line sounds.

        Swing is applied here, once. An offset past the bar's end counts in its last beat.
        """
        swing = self.playing.swing
        if swing is None:
            return later(self.start_whole, offset_whole)
        return later(self.start_whole, swung_in_bar(offset_whole, self.meter, *swing))

    def places(self, offsets_whole: Sequence[Fraction]) -> list[Fraction]:
        """Where a pattern's steps in this bar sound, in order; `at` does it for one.

        A pattern with triplets in it doesn't swing: the fourth of six sixteenth triplets is an
        eighth after the beat as well, and swing would move it onto the fifth or past it.
        """
        if any(offset.denominator % 3 == 0 for offset in offsets_whole):
            return [later(self.start_whole, offset) for offset in offsets_whole]
        return [self.at(offset) for offset in offsets_whole]


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


class Timeline(NamedTuple):
    """A form in playing order.

    `count_in` holds the bars before bar 1, with the pickup last if there is one; `counted` is
    False where a pickup stands there without a count-in. `tempos` starts at 0 with the
    count-in's; `tempo_starts` and `tempo_seconds` say where each tempo starts, in whole notes
    and in seconds. `song_chords` are those of the whole song, in playing order and without N.C.,
    even if this is only a stretch of it.
    """

    form: Form
    count_in: tuple[Bar, ...]
    counted: bool
    bars: tuple[Bar, ...]
    passes: tuple[Pass, ...]
    spans: tuple[Span, ...]
    tempos: tuple[TempoChange, ...]
    tempo_starts: tuple[Fraction, ...]
    tempo_seconds: tuple[Fraction, ...]
    song_chords: tuple[Chord, ...]

    @property
    def pickup(self) -> Bar | None:
        """The bar before bar 1 that is played, if the form has one."""
        return self.count_in[-1] if self.form.pickup is not None else None

    @property
    def played(self) -> tuple[Bar, ...]:
        """Every bar in which parts play: the pickup, if there is one, and the song."""
        return self.bars if self.pickup is None else (self.pickup, *self.bars)

    @property
    def start_whole(self) -> Fraction:
        """Bar 1's bar line, which is the count-in's length, in whole notes."""
        return self.bars[0].start_whole

    @property
    def end_whole(self) -> Fraction:
        """The last bar line, in whole notes."""
        return self.bars[-1].end_whole

    @property
    def ring_out_whole(self) -> Fraction:
        """How long a ringing chord may sound past the last bar line: two seconds, in whole notes.

        Rounded up to a 64th note, to keep positions simple.
        """
        length = RING_OUT_S / self.seconds_per_whole(self.end_whole)
        return Fraction(-(-length * 64 // 1), 64)

    def seconds(self, whole: Fraction) -> Fraction:
        """The exact time of a position in whole notes, from the start of the file."""
        at = max(0, bisect_right(self.tempo_starts, whole) - 1)
        since = whole - self.tempo_starts[at]
        return self.tempo_seconds[at] + since * seconds_per_whole(self.tempos[at])

    def seconds_per_whole(self, whole: Fraction) -> Fraction:
        """How many seconds a whole note lasts at a position."""
        return seconds_per_whole(self.tempos[max(0, bisect_right(self.tempo_starts, whole) - 1)])


class Slot(NamedTuple):
    """A chord (None is N.C.) as written: its place, its marks and its pass."""

    start_whole: Fraction
    chord: Chord | None
    marks: frozenset[Mark]
    playing: Pass


def unroll(form: Form, count_in: bool = True) -> Timeline:
    """Put a form into playing order.

    Args:
        form: as read; the reader has checked that its bars fit their meters.
        count_in: False leaves the count-in out, so that bar 1 is at 0 (a pickup still comes
            before it).

    Returns:
        Its bars, passes, chords and tempos, at exact fractions of a whole note.
    """
    passes = tuple(_passes(form))
    layouts = Layouts(form)

    def laid(playing: Pass) -> tuple[LaidBar, ...]:
        meter = playing.settings.meter or form.meter
        bars = layouts.of(form.entries[playing.entry], playing.number, meter)
        return moved_bars(bars, playing.transpose, form.key)

    counted = form.count_in_bars if count_in else 0
    leading = _leading(form, passes[0])
    before = _before(form, passes[0], laid(passes[0])[0].meter, counted)
    bars: list[Bar] = []
    slots: list[Slot] = []
    if form.pickup is not None:
        laid_out = lay_out([form.pickup], before[-1].meter)
        (lead_in,) = moved_bars(laid_out, passes[0].transpose, form.key)
        slots += _slots(lead_in, before[-1].start_whole, leading)
        before = (*before[:-1], before[-1]._replace(playing=leading))
    changes = [TempoChange(Fraction(0), passes[0].quarter_bpm)]
    at = before[-1].end_whole if before else Fraction(0)
    for playing in passes:
        cut = form.entries[playing.entry].bars
        first = cut[0] - 1 if cut else 0
        of_pass = laid(playing)
        for index, bar in enumerate(of_pass):
            place = first + index
            bars.append(Bar(len(bars) + 1, at, bar.meter, playing, place, len(of_pass)))
            slots += _slots(bar, at, playing)
            at += bar.meter.bar_whole
        changes += _tempo_changes(playing, bars[-len(of_pass) :])
    return assemble(form, before, counted > 0, tuple(bars), passes, slots, changes)


def assemble(
    form: Form,
    count_in: tuple[Bar, ...],
    counted: bool,
    bars: tuple[Bar, ...],
    passes: tuple[Pass, ...],
    slots: Sequence[Slot],
    changes: Sequence[TempoChange],
) -> Timeline:
    """A timeline of these bars: works out when each chord sounds, and the seconds of tempos."""
    tempos = without_repeats(changes)
    return Timeline(
        form=form,
        count_in=count_in,
        counted=counted,
        bars=bars,
        passes=passes,
        spans=_spans(slots, bars[-1].end_whole),
        tempos=tempos,
        tempo_starts=tuple(change.start_whole for change in tempos),
        tempo_seconds=tuple(running_seconds(tempos)),
        song_chords=tuple(slot.chord for slot in slots if slot.chord is not None),
    )


def _leading(form: Form, first: Pass) -> Pass:
    """How a pickup is played: as the song's first pass, but with its own riffs, and no others."""
    parts = {
        name: part._replace(on=False) if part.riff is not None else part
        for name, part in first.settings.parts.items()
    }
    if not form.pickup_parts:
        return first
    parts |= {
        name: part.under(first.settings.parts.get(name, part))
        for name, part in form.pickup_parts.items()
    }
    return first._replace(settings=first.settings._replace(parts=parts))


def _before(form: Form, first: Pass, meter: Meter, counted: int) -> tuple[Bar, ...]:
    """The bars before bar 1: the count-in, with a pickup in place of its last bar."""
    meters = [meter] * counted
    if form.pickup is not None:
        meters = [*meters[:-1], form.pickup.meter or meter]
    bars, at = [], Fraction(0)
    for index, meter_ in enumerate(meters):
        bars.append(Bar(index + 1 - len(meters), at, meter_, first, 0))
        at += meter_.bar_whole
    return tuple(bars)


def _slots(bar: LaidBar, at: Fraction, playing: Pass) -> Iterator[Slot]:
    for start, cell in bar.cells:
        if not cell.goes_on:
            yield Slot(at + start, cell.chord, cell.marks, playing)


def _passes(form: Form) -> Iterator[Pass]:
    lines = [_line_passes(form, index, label) for index, label in enumerate(labels(form))]
    before = None
    for turn in turns(form.entries):
        entry = form.entries[turn.entry]
        at_once = passes_at_once(entry, form.sections[entry.section])
        for playing in islice(lines[turn.entry], at_once):
            yield playing._replace(opens=turn.entry != before)
            before = turn.entry


def _line_passes(form: Form, index: int, label: str) -> Iterator[Pass]:
    """The passes of one line of the form, in all rounds of its groups."""
    entry = form.entries[index]
    section = form.sections[entry.section]
    of = passes_played(entry, section)
    for number, held in enumerate(settings_by_pass(form.settings, entry, section, of), 1):
        name = pass_label(label, number, of)
        yield Pass(name, section.name, index, number, of, held, entry.transpose)


def _tempo_changes(playing: Pass, bars: Sequence[Bar]) -> Iterator[TempoChange]:
    tempo = playing.settings.tempo or Tempo()
    start = playing.quarter_bpm
    yield TempoChange(bars[0].start_whole, start)
    if tempo.to_bpm is None:
        return
    over = tempo.over_bars or 0
    changing = bars[:over] if tempo.from_first else bars[-over:]
    beats = [bar.start_whole + beat for bar in changing for beat in bar.meter.beat_starts]
    target = tempo.to_bpm * (tempo.beat_whole or Fraction(0)) * 4
    for k, at in enumerate(beats, 1):
        yield TempoChange(at, start + (target - start) * k / len(beats))


def push_whole(swing: tuple[Fraction, Fraction] | None) -> Fraction:
    """How early a pushed chord comes: an eighth, or a swung eighth where eighths swing."""
    if swing is None or swing[0] != PUSH_WHOLE:
        return PUSH_WHOLE
    return PUSH_WHOLE * 2 / (swing[1] + 1)


def _spans(slots: Sequence[Slot], end_whole: Fraction) -> tuple[Span, ...]:
    """Slots to spans; a push takes an eighth, or half of the chord before if that is shorter."""
    starts: list[Fraction] = []
    for slot, _, marks, playing in slots:
        pushed = "push" in marks and starts
        early = push_whole(playing.swing)
        starts.append(max(slot - early, (starts[-1] + slot) / 2) if pushed else slot)
    ends = [*starts[1:], end_whole]
    return tuple(
        Span(start, slot, end, chord, marks, playing)
        for start, end, (slot, chord, marks, playing) in zip(starts, ends, slots, strict=True)
    )
