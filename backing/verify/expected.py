"""What a form must come to, by short arithmetic of its own: a beat at a time, no Timeline.

Times are exact seconds from the start of the file (count-in included), as Fractions.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from backing.form.model import (
    Cell,
    Entry,
    Form,
    PartSettings,
    Section,
    Settings,
    Tempo,
    WrittenBar,
)
from backing.form.parts import ACCENT, PLAYS, SUBDIVIDE
from backing.form.passes import labels, pass_label, pass_settings
from backing.theory.rhythm import Meter
from backing.theory.swing import ratio_by_tempo

RING_OUT_S = 2
#: How far from its exact time a player may strike in a form that is wholly human.
HUMAN_S = Fraction(12, 1000)

Slots = list[tuple[Fraction, Cell]]


class ExpectedPass(NamedTuple):
    """One row of the table. `first_bar` counts from 1; 0 stands for bars that only count.

    `entry` is the line of the form that it belongs to, from 0.
    """

    label: str
    first_bar: int
    bars: int
    start_s: Fraction
    seconds: Fraction
    entry: int = 0


class ExpectedBar(NamedTuple):
    """A bar line with its meter, and whether the click must sound there."""

    start_s: Fraction
    start_quarters: Fraction
    meter: Meter
    clicked: bool
    only_counts: bool = False
    """Whether it counts in a round of a practice version, and belongs to no pass."""


class ExpectedChord(NamedTuple):
    """A slot: its written time, its sounding chord and what the bass owes it.

    `sounding` is the root, the tones and the lowest one as pitch classes, None at N.C.;
    `bass_class` is None where no bass must be struck; `bass_s` is when it is (a push
    comes early). `push_quarters` is how early the chord may come at most, 0 without a push.
    """

    start_s: Fraction
    written: str
    sounding: tuple[int, frozenset[int], int] | None
    bass_class: int | None
    bass_s: Fraction
    start_quarters: Fraction
    push_quarters: Fraction


class ExpectedClick(NamedTuple):
    """A click and its sound. Where `heard` is False none must sound there."""

    at_s: Fraction
    sound: str
    accented: bool
    heard: bool


class ExpectedTempo(NamedTuple):
    """From here on, `quarter_bpm` quarters a minute."""

    start_s: Fraction
    start_quarters: Fraction
    quarter_bpm: Fraction


class Expected(NamedTuple):
    """All that a file is held against. `seconds` is the form alone; `end_s` the file's end."""

    title: str
    count_in_s: Fraction
    seconds: Fraction
    end_s: Fraction
    passes: tuple[ExpectedPass, ...]
    bars: tuple[ExpectedBar, ...]
    count_in_bars: tuple[ExpectedBar, ...]
    """The bars before bar 1, the pickup among them."""
    lead_in: tuple[tuple[Fraction, str], ...]
    """The markers before bar 1, with their times."""
    chords: tuple[ExpectedChord, ...]
    tempos: tuple[ExpectedTempo, ...]
    human_s: Fraction
    """How far a player's time may stray; the click, bars, markers, chords and tempos never do."""
    clicks: tuple[ExpectedClick, ...] = ()
    """Every click in order of time, where they were asked for."""
    rounds: int = 1
    absent: frozenset[str] = frozenset()
    """The parts that a practice version leaves out; the click still counts in."""
    guitar_rests: tuple[tuple[Fraction, Fraction], ...] = ()
    """From when to when the guitar must be silent."""

    @property
    def played_bars(self) -> int:
        """How many bars are music, in all rounds."""
        return sum(not bar.only_counts for bar in self.bars)


def expect(form: Form, count_in: bool = True, clicks: bool = False) -> Expected:
    """Work a form out, bar by bar and beat by beat; `clicks` lists every click, too."""
    return _Sum(form, clicks).work(form.count_in_bars if count_in else 0)


class _Plan(NamedTuple):
    """One pass: what holds in it, its bars with their meters, and how far its chords are moved."""

    label: str
    settings: Settings
    bars: list[tuple[Slots, Meter]]
    transpose: int
    entry: int


class _Sum:
    """Running sums of quarters and seconds over a form."""

    def __init__(self, form: Form, list_clicks: bool = False) -> None:
        self.form = form
        self.list_clicks = list_clicks
        self.clicks: list[ExpectedClick] = []
        self.at_s = Fraction(0)
        self.at_quarters = Fraction(0)
        self.tempos: list[ExpectedTempo] = []
        self.passes: list[ExpectedPass] = []
        self.bars: list[ExpectedBar] = []
        self.chords: list[ExpectedChord] = []
        self.struck_quarters: Fraction | None = None

    def work(self, count_in: int) -> Expected:
        plan = list(_plan(self.form))
        before = self._before(plan[0], count_in)
        count_in_s = self.at_s
        for one in plan:
            self._pass(one)
        end_s = self.at_s + ring_out_s(self.tempos[-1].quarter_bpm)
        return Expected(
            self.form.title,
            count_in_s,
            self.at_s - count_in_s,
            end_s,
            tuple(self.passes),
            tuple(self.bars),
            tuple(before),
            tuple(self._lead_in(before)),
            tuple(self.chords),
            tuple(self.tempos),
            HUMAN_S * self.form.human / 100,
            tuple(self.clicks),
        )

    def _before(self, first: _Plan, count_in: int) -> list[ExpectedBar]:
        """The count-in, its last bar given to the pickup, or a pickup alone."""
        meter, pickup, bpm = first.bars[0][1], self.form.pickup, _bpm(first.settings.tempo)
        bars: list[tuple[Slots, Meter]] = [([], meter)] * (count_in - 1 if pickup else count_in)
        if pickup:
            own = pickup.meter or meter
            bars.append((_slots(pickup, own), own))
        click = first.settings.parts.get("click")
        clicked = count_in > 0 or click is None or click.on is not False
        before = []
        for slots, meter in bars:
            bpms = [bpm] * len(meter.beats)
            before.append(ExpectedBar(self.at_s, self.at_quarters, meter, clicked))
            if self.list_clicks:
                plain = PartSettings(values={"sound": click.sound if click else None})
                self.clicks += clicks_of(self.at_s, meter, bpms, plain, None, clicked)
            self._bar(slots, meter, bpms, first)
        return before

    def _lead_in(self, before: Sequence[ExpectedBar]) -> Iterator[tuple[Fraction, str]]:
        if len(before) > (self.form.pickup is not None):
            yield Fraction(0), "Count-in"
        if self.form.pickup is not None:
            yield before[-1].start_s, "Pickup"

    def _pass(self, one: _Plan) -> None:
        start_s, first_bar = self.at_s, len(self.bars) + 1
        click = one.settings.parts.get("click")
        bpms = _beat_tempos(one.settings.tempo, [len(meter.beats) for _, meter in one.bars])
        for (slots, meter), bar_bpms in zip(one.bars, bpms, strict=True):
            heard = click is None or click.on is not False
            plays = PLAYS.of(click or PartSettings())
            if plays is not None:
                heard = heard and len(self.bars) % plays.cycle < plays.bars
            self.bars.append(ExpectedBar(self.at_s, self.at_quarters, meter, heard))
            if self.list_clicks:
                swing = _swing(one.settings)
                asked = click or PartSettings()
                self.clicks += clicks_of(self.at_s, meter, bar_bpms, asked, swing, heard)
            self._bar(slots, meter, bar_bpms, one)
        lasts = self.at_s - start_s
        row = ExpectedPass(one.label, first_bar, len(one.bars), start_s, lasts, one.entry)
        self.passes.append(row)

    def _bar(self, slots: Slots, meter: Meter, bpms: Sequence[Fraction], one: _Plan) -> None:
        bar_quarters, bar_s = self.at_quarters, [self.at_s]
        for beat, bpm in zip(meter.beats, bpms, strict=True):
            self._beat(beat, bpm)
            bar_s.append(self.at_s)
        for start, cell in slots:
            if not cell.goes_on:
                self._chord(cell, one, meter, bar_quarters, bar_s, bpms, start)

    def _beat(self, beat: Fraction, bpm: Fraction) -> None:
        if not self.tempos or self.tempos[-1].quarter_bpm != bpm:
            self.tempos.append(ExpectedTempo(self.at_s, self.at_quarters, bpm))
        quarters, seconds = _lasts(beat, bpm)
        self.at_quarters += quarters
        self.at_s += seconds

    def _chord(
        self,
        cell: Cell,
        one: _Plan,
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
        written = quarters = bar_quarters + start * 4
        struck_s = start_s
        push = _push_quarters(one.settings) if "push" in cell.marks else Fraction(0)
        if push and self.struck_quarters is not None:
            quarters -= min(push, (quarters - self.struck_quarters) / 2)
            struck_s = seconds_at(self.tempos, quarters)
        self.struck_quarters = quarters
        chord, up = cell.chord, self.form.capo + one.transpose
        if chord is None:
            rest = ExpectedChord(start_s, "N.C.", None, None, struck_s, written, push)
            self.chords.append(rest)
            return
        bass = one.settings.parts.get("bass")
        owed = None if bass is not None and bass.on is False else (chord.bass_class + up) % 12
        tones = frozenset((tone + up) % 12 for tone in chord.pitch_classes)
        sounding = ((chord.root.pitch_class + up) % 12, tones, (chord.bass_class + up) % 12)
        self.chords.append(
            ExpectedChord(start_s, str(chord), sounding, owed, struck_s, written, push)
        )


def seconds_at(tempos: Sequence[ExpectedTempo], quarters: Fraction) -> Fraction:
    """The time of a place that tempos have reached."""
    tempo = tempo_at(tempos, quarters)
    return tempo.start_s + (quarters - tempo.start_quarters) * 60 / tempo.quarter_bpm


def tempo_at(tempos: Sequence[ExpectedTempo], quarters: Fraction) -> ExpectedTempo:
    """The tempo that holds at a place."""
    return tempos[bisect_right(tempos, quarters, key=lambda tempo: tempo.start_quarters) - 1]


def ring_out_s(quarter_bpm: Fraction) -> Fraction:
    """How long a last chord may ring: two seconds, up to the next 64th at a tempo."""
    sixty_fourths = -(-RING_OUT_S * quarter_bpm * 16 // 60)
    return Fraction(sixty_fourths, 16) * 60 / quarter_bpm


@lru_cache(maxsize=4096)
def _lasts(beat: Fraction, bpm: Fraction) -> tuple[Fraction, Fraction]:
    """A beat's quarters, and its seconds at so many quarters a minute."""
    return beat * 4, beat * 240 / bpm


def clicks_of(
    bar_s: Fraction,
    meter: Meter,
    bpms: Sequence[Fraction],
    asked: PartSettings,
    swing: tuple[Fraction, Fraction] | None,
    heard: bool,
) -> Iterator[ExpectedClick]:
    """A bar's clicks: one a beat, the first accented, and what divides each beat afresh."""
    for number, (beat, bpm) in enumerate(zip(meter.beats, bpms, strict=True)):
        step = SUBDIVIDE.of(asked) or beat
        for index in range(-(-beat // step)):
            at_s = bar_s + _swung(index * step, beat, swing) * 240 / bpm
            accented = not number and not index and ACCENT.of(asked) is not False
            yield ExpectedClick(at_s, asked.sound or "wood", accented, heard)
        bar_s += beat * 240 / bpm


def _swung(offset: Fraction, beat: Fraction, swing: tuple[Fraction, Fraction] | None) -> Fraction:
    """A place in a beat as it sounds: the first of two notes lasts `ratio` times the second."""
    if swing is None or beat % (swing[0] * 2) or offset.denominator % 3 == 0:
        return offset
    level, ratio = swing
    notes = offset % (level * 2) / level
    long, short = min(notes, Fraction(1)), max(notes - 1, Fraction(0))
    return offset - notes * level + level * 2 * (long * ratio + short) / (ratio + 1)


def _swing(settings: Settings) -> tuple[Fraction, Fraction] | None:
    """The level that swings and its ratio, long to short."""
    feel = settings.feel
    if feel is None:
        return None
    ratio = ratio_by_tempo(_bpm(settings.tempo)) if feel.ratio is None else feel.ratio
    return feel.level_whole, ratio


def _plan(form: Form) -> Iterator[_Plan]:
    """Each pass in playing order."""
    for index, (entry, label) in enumerate(zip(form.entries, labels(form), strict=True)):
        section = form.sections[entry.section]
        of = entry.times if entry.bars else entry.times * section.times
        for number in range(1, of + 1):
            settings = pass_settings(form.settings, entry, section, number)
            bars = _bars(form, entry, section, settings, number)
            name = pass_label(label, number, of)
            yield _Plan(name, settings, bars, entry.transpose, index)


def _bars(
    form: Form, entry: Entry, section: Section, settings: Settings, number: int
) -> list[tuple[Slots, Meter]]:
    varied = section.on_pass.get(number)
    rows = list(varied.rows if varied and varied.rows else section.rows)
    if section.endings:
        cycle = max(section.endings)
        rows += section.endings[entry.ending or ((number - 1) % cycle + 1 if not entry.bars else 1)]
    meter = settings.meter or form.meter
    bars: list[tuple[Slots, Meter]] = []
    for bar in (bar for row in rows for bar in row):
        meter = bar.meter or meter
        bars.append((bars[-1][0] if bar.again else _slots(bar, meter), meter))
    if entry.bars is None:
        return bars
    first, last = entry.bars
    (start, cell), *others = bars[first - 1][0]
    if cell.goes_on:
        before = [c for slots, _ in bars[: first - 1] for _, c in slots if not c.goes_on][-1]
        again = Cell(before.chord, before.marks - {"push"})
        bars[first - 1] = ([(start, again), *others], bars[first - 1][1])
    return bars[first - 1 : last]


def _slots(bar: WrittenBar, meter: Meter) -> Slots:
    """A bar's cells with their starts: by units, by beats, or an equal number of beats each."""
    count = len(bar.cells)
    lengths = [meter.bar_whole / count] * count if count == meter.count else list(meter.beats)
    each = len(lengths) // count
    return [(sum(lengths[: i * each], Fraction(0)), cell) for i, cell in enumerate(bar.cells)]


def _push_quarters(settings: Settings) -> Fraction:
    """An eighth, or what swing leaves of it: of two in a quarter, the shorter."""
    swing = _swing(settings)
    if swing is None or swing[0] != Fraction(1, 8):
        return Fraction(1, 2)
    return 1 / (1 + swing[1])


def _bpm(tempo: Tempo | None) -> Fraction:
    """Quarters a minute."""
    assert tempo is not None
    assert tempo.bpm is not None
    assert tempo.beat_whole is not None
    return tempo.bpm * tempo.beat_whole * 4


def _beat_tempos(tempo: Tempo | None, beats: Sequence[int]) -> list[list[Fraction]]:
    """Quarters a minute of every beat of every bar of a pass, from its own tempo."""
    start = _bpm(tempo)
    steady = [[start] * count for count in beats]
    if tempo is None or tempo.to_bpm is None or tempo.beat_whole is None or tempo.over_bars is None:
        return steady
    end, over = tempo.to_bpm * tempo.beat_whole * 4, tempo.over_bars
    cut = over if tempo.from_first else len(beats) - over
    changing = beats[:cut] if tempo.from_first else beats[cut:]
    total, k, changed = sum(changing), 0, []
    for count in changing:
        changed.append([start + (end - start) * (k + beat + 1) / total for beat in range(count)])
        k += count
    return (
        changed + [[end] * c for c in beats[cut:]] if tempo.from_first else steady[:cut] + changed
    )
