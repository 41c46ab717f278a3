"""The form in playing order: every bar, pass and chord at its exact place.

Positions are fractions of a whole note from the start of the file, count-in included;
seconds are exact too. Nothing is rounded here, so nothing drifts.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import count
from typing import NamedTuple

from backing.form.layout import LaidBar, lay_out
from backing.form.model import Entry, Form, Mark, Section, Settings, Tempo
from backing.form.passes import (
    ending_of,
    labels,
    pass_label,
    pass_rows,
    pass_settings,
    passes_played,
)
from backing.score import TempoChange
from backing.theory.chords import Chord
from backing.theory.keys import Key
from backing.theory.rhythm import Meter, later
from backing.theory.swing import ratio_by_tempo, swung_in_bar

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
    transpose: int = 0

    @property
    def swing(self) -> tuple[Fraction, Fraction] | None:
        """The level and ratio of this pass's swing; None where it is straight."""
        feel = self.settings.feel
        if feel is None or feel.ratio == 1:
            return None
        ratio = ratio_by_tempo(_quarter_bpm(self)) if feel.ratio is None else feel.ratio
        return feel.level_whole, ratio


class Bar(NamedTuple):
    """A played bar. `number` counts from 1; those before it have 0 and below.

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
        return later(self.start_whole, self.meter.bar_whole)

    def at(self, offset_whole: Fraction) -> Fraction:
        """Where something written so far from this bar line sounds: swing is applied here, once.

        Offsets past the bar's end are measured on the meter's beats going on.
        """
        swing = self.playing.swing
        if swing is None:
            return later(self.start_whole, offset_whole)
        return later(self.start_whole, swung_in_bar(offset_whole, self.meter, *swing))

    def places(self, offsets_whole: Sequence[Fraction]) -> list[Fraction]:
        """Where a pattern's steps in this bar sound, in order, as `at` tells for one.

        Among triplets nothing swings: of sixteenth triplets the fourth is an eighth after
        the beat too, and would come to lie on the fifth or past it.
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
    """A form unrolled. `tempos` starts at 0 with the count-in's; `tempo_starts` and `tempo_seconds`
    are the places where they start, in whole notes and in seconds.

    `count_in` holds the bars before bar 1, the pickup last where there is one; `counted` is
    whether they are counted in, or a pickup stands alone.
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

    @property
    def pickup(self) -> Bar | None:
        """The bar before bar 1 that is played, if the form has one."""
        return self.count_in[-1] if self.form.pickup is not None else None

    @property
    def played(self) -> tuple[Bar, ...]:
        """Every bar that parts play in: the pickup, if there is one, and the song."""
        return self.bars if self.pickup is None else (self.pickup, *self.bars)

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
        at = max(0, bisect_right(self.tempo_starts, whole) - 1)
        since = whole - self.tempo_starts[at]
        return self.tempo_seconds[at] + since * _seconds_per_whole(self.tempos[at])

    def seconds_per_whole(self, whole: Fraction) -> Fraction:
        """How long a whole note lasts at a position."""
        return _seconds_per_whole(self.tempos[max(0, bisect_right(self.tempo_starts, whole) - 1)])


class Slot(NamedTuple):
    """A chord (None is N.C.) as written: where, its marks, and the pass that it belongs to."""

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
    laid = _Layouts(form)
    counted = form.count_in_bars if count_in else 0
    before = _before(form, passes[0], laid.of(passes[0])[0].meter, counted)
    bars: list[Bar] = []
    slots: list[Slot] = []
    if form.pickup is not None:
        laid_out = lay_out([form.pickup], before[-1].meter)
        (lead_in,) = _moved(laid_out, passes[0].transpose, form.key)
        slots += _slots(lead_in, before[-1].start_whole, passes[0])
    changes = [TempoChange(Fraction(0), _quarter_bpm(passes[0]))]
    at = before[-1].end_whole if before else Fraction(0)
    for playing in passes:
        first = laid.first_bar(playing)
        of_pass = laid.of(playing)
        for index, bar in enumerate(of_pass):
            bars.append(Bar(len(bars) + 1, at, bar.meter, playing, first + index))
            slots += _slots(bar, at, playing)
            at += bar.meter.bar_whole
        changes += _tempo_changes(playing, bars[-len(of_pass) :])
    return pieced(form, before, counted > 0, tuple(bars), passes, slots, changes)


def pieced(
    form: Form,
    count_in: tuple[Bar, ...],
    counted: bool,
    bars: tuple[Bar, ...],
    passes: tuple[Pass, ...],
    slots: Sequence[Slot],
    changes: Sequence[TempoChange],
) -> Timeline:
    """A timeline from its pieces: chords sound from their slots, and seconds follow the tempos."""
    tempos = _without_repeats(changes)
    return Timeline(
        form,
        count_in,
        counted,
        bars,
        passes,
        _spans(slots, bars[-1].end_whole),
        tempos,
        tuple(change.start_whole for change in tempos),
        tuple(_running_seconds(tempos)),
    )


def _before(form: Form, first: Pass, meter: Meter, counted: int) -> tuple[Bar, ...]:
    """The bars before bar 1: the count-in, whose last bar a pickup takes."""
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


class _Layouts:
    """Each pass's bars laid over their meters, worked out once for all passes alike."""

    def __init__(self, form: Form) -> None:
        self.form = form
        self.known: dict[tuple[str, int | None, int | None, Meter, int], tuple[LaidBar, ...]] = {}

    def of(self, playing: Pass) -> tuple[LaidBar, ...]:
        entry = self.form.entries[playing.entry]
        section = self.form.sections[playing.section]
        ending = ending_of(entry, section, playing.number)
        varied = playing.number if playing.number in section.on_pass else None
        meter = playing.settings.meter or self.form.meter
        key = (section.name, ending, varied, meter, playing.transpose)
        if key not in self.known:
            rows = pass_rows(entry, section, playing.number)
            laid = lay_out([bar for row in rows for bar in row], meter)
            self.known[key] = _moved(laid, playing.transpose, self.form.key)
        whole = self.known[key]
        return whole if entry.bars is None else _cut(whole, *entry.bars)

    def first_bar(self, playing: Pass) -> int:
        """The pass's first bar as its section counts, from 0."""
        bars = self.form.entries[playing.entry].bars
        return bars[0] - 1 if bars else 0


def _moved(bars: tuple[LaidBar, ...], semitones: int, key: Key | None) -> tuple[LaidBar, ...]:
    """Bars with their chords renamed so many semitones up."""
    if not semitones:
        return bars
    moved = []
    for bar in bars:
        cells = [
            laid._replace(cell=laid.cell._replace(chord=renamed(laid.cell.chord, semitones, key)))
            for laid in bar.cells
        ]
        moved.append(bar._replace(cells=tuple(cells)))
    return tuple(moved)


def renamed(chord: Chord | None, semitones: int, key: Key | None) -> Chord | None:
    """A chord so many semitones up, spelled for the key that this leads to."""
    if chord is None or not semitones:
        return chord
    if key is not None:
        return chord.moved(key.tonic, key.transposed(semitones).tonic)
    return chord.transposed(semitones, usually_flat(chord, semitones))


def usually_flat(chord: Chord, semitones: int) -> bool:
    """How a chord is raised without a key: a sign stays of its kind, and a natural becomes
    the black key's usual name: Eb, Ab, Bb, C#, F# (common practice).
    """
    if chord.root.accidental:
        return chord.root.accidental < 0
    return (chord.root.pitch_class + semitones) % 12 in (3, 8, 10)


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
        of = passes_played(entry, section)
        settings = _settings_by_pass(form, entry, section, of)
        for number in range(1, of + 1):
            name = pass_label(label, number, of)
            yield Pass(name, section.name, index, number, of, settings[number], entry.transpose)


def _settings_by_pass(form: Form, entry: Entry, section: Section, of: int) -> dict[int, Settings]:
    """Each pass's settings; those alike are one object, however many passes play."""
    differing = {1, of, *section.on_pass}
    usual = pass_settings(form.settings, entry, section, _unlisted(differing))
    if of not in section.on_pass and usual == pass_settings(form.settings, entry, section, of):
        differing -= {of}
    return {
        number: pass_settings(form.settings, entry, section, number)
        if number in differing
        else usual
        for number in range(1, of + 1)
    }


def _unlisted(numbers: set[int]) -> int:
    """A pass number above 1 that is not among these."""
    return next(number for number in count(2) if number not in numbers)


def _tempo_changes(playing: Pass, bars: Sequence[Bar]) -> Iterator[TempoChange]:
    tempo = playing.settings.tempo or Tempo()
    start = _quarter_bpm(playing)
    yield TempoChange(bars[0].start_whole, start)
    if tempo.to_bpm is None:
        return
    over = tempo.over_bars or 0
    changing = bars[:over] if tempo.from_first else bars[-over:]
    beats = [bar.start_whole + beat for bar in changing for beat in bar.meter.beat_starts]
    target = tempo.to_bpm * (tempo.beat_whole or Fraction(0)) * 4
    for k, at in enumerate(beats, 1):
        yield TempoChange(at, start + (target - start) * k / len(beats))


def _quarter_bpm(playing: Pass) -> Fraction:
    """Quarters a minute as a pass sets out."""
    tempo = playing.settings.tempo or Tempo()
    return (tempo.bpm or Fraction(0)) * (tempo.beat_whole or Fraction(0)) * 4


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


def push_whole(swing: tuple[Fraction, Fraction] | None) -> Fraction:
    """How early a pushed chord comes: an eighth, as long as swing leaves it before a beat."""
    if swing is None or swing[0] != PUSH_WHOLE:
        return PUSH_WHOLE
    return PUSH_WHOLE * 2 / (swing[1] + 1)


def _spans(slots: Sequence[Slot], end_whole: Fraction) -> tuple[Span, ...]:
    """Slots to spans; a push is an eighth, or half of the chord before where that is short."""
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
