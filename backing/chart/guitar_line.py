"""What is played under a section's bars: strums as strokes, picks, riffs and a bass line as tab.

Each is printed where it first appears: a strum again after another one, a pick or a riff only
once. A strum or pick is shown in bars where it is played as written, without a mark or N.C.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Any, NamedTuple

from backing.chart.bass_line import BASS, BassLines
from backing.chart.records import STRUM, Fret, Staff, Stroke, Tab
from backing.chart.riff_tab import Silence, rhythm, riff_bars
from backing.form.model import Form
from backing.form.parts import GUITARS, title_of
from backing.form.pattern_records import PickPattern, StrumPattern
from backing.form.tab import Riff
from backing.players.part_settings import settings_of
from backing.players.pick import Pluck, built_in, plucks
from backing.players.riff import written
from backing.players.strings import Strings
from backing.players.strum import Thumb, strokes
from backing.players.tiling import bar_count, own_meter
from backing.theory.chords import Chord
from backing.theory.fretboard import Fingering
from backing.timeline import Bar as PlayedBar


class Chords(NamedTuple):
    """A bar's chords by place, whether it is plain (no marks, no N.C.), and what stops silence."""

    slots: tuple[tuple[Fraction, Chord | None], ...]
    plain: bool
    silences: tuple[Silence, ...] = ()


class Printed(NamedTuple):
    """What is printed under a section, by bar, and which parts play a named pattern."""

    strokes: dict[int, tuple[Stroke, ...]]
    tabs: list[dict[int, Tab]]
    staves: list[Staff]
    alike: dict[int, tuple[int, ...]]
    named: dict[str, list[str]]
    """The parts' titles by the pattern: "riff: weir"."""
    students: str
    """The title of the student's part."""

    @property
    def lines(self) -> list[str]:
        """What the margin says: each pattern once, and whose it is if not just the student's."""
        parts = {title for titles in self.named.values() for title in titles}
        return [
            name
            if len(parts) < 2 or titles == [self.students]
            else f"{name} ({', '.join(titles).lower()})"
            for name, titles in self.named.items()
        ]


class GuitarLines:
    """Gives what is printed under section after section, each pattern only once."""

    def __init__(self, form: Form, shape_of: Callable[[Chord], Fingering]) -> None:
        self.form, self.shape_of = form, shape_of
        self.bass = BassLines(form) if form.instrument.is_bass else None
        self.strum: Any = None
        self.shown: set[Any] = set()

    def below(
        self, bars: Sequence[PlayedBar], chords: Sequence[Chords], only_riffs: bool = False
    ) -> Printed:
        """What a section's bars have below them, for its first pass."""
        printed = Printed({}, [], [], {}, {}, self.form.instrument.title)
        playing = bars[0].playing
        for part in (*GUITARS, BASS) if self.bass is None else (BASS,):
            settings = settings_of(part.name, part.on)
            own = settings(playing)
            if not own.on:
                continue
            title = title_of(part, self.form.instrument)
            riff = written(self.form, settings, playing)
            if riff is not None:
                self._riff(printed, bars, chords, title, own.riff, riff)
            elif only_riffs:
                continue
            elif part is BASS:
                self._line(printed, bars)
            elif own.pick is not None:
                self._pick(
                    printed,
                    bars,
                    chords,
                    title,
                    own.pick,
                    plucks(self.form, settings),
                )
            else:
                of_bar = strokes(self.form, settings)
                self._strum(printed, bars, chords, title, own.strum, of_bar)
        return printed

    def _line(self, printed: Printed, bars: Sequence[PlayedBar]) -> None:
        """A bass student's line, bar by bar."""
        playing = bars[0].playing
        if self.bass is None:
            return
        tabs = self.bass.tabs(playing.section, playing.transpose, len(bars))
        if tabs:
            printed.tabs.append(tabs)
            printed.staves.append(Staff(BASS.title, self.bass.strings))

    def _strum(
        self,
        printed: Printed,
        bars: Sequence[PlayedBar],
        chords: Sequence[Chords],
        title: str,
        strum: str | StrumPattern | None,
        of_bar: Callable[[PlayedBar], Any],
    ) -> None:
        name = strum if isinstance(strum, str) else ""
        pattern = self.form.strums[strum] if isinstance(strum, str) else strum
        key = pattern or str(own_meter(self.form, bars[0]))
        if key == self.strum or printed.strokes:
            return
        length = 1 if pattern is None else _bars_of(pattern, self.form, bars[0])
        first = _clear(chords, length)
        if first is None:
            return
        self.strum = key
        if name:
            printed.named.setdefault(f"strum: {name}", []).append(title)
        for index in range(first, min(first + length, len(bars))):
            printed.strokes[index] = tuple(_stroke(at, one) for at, one in of_bar(bars[index]))
        _simile(printed, bars, first + length, STRUM)

    def _pick(
        self,
        printed: Printed,
        bars: Sequence[PlayedBar],
        chords: Sequence[Chords],
        title: str,
        pick: str | PickPattern,
        of_bar: Callable[[PlayedBar], Sequence[tuple[Fraction, Pluck]]],
    ) -> None:
        name = pick if isinstance(pick, str) else ""
        meter = own_meter(self.form, bars[0])
        pattern = (
            pick
            if isinstance(pick, PickPattern)
            else self.form.picks.get(pick) or built_in(pick, meter, len(self.form.tuning))
        )
        if name:
            printed.named.setdefault(f"pick: {name}", []).append(title)
        length = _bars_of(pattern, self.form, bars[0])
        first = _clear(chords, length)
        if pattern in self.shown or first is None:
            return
        self.shown.add(pattern)
        tabs: dict[int, Tab] = {}
        for index in range(first, min(first + length, len(bars))):
            frets = [
                fret
                for at, pluck in of_bar(bars[index])
                for fret in self._plucked(at, pluck, chords[index])
            ]
            tabs[index] = Tab(tuple(frets), rhythm(frets, bars[index].meter.bar_whole))
        _simile(printed, bars, first + length, len(printed.tabs))
        printed.tabs.append(tabs)
        printed.staves.append(Staff(title, len(self.form.tuning)))

    def _plucked(self, at: Fraction, pluck: Pluck, chords: Chords) -> Sequence[Fret]:
        """What fingers play on the chord that is held then."""
        chord = next((c for start, c in reversed(chords.slots) if start <= at), None)
        if chord is None:
            return []
        frets = self.shape_of(chord).frets
        strings = Strings(len(frets), Fraction(1))
        found = []
        for finger in pluck.fingers:  # each alone, to know which finger has which string
            before = len(strings.notes(lambda *_: ()))
            Pluck((finger,), False).strike(strings, Fraction(0), frets, 1, Fraction(1))
            for note in strings.notes(lambda *_: ())[before:]:
                string = note.string or 1
                found.append(
                    Fret(at, string, str(frets[len(frets) - string]), finger=finger.rstrip("2"))
                )
        return list({fret.string: fret for fret in found}.values())

    def _riff(
        self,
        printed: Printed,
        bars: Sequence[PlayedBar],
        chords: Sequence[Chords],
        title: str,
        name: str | Riff | None,
        riff: Riff,
    ) -> None:
        if isinstance(name, str):
            printed.named.setdefault(f"riff: {name}", []).append(title)
        tabs = riff_bars(riff, bars[0].playing.transpose, [each.silences for each in chords])
        if tabs in self.shown:
            return
        self.shown.add(tabs)
        _simile(printed, bars, len(tabs), len(printed.tabs))
        printed.tabs.append(dict(enumerate(tabs)))
        printed.staves.append(Staff(title, riff.strings))


def _simile(printed: Printed, bars: Sequence[PlayedBar], at: int, lane: int) -> None:
    if at < len(bars):
        printed.alike[at] = (*printed.alike.get(at, ()), lane)


def _stroke(at: Fraction, one: Any) -> Stroke:
    if isinstance(one, Thumb):
        return Stroke(at, one.move, short=one.short)
    return Stroke(at, one.move, one.velocity >= _accented(one.move), one.upward, one.short)


def _accented(move: str) -> int:
    """The velocity from which a stroke counts as accented."""
    from backing.players.strum import ACCENT, DAMPED, DOWN, UP

    return {"D": DOWN, "U": UP, "x": DAMPED}[move] + ACCENT


def _bars_of(pattern: StrumPattern | PickPattern, form: Form, bar: PlayedBar) -> int:
    """How many bars a pattern lasts before it repeats."""
    return bar_count(pattern.bars, pattern.step_whole, own_meter(form, bar))


def _clear(chords: Sequence[Chords], length: int) -> int | None:
    """The first bar from which a whole pattern is played as written."""
    for first in range(0, len(chords), length):
        if all(bar.plain for bar in chords[first : first + length]):
            return first
    return None
