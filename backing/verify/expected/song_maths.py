"""What a song must come to, added up bar by bar and beat by beat, without a Timeline."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.form.model import NOTHING, Cell, Form
from backing.theory.chords import Chord
from backing.theory.rhythm import Meter
from backing.verify.expected.beats import (
    beat_tempos,
    length,
    push_quarters,
    ring_out_quarters,
    ring_out_s,
    seconds_at,
)
from backing.verify.expected.pass_plan import lead_in_plan, planned, slots_of
from backing.verify.expected.plans import Plan, PlannedBar, Slots
from backing.verify.expected.records import (
    Band,
    Clicking,
    Expected,
    ExpectedBar,
    ExpectedChord,
    ExpectedKey,
    ExpectedPass,
    ExpectedTempo,
    PlayedBar,
    PlayedChord,
    PlayedRound,
    Sounding,
)

#: How far from its exact time a player may strike in a form with `human: 100`.
HUMAN_S = Fraction(12, 1000)


def expect(form: Form, count_in: bool = True, arrangement: str = "") -> Expected:
    """Work out what a form's file must hold, by the proof's own arithmetic.

    Args:
        form: as read.
        count_in: False for a file without the count-in.
        arrangement: the name of one that is played throughout; "" for none.

    Returns:
        Every bar, pass, chord and tempo with its exact time in seconds.
    """
    return _Sum(form, arrangement).work(form.count_in_bars if count_in else 0)


class _BarTimes(NamedTuple):
    """A bar's start in quarters, and the start and the tempo of each of its beats."""

    start_quarters: Fraction
    beat_s: list[Fraction]
    bpms: Sequence[Fraction]
    meter: Meter

    def seconds(self, offset_whole: Fraction) -> Fraction:
        """A place's time: its beat's, and what is left of it at the beat's tempo."""
        left, beat, beats = offset_whole, 0, self.meter.beats
        while beat + 1 < len(beats) and left >= beats[beat]:
            left, beat = left - beats[beat], beat + 1
        return self.beat_s[beat] + left * 240 / self.bpms[beat]


class _Sum:
    """Running sums of quarters and seconds over a form."""

    def __init__(self, form: Form, arrangement: str) -> None:
        self.form = form
        self.nearest = form.arrangements[arrangement].parts if arrangement else NOTHING
        self.at_s = Fraction(0)
        self.at_quarters = Fraction(0)
        self.tempos: list[ExpectedTempo] = []
        self.passes: list[ExpectedPass] = []
        self.bars: list[ExpectedBar] = []
        self.chords: list[ExpectedChord] = []
        self.keys: list[ExpectedKey] = []
        self.played_bars: list[PlayedBar] = []
        self.played_chords: list[PlayedChord] = []

    def work(self, count_in: int) -> Expected:
        plans = list(planned(self.form, self.nearest))
        before = self._before(plans[0], count_in)
        count_in_s, start = self.at_s, self.at_quarters
        for plan in plans:
            self._pass(plan)
        return Expected(
            title=self.form.title,
            count_in_s=count_in_s,
            seconds=self.at_s - count_in_s,
            end_s=self.at_s + ring_out_s(self.tempos[-1].quarter_bpm),
            passes=tuple(self.passes),
            bars=tuple(self.bars),
            count_in_bars=tuple(before),
            lead_in=tuple(self._lead_in(before)),
            chords=tuple(self.chords),
            tempos=tuple(self.tempos),
            human_s=HUMAN_S * self.form.human / 100,
            played=(self._played(start, before),),
            band=Band(
                instrument=self.form.instrument,
                tuning=self.form.tuning,
                bass_tuning=self.form.bass_tuning,
                capo=self.form.capo,
                key=self.form.key,
                new_key=self.form.key,
                shapes=self.form.shapes,
                shells=self.form.voicing == "shell",
                riff_up=self.form.capo,
            ),
            pitch_hz=self.form.pitch_hz,
            keys=tuple(self.keys),
        )

    def _played(self, start: Fraction, before: Sequence[ExpectedBar]) -> PlayedRound:
        """What parts play from; each chord sounds until the next one does."""
        end, last = self.at_quarters, self.played_chords[-1]
        rings = "ring" in last.marks
        ends = [*(chord.struck for chord in self.played_chords[1:]), end]
        return PlayedRound(
            start=start,
            end=end,
            sounds_until=end + rings * ring_out_quarters(self.tempos[-1].quarter_bpm),
            counted=(before[-1].start_quarters, before[-1].meter) if before else None,
            bars=tuple(self.played_bars),
            chords=tuple(
                chord._replace(end=end) for chord, end in zip(self.played_chords, ends, strict=True)
            ),
        )

    def _before(self, first: Plan, count_in: int) -> list[ExpectedBar]:
        """The count-in, its last bar given to the pickup, or a pickup alone."""
        meter, pickup = first.bars[0][1], self.form.pickup
        bars: list[PlannedBar] = [([], meter)] * (count_in - 1 if pickup else count_in)
        if pickup:
            own = pickup.meter or meter
            bars.append((slots_of(pickup, own), own))
        leading = lead_in_plan(self.form, first, self.nearest)
        clicked = count_in > 0 or first.click.on
        clicking = Clicking(first.click.sound)
        before = []
        for slots, meter in bars:
            bpms = [first.bpm] * len(meter.beats)
            before.append(
                ExpectedBar(self.at_s, self.at_quarters, meter, clicked, clicking=clicking)
            )
            if pickup and len(before) == len(bars):
                self.played_bars.append(PlayedBar(self.at_quarters, meter, leading, 0, 0))
            self._bar(slots, meter, bpms, leading)
        return before

    def _lead_in(self, before: Sequence[ExpectedBar]) -> Iterator[tuple[Fraction, str]]:
        if len(before) > (self.form.pickup is not None):
            yield Fraction(0), "Count-in"
        if self.form.pickup is not None:
            yield before[-1].start_s, "Pickup"

    def _pass(self, plan: Plan) -> None:
        start_s, first_bar, click = self.at_s, len(self.bars) + 1, plan.click
        clicking = Clicking(click.sound, click.accented, click.step_whole, plan.swing)
        self._key(plan)
        tempos = beat_tempos(plan.bpm, plan.change, [len(meter.beats) for _, meter in plan.bars])
        for index, ((slots, meter), bpms) in enumerate(zip(plan.bars, tempos, strict=True)):
            clicked = click.on
            if click.plays is not None:
                bars, cycle = click.plays
                clicked = clicked and len(self.bars) % cycle < bars
            words = plan.words[index] if plan.words else ""
            self.bars.append(
                ExpectedBar(
                    self.at_s, self.at_quarters, meter, clicked, clicking=clicking, words=words
                )
            )
            self.played_bars.append(
                PlayedBar(self.at_quarters, meter, plan, plan.first_bar + index, len(self.bars))
            )
            self._bar(slots, meter, bpms, plan)
        seconds = self.at_s - start_s
        row = ExpectedPass(plan.label, first_bar, len(plan.bars), start_s, seconds, plan.entry)
        self.passes.append(row)

    def _key(self, plan: Plan) -> None:
        """The key that a pass sounds in, from the file's start or where it differs."""
        key = self.form.key
        if key is None:
            return
        tonic = (key.tonic.pitch_class + self.form.capo + plan.transpose) % 12
        if not self.keys or self.keys[-1].tonic != tonic:
            start_s = self.at_s if self.keys else Fraction(0)
            self.keys.append(ExpectedKey(start_s, tonic, key.minor))

    def _bar(self, slots: Slots, meter: Meter, bpms: Sequence[Fraction], plan: Plan) -> None:
        times = _BarTimes(self.at_quarters, [self.at_s], bpms, meter)
        for beat, bpm in zip(meter.beats, bpms, strict=True):
            self._beat(beat, bpm)
            times.beat_s.append(self.at_s)
        for start, cell in slots:
            if not cell.goes_on:
                self._chord(start, cell, times, plan)

    def _beat(self, beat: Fraction, bpm: Fraction) -> None:
        if not self.tempos or self.tempos[-1].quarter_bpm != bpm:
            self.tempos.append(ExpectedTempo(self.at_s, self.at_quarters, bpm))
        quarters, seconds = length(beat, bpm)
        self.at_quarters += quarters
        self.at_s += seconds

    def _chord(self, start: Fraction, cell: Cell, times: _BarTimes, plan: Plan) -> None:
        """Note a chord, and when it is struck: a push takes at most half of the chord before."""
        start_s = struck_s = times.seconds(start)
        written = struck = times.start_quarters + start * 4
        push = push_quarters(plan.swing) if "push" in cell.marks else Fraction(0)
        if push and self.played_chords:
            struck -= min(push, (struck - self.played_chords[-1].struck) / 2)
            struck_s = seconds_at(self.tempos, struck)
        up = self.form.capo + plan.transpose
        self.chords.append(
            ExpectedChord(
                start_s=start_s,
                written="N.C." if cell.chord is None else str(cell.chord),
                sounding=_sounding(cell.chord, up),
                struck_s=struck_s,
                start_quarters=written,
                push_quarters=push,
            )
        )
        self.played_chords.append(
            PlayedChord(struck, written, written, cell.chord, cell.marks, plan, up)
        )


def _sounding(chord: Chord | None, up: int) -> Sounding | None:
    """A chord as it sounds, `up` semitones higher than written."""
    if chord is None:
        return None
    tones = frozenset((tone + up) % 12 for tone in chord.pitch_classes)
    return Sounding((chord.root.pitch_class + up) % 12, tones, (chord.bass_class + up) % 12)
