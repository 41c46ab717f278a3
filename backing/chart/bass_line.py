"""A bass student's line as tab: what the bass plays in every bar of a section, string by string.

Notes stand where they are written: swing changes nothing on paper, and a chord that comes early
stands in the bar before, with its fret in parentheses where it is held.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from backing.chart.records import Fret, Tab
from backing.form.model import Feel, Form, PassSettings, Settings
from backing.form.parts import PARTS
from backing.players.bass import places_of, play
from backing.players.part_settings import settings_of
from backing.players.riff import written
from backing.score import Note
from backing.timeline import Bar, unroll

BASS = PARTS["bass"]
Rhythm = tuple[tuple[Fraction, Fraction, bool], ...]


class BassLines:
    """What the bass plays in the bars of a song's sections, riffs excepted."""

    def __init__(self, form: Form) -> None:
        timeline = unroll(_straight(form))
        self.settings = settings_of(BASS.name, BASS.on)
        line = [note for note in play(timeline, self.settings) if note.string is None]
        self.held = list(zip(line, places_of(line, form), strict=True))
        self.strings = len(form.bass_tuning)
        self.bars: dict[tuple[str, int, int], Bar] = {}
        for bar in timeline.bars:
            playing = bar.playing
            key = (playing.section, playing.transpose, bar.pattern_bar)
            if written(form, self.settings, playing) is None:
                self.bars.setdefault(key, bar)

    def tabs(self, section: str, transpose: int, count: int) -> dict[int, Tab]:
        """A section's bars with tab, by their places in it, as they are first played."""
        found = {}
        for index in range(count):
            bar = self.bars.get((section, transpose, index))
            if bar is not None and (tab := self._tab(bar)).frets:
                found[index] = tab
        return found

    def _tab(self, bar: Bar) -> Tab:
        first = bisect_right(self.held, bar.start_whole, key=lambda held: held[0].end_whole)
        end = bisect_left(self.held, bar.end_whole, key=lambda held: held[0].start_whole)
        here = self.held[first:end]  # the notes of a line come one at a time
        frets = tuple(
            Fret(
                max(Fraction(0), note.start_whole - bar.start_whole),
                self.strings - place.string,
                f"({place.fret})" if note.start_whole < bar.start_whole else str(place.fret),
                held=note.start_whole < bar.start_whole,
            )
            for note, place in here
        )
        return Tab(frets, tuple(_rhythm(bar, [note for note, _ in here])))


def _rhythm(bar: Bar, notes: Sequence[Note]) -> Iterator[tuple[Fraction, Fraction, bool]]:
    """A bar's notes and rests: where each starts, how long it lasts, whether it sounds."""
    at = bar.start_whole
    for note in notes:
        start, end = max(at, note.start_whole), min(bar.end_whole, note.end_whole)
        if start > at:
            yield at - bar.start_whole, start - at, False
        if end > start:
            yield start - bar.start_whole, end - start, True
        at = max(at, end)
    if at < bar.end_whole:
        yield at - bar.start_whole, bar.end_whole - at, False


def _straight(form: Form) -> Form:
    """A form without swing."""
    from dataclasses import replace

    def passes(own: Mapping[int, PassSettings]) -> dict[int, PassSettings]:
        return {n: each._replace(settings=_without_swing(each.settings)) for n, each in own.items()}

    return form._replace(
        settings=_without_swing(form.settings),
        sections={
            name: replace(
                section,
                settings=_without_swing(section.settings),
                on_pass=passes(section.on_pass),
            )
            for name, section in form.sections.items()
        },
        entries=tuple(
            entry._replace(settings=_without_swing(entry.settings), on_pass=passes(entry.on_pass))
            for entry in form.entries
        ),
    )


def _without_swing(settings: Settings) -> Settings:
    return settings if settings.feel is None else settings._replace(feel=Feel())
