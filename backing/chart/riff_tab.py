"""A riff's bars as tab on a chart, without what a chord's stop silences there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import accumulate, groupby
from typing import NamedTuple

from backing.chart.records import Fret, Tab
from backing.form.tab import Riff, TabNote
from backing.form.tab_cells import letters, notes_by_bar
from backing.players.chord_cues import STOPPED_WHOLE

#: The text of a rest on a string.
REST = "r"


class Silence(NamedTuple):
    """Where a stop silences a bar, or part of it, from its bar line on.

    With `is_struck` the stop is at `start`, where what is struck sounds for an eighth.
    """

    start: Fraction
    end: Fraction
    is_struck: bool

    def hides(self, at: Fraction) -> bool:
        """Whether what is written at a place isn't played."""
        return (self.start < at or (self.start == at and not self.is_struck)) and at < self.end

    @property
    def rest_start(self) -> Fraction:
        """Where all is silent."""
        return min(self.start + STOPPED_WHOLE, self.end) if self.is_struck else self.start


def riff_bars(riff: Riff, transpose: int, silences: Sequence[Sequence[Silence]]) -> tuple[Tab, ...]:
    """A riff's bars as a section plays them, from its start until the riff has been shown whole.

    Args:
        riff: as it is written.
        transpose: by how many frets it is moved.
        silences: what stops silence in each of the section's bars.
    """
    stops = [() if riff.plays_through else of_bar for of_bar in silences]
    starts = list(accumulate((bar.length_whole for bar in riff.bars), initial=Fraction(0)))
    fingers, by_bar = letters(riff), notes_by_bar(riff)
    found = []
    for index in range(_shown(len(riff.bars), stops)):
        bar = index % len(riff.bars)
        start, end = starts[bar], starts[bar + 1]
        frets = [_fret(note, at, transpose) for at, note in by_bar[bar]]
        frets = [fret for fret in frets if not any(stop.hides(fret.at) for stop in stops[index])]
        frets = list(_with_letters(frets, start, fingers))
        if riff.rolled:
            frets = list(_rolled(frets))
        rests = [*stops[index], *_rests(frets, end - start)]
        found.append(Tab(tuple(frets), rhythm(frets, end - start, rests)))
    return tuple(found)


def _shown(length: int, stops: Sequence[Sequence[Silence]]) -> int:
    """How many bars show a riff of `length` bars, each of its bars once without a stop."""
    whole: set[int] = set()
    for index, of_bar in enumerate(stops):
        if not of_bar:
            whole.add(index % length)
        if index + 1 >= length and len(whole) == length:
            return index + 1
    return min(length, len(stops))


def _fret(note: TabNote, at: Fraction, transpose: int) -> Fret:
    if note.rests:
        return Fret(at, note.string, REST)
    text = "×" if note.fret is None else str(note.fret + transpose)
    text = f"({text})" if note.ghost else f"<{text}>" if note.harmonic else text
    after = "b" * note.bend + "~" * note.shake + "." * note.short
    return Fret(at, note.string, text, note.link or "", after, muted=note.muted)


def _with_letters(
    frets: Sequence[Fret], start: Fraction, fingers: Mapping[Fraction, str]
) -> Iterator[Fret]:
    """Numbers with the letters of the fingers that pick them, a column's at its first number."""
    for at, group in groupby(frets, key=lambda fret: fret.at):
        of_column = fingers.get(start + at, "")
        for fret in group:
            yield fret._replace(finger=of_column if fret.text != REST else "")
            of_column = of_column if fret.text == REST else ""


def _rolled(frets: Sequence[Fret]) -> Iterator[Fret]:
    """Numbers of a riff whose chords are rolled: those that are picked together, marked so."""
    for _, group in groupby(frets, key=lambda fret: fret.at):
        column = list(group)
        picked = [fret for fret in column if not fret.link and fret.text != REST]
        for fret in column:
            yield fret._replace(rolled=len(picked) > 1 and fret in picked)


def _rests(frets: Sequence[Fret], whole: Fraction) -> Iterator[Silence]:
    """Where rests silence the last string that sounds, as far as one bar tells."""
    sounding: set[int] = set()
    for at, group in groupby(frets, key=lambda fret: fret.at):
        for fret in group:
            (sounding.discard if fret.text == REST else sounding.add)(fret.string)
        if not sounding:
            yield Silence(at, whole, is_struck=False)


def rhythm(
    frets: Sequence[Fret], whole: Fraction, silences: Sequence[Silence] = ()
) -> tuple[tuple[Fraction, Fraction, bool], ...]:
    """Each moment at which something is struck, with the time to the next; and rests."""
    starts = sorted({fret.at for fret in frets if fret.text != REST})
    if not starts or starts[0] > 0:
        starts.insert(0, Fraction(0))
    struck = {fret.at for fret in frets if fret.text != REST}
    found = []
    for at, end in zip(starts, [*starts[1:], whole], strict=True):
        found += list(_until(at, end, at in struck, silences))
    return tuple(found)


def _until(
    at: Fraction, end: Fraction, is_struck: bool, silences: Sequence[Silence]
) -> Iterator[tuple[Fraction, Fraction, bool]]:
    """A moment to the next, cut in two where silence begins in between."""
    rest = min((each.rest_start for each in silences if at < each.rest_start < end), default=end)
    yield at, rest - at, is_struck
    if rest < end:
        yield rest, end - rest, False
