"""A riff's bars as tab on a chart, without what a chord's stop silences there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.chart.records import Fret, Tab
from backing.form.tab import Riff, TabNote
from backing.form.tab_cells import notes
from backing.players.chord_cues import STOPPED_WHOLE


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
    """A riff's bars, as many as have their stops in `silences`; it plays each from its start."""
    found = []
    start = Fraction(0)
    for bar, of_bar in zip(riff.bars, silences, strict=False):
        stops = () if riff.plays_through else of_bar
        end = start + bar.length_whole
        written = [note for note in notes(riff) if start <= note.start_whole < end]
        frets = [_fret(note, note.start_whole - start, transpose) for note in written]
        frets = [fret for fret in frets if not any(stop.hides(fret.at) for stop in stops)]
        found.append(Tab(tuple(frets), rhythm(frets, bar.length_whole, stops)))
        start = end
    return tuple(found)


def _fret(note: TabNote, at: Fraction, transpose: int) -> Fret:
    text = "×" if note.fret is None else str(note.fret + transpose)
    after = "b" * note.bend + "~" * note.shake
    return Fret(at, note.string, text, note.link or "", after)


def rhythm(
    frets: Sequence[Fret], whole: Fraction, silences: Sequence[Silence] = ()
) -> tuple[tuple[Fraction, Fraction, bool], ...]:
    """Each moment at which something is struck, with the time to the next; and rests."""
    starts = sorted({fret.at for fret in frets})
    if not starts or starts[0] > 0:
        starts.insert(0, Fraction(0))
    struck = {fret.at for fret in frets}
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
