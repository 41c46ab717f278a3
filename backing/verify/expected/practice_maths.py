"""What a practice version must come to: the song's own figures, cut, slowed and joined.

Nothing here is played, and nothing is taken from the code that plays versions. A round is a
window of the song: what lies at song time `t` in it comes `(t - window's start) / speed`
after the round's first bar line. Keys are moved by semitones alone; the capo and the shapes
don't change what sounds.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.errors import BackingError
from backing.form.model import Form
from backing.form.parts import PARTS
from backing.practice.versions import PLAIN, Version, titled
from backing.verify.expected.beats import BarOfClicks, clicks_of, ring_out_s, seconds_at, tempo_at
from backing.verify.expected.pass_plan import line_names
from backing.verify.expected.records import (
    Expected,
    ExpectedBar,
    ExpectedChord,
    ExpectedClick,
    ExpectedPass,
    ExpectedTempo,
    Sounding,
)
from backing.verify.expected.song_maths import expect


def expect_version(
    form: Form, version: Version = PLAIN, count_in: bool = True, clicks: bool = False
) -> Expected:
    """Work out what a version of a form comes to; `clicks` lists every click too.

    Raises:
        BackingError: the form has no such bars, sections or key.
    """
    if version == PLAIN:
        return expect(form, count_in, clicks)
    song = expect(form, count_in, clicks)
    return _Rounds(form, song, version, form.count_in_bars if count_in else 0).work()


class _Window(NamedTuple):
    """Part of the song: its start and its end."""

    start_s: Fraction
    start_quarters: Fraction
    end_s: Fraction
    end_quarters: Fraction


class _Rounds:
    """Running sums over the rounds of a version."""

    def __init__(self, form: Form, song: Expected, version: Version, count_in: int) -> None:
        self.form = form
        self.song = song
        self.version = version
        self.count_in = count_in
        self.speeds = [speed for speed in version.speeds for _ in range(version.loop)]
        absent = set(version.without)
        if version.only:
            absent |= set(PARTS) - version.only
        self.absent = frozenset(absent)
        self.up = _semitones_up(form, version)
        self.first, self.last = _bars(form, song, version)
        self.at_s = Fraction(0)
        self.at_quarters = Fraction(0)
        self.passes: list[ExpectedPass] = []
        self.bars: list[ExpectedBar] = []
        self.before: list[ExpectedBar] = []
        self.chords: list[ExpectedChord] = []
        self.tempos: list[ExpectedTempo] = []
        self.clicks: list[ExpectedClick] = []
        self.rests: list[tuple[Fraction, Fraction]] = []

    def work(self) -> Expected:
        """All rounds one after another."""
        lead_in: list[tuple[Fraction, str]] = []
        count_in_s = Fraction(0)
        for number, speed in enumerate(self.speeds, 1):
            if number == 1 and self.first == 1:
                lead_in = [(at / speed, text) for at, text in self.song.lead_in]
                self._round(number, speed, self._window(as_it_starts=True))
                count_in_s = self.song.count_in_s / speed
                continue
            if number == 1:
                self._count(number, speed, self.count_in)
                count_in_s = self.at_s
                lead_in = [(Fraction(0), "Count-in")] if self.count_in else []
            else:
                self._count(number, speed, self.version.between)
            self._round(number, speed, self._window())
        end_s = self.at_s + ring_out_s(self.tempos[-1].quarter_bpm)
        if self.rests and self.rests[-1][1] == self.at_s:
            self.rests[-1] = (self.rests[-1][0], end_s)
        return Expected(
            titled(self.form.title, self.version),
            count_in_s,
            self.at_s - count_in_s,
            end_s,
            tuple(self.passes),
            tuple(self.bars),
            tuple(self.before),
            tuple(lead_in),
            tuple(self.chords),
            tuple(self.tempos),
            self.song.human_s,
            tuple(self.clicks),
            len(self.speeds),
            self.absent,
            tuple(self.rests),
        )

    def _window(self, as_it_starts: bool = False) -> _Window:
        """The version's bars; `as_it_starts` includes what comes before the song's bar 1."""
        song, bar = self.song, self.song.bars[self.first - 1]
        if self.last < len(song.bars):
            after = song.bars[self.last]
            end_s, end_quarters = after.start_s, after.start_quarters
        else:
            last = song.bars[-1]
            end_s = song.count_in_s + song.seconds
            end_quarters = last.start_quarters + last.meter.bar_whole * 4
        if as_it_starts:
            return _Window(Fraction(0), Fraction(0), end_s, end_quarters)
        return _Window(bar.start_s, bar.start_quarters, end_s, end_quarters)

    def _count(self, number: int, speed: Fraction, count: int) -> None:
        """Count-in bars, in the meter and at the tempo of the round's first bar."""
        bar = self.song.bars[self.first - 1]
        bpm = tempo_at(self.song.tempos, bar.start_quarters).quarter_bpm * speed
        start_s = self.at_s
        if count:
            self._tempo(bpm)
        sound = next((c.sound for c in self.song.clicks if c.at_s == bar.start_s), "")
        for _ in range(count):
            counts = ExpectedBar(self.at_s, self.at_quarters, bar.meter, True, True)
            (self.before if number == 1 else self.bars).append(counts)
            if self.song.clicks:
                bpms = [bpm] * len(bar.meter.beats)
                self.clicks += clicks_of(BarOfClicks(self.at_s, bar.meter, bpms, sound or "wood"))
            self.at_quarters += bar.meter.bar_whole * 4
            self.at_s += bar.meter.bar_whole * 240 / bpm
        if count and number > 1:
            label = self._label("Count-in", number)
            self.passes.append(ExpectedPass(label, 0, count, start_s, self.at_s - start_s))

    def _round(self, number: int, speed: Fraction, window: _Window) -> None:
        song = self.song

        def placed(at_s: Fraction) -> Fraction:
            return self.at_s + (at_s - window.start_s) / speed

        self._tempo(tempo_at(song.tempos, window.start_quarters).quarter_bpm * speed)
        for tempo in song.tempos:
            if window.start_quarters < tempo.start_quarters < window.end_quarters:
                quarters = self.at_quarters + tempo.start_quarters - window.start_quarters
                bpm = tempo.quarter_bpm * speed
                self.tempos.append(ExpectedTempo(placed(tempo.start_s), quarters, bpm))

        counted = song.count_in_s if self.count_in else Fraction(0)
        quiet = "click" in self.absent

        def moved(bar: ExpectedBar) -> ExpectedBar:
            clicked = bar.clicked and not (quiet and bar.start_s >= counted)
            quarters = self.at_quarters + bar.start_quarters - window.start_quarters
            return ExpectedBar(placed(bar.start_s), quarters, bar.meter, clicked)

        if number == 1 and self.first == 1:
            self.before = [moved(bar) for bar in song.count_in_bars]
        played = [moved(bar) for bar in song.bars[self.first - 1 : self.last]]
        for click in song.clicks:
            if window.start_s <= click.at_s < window.end_s:
                plays = click.plays and not (quiet and click.at_s >= counted)
                self.clicks.append(click._replace(at_s=placed(click.at_s), plays=plays))
        self._passes(number, placed)
        chords = list(self._chords(window, placed))
        if self.version.trade:
            self._trades(played, chords, placed(window.end_s))
        self.bars += played
        self.chords += chords
        self.at_s = placed(window.end_s)
        self.at_quarters += window.end_quarters - window.start_quarters

    def _passes(self, number: int, placed: Callable[[Fraction], Fraction]) -> None:
        """A row for each pass that is in the window, whole or in part."""
        bars = self.song.bars
        for row in self.song.passes:
            first = max(row.first_bar, self.first)
            after = min(row.first_bar + row.bars, self.last + 1)
            if first >= after:
                continue
            whole = after == row.first_bar + row.bars
            end_s = row.start_s + row.seconds if whole else bars[after - 1].start_s
            start_s = placed(bars[first - 1].start_s)
            label, seconds = self._label(row.label, number), placed(end_s) - start_s
            self.passes.append(
                ExpectedPass(label, first, after - first, start_s, seconds, row.entry)
            )

    def _chords(
        self, window: _Window, placed: Callable[[Fraction], Fraction]
    ) -> Iterator[ExpectedChord]:
        """The window's chords; one that goes on from before is struck at the window's start."""
        song, (start_s, start, _, end) = self.song, window
        first = bisect_left(song.chords, start, key=lambda chord: chord.start_quarters)
        last = bisect_left(song.chords, end, key=lambda chord: chord.start_quarters)
        chords = list(song.chords[first:last])
        if first and (not chords or chords[0].start_quarters > start):
            goes_on = song.chords[first - 1]
            again = goes_on._replace(start_s=start_s, start_quarters=start)
            chords.insert(0, again)
        before: Fraction | None = None
        for chord in chords:
            struck = chord.start_quarters
            if before is not None:  # the first one can't come early
                struck -= min(chord.push_quarters, (struck - before) / 2)
            before = struck
            bass_class = None if "bass" in self.absent else chord.bass_class
            yield chord._replace(
                start_s=placed(chord.start_s),
                start_quarters=self.at_quarters + chord.start_quarters - start,
                bass_s=placed(seconds_at(song.tempos, struck)),
                sounding=_raised(chord.sounding, self.up),
                bass_class=None if bass_class is None else (bass_class + self.up) % 12,
            )

    def _trades(
        self, bars: Sequence[ExpectedBar], chords: Sequence[ExpectedChord], end_s: Fraction
    ) -> None:
        """The guitar's rests: every other group of bars, up to a chord that comes early."""
        count = self.version.trade
        struck = {chord.start_s: chord.bass_s for chord in chords}
        for index in range(count, len(bars), 2 * count):
            until = end_s
            if index + count < len(bars):
                until = bars[index + count].start_s
                until = struck.get(until, until)
            self.rests.append((bars[index].start_s, until))

    def _tempo(self, quarter_bpm: Fraction) -> None:
        if not self.tempos or self.tempos[-1].quarter_bpm != quarter_bpm:
            self.tempos.append(ExpectedTempo(self.at_s, self.at_quarters, quarter_bpm))

    def _label(self, label: str, number: int) -> str:
        """A section's name in a round."""
        if len(self.speeds) == 1:
            return label
        label = f"{label}, round {number} of {len(self.speeds)}"
        if len(self.version.speeds) == 1:
            return label
        share = f"{float(self.speeds[number - 1] * 100):.3f}".rstrip("0").rstrip(".")
        return f"{label}, {share}%"


def _raised(sounding: Sounding | None, up: int) -> Sounding | None:
    if sounding is None:
        return None
    root, tones, lowest = sounding
    raised = frozenset((tone + up) % 12 for tone in tones)
    return Sounding((root + up) % 12, raised, (lowest + up) % 12)


def _semitones_up(form: Form, version: Version) -> int:
    """How many semitones higher than the song a version sounds; octaves don't count."""
    if version.key is None:
        return version.transpose
    if form.key is None:
        raise BackingError(f"{form.title}: the song has no key, so it can't be moved to another.")
    return version.key.tonic.pitch_class - form.key.tonic.pitch_class - form.capo


def _bars(form: Form, song: Expected, version: Version) -> tuple[int, int]:
    """The first and last bar of the song that a version plays."""
    stretch, count = version.stretch, len(song.bars)
    if stretch is None:
        return 1, count
    if stretch.bars is not None:
        first, last = stretch.bars
        if not 0 < first <= last <= count:
            raise BackingError(f"{form.title}: it has bars 1-{count}, not {stretch}.")
        return first, last
    first, end = _section(form, song, stretch.first, 1)
    if stretch.last == stretch.first:
        return first, end
    _, last = _section(form, song, stretch.last, first)
    return first, last


def _section(form: Form, song: Expected, name: str, since: int) -> tuple[int, int]:
    """The bars of a line of the form, a pass or a section's first line, from bar `since` on."""
    called = name.strip().casefold()
    lines = [label.casefold() for label in line_names(form)]
    for names in (
        [lines[row.entry] for row in song.passes],
        [row.label.casefold() for row in song.passes],
        [form.entries[row.entry].section.casefold() for row in song.passes],
    ):
        rows = [row for row, known in zip(song.passes, names, strict=True) if known == called]
        if not rows:
            continue
        later = [row for row in rows if row.first_bar >= since]
        if later:
            of_line = [row for row in rows if row.entry == later[0].entry]
            return of_line[0].first_bar, of_line[-1].first_bar + of_line[-1].bars - 1
        break
    raise BackingError(f"{form.title}: there is no section {name!r} from bar {since} on.")
