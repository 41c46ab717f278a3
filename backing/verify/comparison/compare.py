"""What is expected against what each reader found: one Finding for each question.

The tolerance is computed, not chosen: half a tick of the file at the form's tempo there,
plus half a microsecond for every quarter so far (a MIDI tempo is a whole number of
microseconds a quarter), plus a nanosecond for floating point. The bass is played by a person
and may also stray as far as its form allows (`human`); only what goes beyond that counts as a
difference.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate
from math import floor, inf
from typing import TypeVar

from backing.form.model import Form
from backing.form.parts import PARTS
from backing.practice.versions import PLAIN, Version
from backing.text.times import clock
from backing.theory.chords import ChordError, parse_chord
from backing.verify.expected.records import Expected, Sounding
from backing.verify.expected.song_maths import expect
from backing.verify.readers.measured import Measured, Onset
from backing.verify.report import (
    MOST_QUOTED,
    Finding,
    Report,
    Row,
    listed,
    plain,
    quoted,
    tempo_text,
)

_Time = TypeVar("_Time", Fraction, float)

FLOAT_S = 1e-9
HALF = Fraction(1, 2)
NO_CHORD = "N.C."


def expected_of(
    form: Form, version: Version | None = None, count_in: bool = True, clicks: bool = False
) -> Expected:
    """What a file of a form, or of a practice version of it, must hold.

    `count_in` is False for a file without the count-in; `clicks` lists every click, too.

    Raises:
        BackingError: the form has no such bars, sections or key.
    """
    if version is None or version == PLAIN:
        return expect(form, count_in, clicks)
    from backing.verify.expected.practice_maths import expect_version

    return expect_version(form, version, count_in, clicks)


def compare(expected: Expected, accounts: Sequence[Measured]) -> Report:
    """Compare what is expected with each reader's account; the table shows the first reader's."""
    findings: list[Finding] = []
    for account in accounts:
        findings += _Comparison(expected, account).findings()
    first = accounts[0]
    tolerance = _Comparison(expected, first).tolerance(expected.count_in_s + expected.seconds)
    return Report(expected.title, tuple(_rows(expected, first)), tuple(findings), tolerance)


class _Comparison:
    def __init__(self, expected: Expected, account: Measured) -> None:
        self.expected = expected
        self.account = account
        self.tempos = [(float(at), float(q), float(bpm)) for at, q, bpm in expected.tempos]

    def tolerance(self, at_s: Fraction | float) -> float:
        """How far a file's time for `at_s` may be off, in seconds."""
        at = float(at_s)
        start, quarters, bpm = self.tempos[bisect_right(self.tempos, (at, inf)) - 1]
        half_tick_s = float(self.account.tick_quarters) / 2 * 60 / bpm
        return half_tick_s + 0.5e-6 * (quarters + (at - start) * bpm / 60) + FLOAT_S

    def findings(self) -> Iterable[Finding]:
        yield self._bars()
        yield self._meters()
        yield self._tempos()
        yield self._clicks()
        yield self._bass()
        if self.expected.absent:
            yield self._absent()
        if self.expected.guitar_rests:
            yield self._guitar_rests()
        if self.account.title is not None:
            yield self._title()
        if self.account.markers is not None:
            yield self._markers(self.account.markers)
        if self.account.chords is not None:
            yield self._chords(self.account.chords)
        if self.account.track_ends is not None:
            yield self._ends(self.account.track_ends)

    def _bars(self) -> Finding:
        expected = self.expected
        lines = [bar.start_s for bar in (*expected.count_in_bars, *expected.bars)]
        end = expected.count_in_s + expected.seconds
        measured = [s for s in self.account.bar_lines if s < float(end) - self.tolerance(end)]
        if self.account.track_ends is None:
            lines = lines[: len(measured)]  # this reader sees no bar after the last event
        if len(measured) != len(lines):
            before = len(expected.count_in_bars)
            return self._no(
                "bar lines",
                f"{max(0, len(measured) - before)} bars, not {len(lines) - before}",
            )
        return self._times("bar lines", lines, measured)

    def _meters(self) -> Finding:
        wanted: list[tuple[Fraction, tuple[int, int]]] = []
        for bar in (*self.expected.count_in_bars, *self.expected.bars):
            meter = (bar.meter.count, bar.meter.unit)
            if not wanted or wanted[-1][1] != meter:
                wanted.append((bar.start_s, meter))
        got: list[tuple[float, tuple[int, int]]] = []
        for at, n, d in self.account.meters:
            if not got or got[-1][1] != (n, d):
                got.append((at, (n, d)))
        if [meter for _, meter in wanted] != [meter for _, meter in got]:
            return self._no(
                "meters",
                f"the meters are {listed(meter for _, meter in got)}, "
                f"not {listed(meter for _, meter in wanted)}",
            )
        return self._times("meters", [at for at, _ in wanted], [at for at, _ in got])

    def _tempos(self) -> Finding:
        """Every change of tempo, to the microsecond a quarter that MIDI stores."""
        wanted = _changes(
            (at, floor(60_000_000 / bpm + HALF)) for at, _, bpm in self.expected.tempos
        )
        got = _changes((at, round(60e6 / bpm)) for at, bpm in self.account.tempos)
        if len(wanted) != len(got):
            return self._no("tempos", f"{len(got)} tempos, not {len(wanted)}")
        for (at, us), (_, us_got) in zip(wanted, got, strict=True):
            if us != us_got:
                return self._no(
                    "tempos",
                    f"{tempo_text(us_got)} quarters a minute at {clock(at)}, not {tempo_text(us)}",
                )
        return self._times("tempos", [at for at, _ in wanted], [at for at, _ in got])

    def _clicks(self) -> Finding:
        """A click at the bar line of every bar that clicks, and no click in the others."""
        bars = (*self.expected.count_in_bars, *self.expected.bars)
        starts = [onset.start_s for onset in sorted(self.account.clicks)]
        ends = [*(bar.start_s for bar in bars[1:]), self.expected.end_s]
        for bar, end in zip(bars, ends, strict=True):
            first = bisect_left(starts, float(bar.start_s) - self.tolerance(bar.start_s))
            if not bar.clicked and bisect_left(starts, float(end) - self.tolerance(end)) > first:
                at = clock(starts[first])
                return self._no("clicks", f"a click at {at}, in a bar without clicks")
        wanted = [bar.start_s for bar in bars if bar.clicked]
        return self._struck("clicks", wanted, self.account.clicks, [None] * len(wanted), 0.0)

    def _bass(self) -> Finding:
        """The bass's pitch class at every chord that it plays."""
        played = [chord for chord in self.expected.chords if chord.bass_class is not None]
        times, classes = [c.bass_s for c in played], [c.bass_class for c in played]
        stray_s = float(self.expected.human_s)
        return self._struck("bass", times, self.account.bass, classes, stray_s)

    def _absent(self) -> Finding:
        """Parts that are left out have no notes; a click that counts in is checked by `_clicks`."""
        counted = any(bar.clicked for bar in self.expected.count_in_bars + self.expected.bars)
        for part in sorted(self.expected.absent - ({"click"} if counted else set())):
            title = PARTS[part].title
            if any(name == title or name.startswith(f"{title} ") for name in self.account.struck):
                return self._no("parts", f"the {part} play" + "s" * (not PARTS[part].is_plural))
        return Finding(self.account.reader, "parts", True, "no part plays that is left out")

    def _guitar_rests(self) -> Finding:
        """No note of the guitar sounds while the student plays."""
        sounding = sorted(self.account.guitar)
        starts = [start for start, _ in sounding]
        ends = list(accumulate((end for _, end in sounding), max))  # the latest so far
        for start, end in self.expected.guitar_rests:
            stray_s = float(self.expected.human_s)
            # What starts before the rest's end must have ended by its start.
            last = bisect_left(starts, float(end) - self.tolerance(end) - stray_s)
            if last and ends[last - 1] > float(start) + self.tolerance(start) + stray_s:
                return self._no("trading", f"the guitar sounds in the rest at {clock(start)}")
        rests = len(self.expected.guitar_rests)
        return Finding(self.account.reader, "trading", True, f"the guitar is silent in {rests}")

    def _struck(
        self,
        what: str,
        wanted: Sequence[Fraction],
        onsets: Sequence[Onset],
        classes: Sequence[int | None],
        stray_s: float,
    ) -> Finding:
        """A note of each class starts at each time, give or take `stray_s` seconds."""
        ordered = sorted(onsets)
        starts = [onset.start_s for onset in ordered]
        worst = 0.0
        for at, pitch_class in zip(wanted, classes, strict=True):
            reach = self.tolerance(at) + stray_s
            first = bisect_left(starts, float(at) - reach)
            there = ordered[first : bisect_right(starts, float(at) + reach)]
            if not there:
                return self._no(what, f"no note starts at {clock(at)}")
            right = [o for o in there if pitch_class is None or o.pitch % 12 == pitch_class]
            if not right:
                return self._no(what, f"at {clock(at)} it doesn't play the chord's bass note")
            worst = max(worst, abs(right[0].start_s - float(at)) - stray_s)
        return Finding(self.account.reader, what, True, f"{len(wanted)} where they belong", worst)

    def _title(self) -> Finding:
        agrees = self.account.title == self.expected.title
        says = (
            "the same as the form's"
            if agrees
            else f"the title is {quoted(self.account.title)}, not {self.expected.title!r}"
        )
        return Finding(self.account.reader, "title", agrees, says)

    def _markers(self, markers: Sequence[tuple[float, str]]) -> Finding:
        wanted = [(row.start_s, row.label) for row in self.expected.passes]
        wanted = [*self.expected.lead_in, *wanted]
        for (at, label), (_, text) in zip(wanted, markers, strict=False):
            if label != text:
                return self._no("sections", f"{quoted(text)} at {clock(at)}, not {label!r}")
        if len(wanted) != len(markers):
            return self._no("sections", f"{len(markers)} section markers, not {len(wanted)}")
        return self._times("sections", [at for at, _ in wanted], [at for at, _ in markers])

    def _chords(self, chords: Sequence[tuple[float, str]]) -> Finding:
        wanted = self.expected.chords
        if len(chords) != len(wanted):
            return self._no("chords", f"{len(chords)} chord names, not {len(wanted)}")
        for chord, (_, text) in zip(wanted, chords, strict=True):
            rests = chord.sounding is None
            if not (text == NO_CHORD if rests else _sounding(text) == chord.sounding):
                return self._no(
                    "chords",
                    f"{plain(text)} at {clock(chord.start_s)} isn't how {chord.written} sounds",
                )
        return self._times("chords", [chord.start_s for chord in wanted], [at for at, _ in chords])

    def _ends(self, ends: Sequence[float]) -> Finding:
        return self._times("end of every track", [self.expected.end_s] * len(ends), ends)

    def _times(self, what: str, wanted: Sequence[Fraction], got: Sequence[float]) -> Finding:
        """Compare times one by one; names the first that is outside its tolerance."""
        worst = 0.0
        for at, measured in zip(wanted, got, strict=True):
            difference = abs(float(at) - measured)
            worst = max(worst, difference)
            if difference > self.tolerance(at):
                return Finding(
                    self.account.reader,
                    what,
                    False,
                    f"expected {clock(at)}, found {clock(measured)}",
                    difference,
                )
        return Finding(self.account.reader, what, True, f"{len(got)} where they belong", worst)

    def _no(self, what: str, says: str) -> Finding:
        return Finding(self.account.reader, what, False, says)


def _rows(expected: Expected, account: Measured) -> Iterable[Row]:
    """The table: a pass goes from its marker to the next one, or to the last bar line."""
    markers = account.markers or []
    got = [at for at, _ in markers[len(expected.lead_in) :]]
    whole = len(got) == len(expected.passes)
    count = len(expected.count_in_bars) + len(expected.bars)
    last_line = account.bar_lines[count] if count < len(account.bar_lines) else None
    ends = [*got[1:], last_line] if whole else []
    for index, row in enumerate(expected.passes):
        start = got[index] if whole else None
        stop = ends[index] if whole else None
        length = stop - start if start is not None and stop is not None else None
        yield Row(
            row.label,
            row.first_bar,
            row.bars,
            float(row.start_s),
            float(row.seconds),
            start,
            length,
        )


def _sounding(text: str) -> Sounding | None:
    """A chord name as it sounds; None if it isn't a chord symbol."""
    return _parsed(text) if len(text) <= MOST_QUOTED else None


@lru_cache(maxsize=2048)
def _parsed(text: str) -> Sounding | None:
    try:
        chord = parse_chord(text)
    except ChordError:
        return None
    return Sounding(chord.root.pitch_class, chord.pitch_classes, chord.bass_class)


def _changes(tempos: Iterable[tuple[_Time, int]]) -> list[tuple[_Time, int]]:
    """Tempos without any that repeats the one before."""
    kept: list[tuple[_Time, int]] = []
    for at, us in tempos:
        if not kept or kept[-1][1] != us:
            kept.append((at, us))
    return kept
