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

from backing.form.model import Form
from backing.form.parts import PARTS
from backing.practice.versions import PLAIN, Version, titled
from backing.theory.rhythm import Meter
from backing.verify.expected.beats import (
    ring_out_quarters,
    ring_out_s,
    seconds_at,
    tempo_at,
)
from backing.verify.expected.records import (
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
from backing.verify.expected.song_maths import expect
from backing.verify.expected.version_choices import band_of, bars_of, rounds_of, semitones_up


def expect_version(form: Form, version: Version = PLAIN, count_in: bool = True) -> Expected:
    """Work out what a version of a form comes to.

    Raises:
        BackingError: the form has no such bars, sections or key.
    """
    if version == PLAIN:
        return expect(form, count_in)
    song = expect(form, count_in, version.arrangement)
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
        absent = set(version.without)
        if version.only:
            absent |= set(PARTS) - version.only
        self.absent = frozenset(absent)
        self.up = semitones_up(form, version)
        self.rounds = rounds_of(version, *bars_of(form, song, version))
        self.first, self.last = self.rounds[0].first, self.rounds[0].last
        self.at_s = self.round_s = Fraction(0)
        self.at_quarters = Fraction(0)
        self.passes: list[ExpectedPass] = []
        self.bars: list[ExpectedBar] = []
        self.before: list[ExpectedBar] = []
        self.chords: list[ExpectedChord] = []
        self.tempos: list[ExpectedTempo] = []
        self.played: list[PlayedRound] = []
        self.keys: list[ExpectedKey] = []

    def work(self) -> Expected:
        """All rounds one after another."""
        lead_in: list[tuple[Fraction, str]] = []
        count_in_s = Fraction(0)
        for number, (speed, first, last, between) in enumerate(self.rounds, 1):
            self.first, self.last, self.round_s = first, last, self.at_s
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
                self._count(number, speed, between)
            self._round(number, speed, self._window())
        end_s = self.at_s + ring_out_s(self.tempos[-1].quarter_bpm)
        return Expected(
            title=titled(self.form.title, self.version, self.form.instrument),
            count_in_s=count_in_s,
            seconds=self.at_s - count_in_s,
            end_s=end_s,
            passes=tuple(self.passes),
            bars=tuple(self.bars),
            count_in_bars=tuple(self.before),
            lead_in=tuple(lead_in),
            chords=tuple(self.chords),
            tempos=tuple(self.tempos),
            human_s=self.song.human_s,
            rounds=len(self.rounds),
            absent=self.absent,
            played=(*self.played[:-1], self._ringing(self.played[-1])),
            band=band_of(self.form, self.version, self.up),
            pitch_hz=self.song.pitch_hz,
            keys=tuple(self.keys),
        )

    def _ringing(self, last: PlayedRound) -> PlayedRound:
        """The last round, whose last chord may ring out."""
        rings_out = ring_out_quarters(self.tempos[-1].quarter_bpm)
        rings = bool(last.chords) and "ring" in last.chords[-1].marks
        rests = last.rests
        if rests and rests[-1][1] == last.end:
            rests = (*rests[:-1], (rests[-1][0], last.end + rings_out))
        return last._replace(sounds_until=last.end + rings * rings_out, rests=rests)

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
        clicking = Clicking(bar.clicking.sound)
        for _ in range(count):
            counts = ExpectedBar(self.at_s, self.at_quarters, bar.meter, True, True, clicking)
            (self.before if number == 1 else self.bars).append(counts)
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
            return bar._replace(
                start_s=placed(bar.start_s), start_quarters=quarters, clicked=clicked
            )

        if number == 1 and self.first == 1:
            self.before = [moved(bar) for bar in song.count_in_bars]
        played = [moved(bar) for bar in song.bars[self.first - 1 : self.last]]
        self._passes(number, placed)
        self._play(number, window)
        self._keys(window, placed)
        self.bars += played
        self.chords += self._chords(window, placed)
        self.at_s = placed(window.end_s)
        self.at_quarters += window.end_quarters - window.start_quarters

    def _keys(self, window: _Window, placed: Callable[[Fraction], Fraction]) -> None:
        """The window's keys, moved as its chords are; the first from the round's count-in on."""
        starts = [*(key.start_s for key in self.song.keys[1:]), window.end_s]
        for key, until in zip(self.song.keys, starts, strict=bool(self.song.keys)):
            if until <= window.start_s or key.start_s >= window.end_s:
                continue
            moved = (key.tonic + self.up) % 12
            if not self.keys or self.keys[-1].tonic != moved:
                starts_before = key.start_s <= window.start_s
                at_s = self.round_s if starts_before else placed(key.start_s)
                self.keys.append(ExpectedKey(at_s, moved, key.minor))

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
        """The window's chords, of which `_play` has noted where each is struck."""
        song, moved = self.song, self.at_quarters - window.start_quarters
        first = _first_chord(song, window)
        for chord, played in zip(song.chords[first:], self.played[-1].chords, strict=False):
            start = played.slot - moved
            yield chord._replace(
                start_s=placed(seconds_at(song.tempos, start)),
                start_quarters=played.slot,
                struck_s=placed(seconds_at(song.tempos, played.struck - moved)),
                sounding=_raised(chord.sounding, self.up),
            )

    def _play(self, number: int, window: _Window) -> None:
        """What parts play from in a round, moved to its place."""
        (song,) = self.song.played
        moved = self.at_quarters - window.start_quarters
        start = self.song.bars[self.first - 1].start_quarters
        bars = [
            bar._replace(start=bar.start + moved)
            for bar in song.bars
            if window.start_quarters <= bar.start < window.end_quarters
        ]
        chords = self._struck(window, moved)
        counted = song.counted if number == 1 and self.first == 1 else self._counted()
        self.played.append(
            PlayedRound(
                start=start + moved,
                end=window.end_quarters + moved,
                sounds_until=window.end_quarters + moved,
                counted=counted,
                bars=tuple(bars),
                chords=chords,
                rests=tuple(self._rests(bars[-(self.last - self.first + 1) :], chords)),
            )
        )

    def _counted(self) -> tuple[Fraction, Meter] | None:
        """The last bar that counts before the round that starts now."""
        before = self.bars[-1] if self.bars else self.before[-1] if self.before else None
        counts = before is not None and (before.only_counts or not self.bars)
        return (before.start_quarters, before.meter) if before and counts else None

    def _struck(self, window: _Window, moved: Fraction) -> tuple[PlayedChord, ...]:
        """The window's chords; one that goes on from before is struck at the window's start."""
        (song,) = self.song.played
        first = _first_chord(self.song, window)
        chords: list[PlayedChord] = []
        for chord, written in zip(song.chords[first:], self.song.chords[first:], strict=True):
            if chord.slot >= window.end_quarters:
                break
            slot = max(chord.slot, window.start_quarters) + moved
            struck = slot
            if chords:  # the first one can't come early
                struck -= min(written.push_quarters, (slot - chords[-1].struck) / 2)
                chords[-1] = chords[-1]._replace(end=struck)
            marks = chord.marks - ({"push"} if chord.slot < window.start_quarters else set())
            moved_up = chord.up + self.up
            chords.append(chord._replace(struck=struck, slot=slot, up=moved_up, marks=marks))
        chords[-1] = chords[-1]._replace(end=window.end_quarters + moved)
        return tuple(chords)

    def _rests(
        self, bars: Sequence[PlayedBar], chords: Sequence[PlayedChord]
    ) -> Iterator[tuple[Fraction, Fraction]]:
        """The student's rests: every other group of bars, from and to chords that are early."""
        count, part = self.version.trade, self.song.band.instrument.part
        if not count:
            return
        early = {
            chord.slot: chord.struck
            for chord in chords
            if "riff" not in chord.plan.parts[part].values
        }
        for index in range(count, len(bars), 2 * count):
            start, after = bars[index].start, index + count
            until = bars[after].start if after < len(bars) else bars[-1].end
            yield early.get(start, start), early.get(until, until)

    def _tempo(self, quarter_bpm: Fraction) -> None:
        if not self.tempos or self.tempos[-1].quarter_bpm != quarter_bpm:
            self.tempos.append(ExpectedTempo(self.at_s, self.at_quarters, quarter_bpm))

    def _label(self, label: str, number: int) -> str:
        """A section's name in a round."""
        if len(self.rounds) == 1:
            return label
        if self.version.build_up:
            bars = f"{self.first}-{self.last}"
            label += f", bar {self.first}" if self.first == self.last else f", bars {bars}"
        label = f"{label}, round {number} of {len(self.rounds)}"
        if len(self.version.speeds) == 1:
            return label
        share = f"{float(self.rounds[number - 1].speed * 100):.3f}".rstrip("0").rstrip(".")
        return f"{label}, {share}%"


def _raised(sounding: Sounding | None, up: int) -> Sounding | None:
    if sounding is None:
        return None
    root, tones, lowest = sounding
    raised = frozenset((tone + up) % 12 for tone in tones)
    return Sounding((root + up) % 12, raised, (lowest + up) % 12)


def _first_chord(song: Expected, window: _Window) -> int:
    """The index of the first chord in a window, or of the one that goes on into it."""
    start = window.start_quarters
    first = bisect_left(song.chords, start, key=lambda chord: chord.start_quarters)
    starts_late = first == len(song.chords) or song.chords[first].start_quarters > start
    return first - 1 if first and starts_late else first
