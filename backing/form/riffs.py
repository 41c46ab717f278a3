"""Whether riffs fit the bars and the neck that each line of the form plays them on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from backing.form.layout import LaidBar, lay_out
from backing.form.model import Entry, PartSettings, Section, Settings
from backing.form.passes import (
    ending_of,
    pass_rows,
    pass_settings,
    passes_played,
    set_by_pass,
    varied_passes,
)
from backing.form.tab import Riff, TabBar
from backing.form.tab_cells import fixed_by, span
from backing.theory.fretboard import Neck
from backing.theory.rhythm import COMMON_TIME, Meter, note_value_text


class RiffProblem(NamedTuple):
    """What is wrong with a line, how to fix it, and which key of the line is at fault, if any."""

    message: str
    fix: str
    key: str | None = None


class RiffCheck:
    """Checks a song's lines: `riffs` are its named ones, `song` its own settings.

    `neck_of` tells what a part's riffs are played on.
    """

    def __init__(
        self, riffs: Mapping[str, Riff], song: Settings, neck_of: Callable[[str], Neck]
    ) -> None:
        self.riffs = riffs
        self.neck_of = neck_of
        self.song = song
        self.laid: dict[tuple[str, int | None, int | None, Meter], tuple[LaidBar, ...]] = {}

    def problems(self, entry: Entry, section: Section) -> Iterator[RiffProblem]:
        """The first problem of each riff in each kind of pass that a line plays."""
        written = (self.song, section.settings, entry.settings)
        own = varied_passes(entry, section)
        varied = [
            level.on_pass[number].settings
            for level in (section, entry)
            for number in own
            if number in level.on_pass
        ]
        if not any(
            part.riff for each in (*written, *varied) for part in each.arranged_parts.values()
        ):
            return
        with_endings = min(max(section.endings, default=1), passes_played(entry, section))
        for number in sorted({*range(1, with_endings + 1), *own}):
            settings = pass_settings(self.song, entry, section, number)
            for name, part in settings.parts.items():
                riff = self._riff(part)
                if riff is None:
                    continue
                called = f"the riff {part.riff}" if isinstance(part.riff, str) else f"{name}'s riff"
                problem = self._fit_advice(riff, called, entry, section, number, settings.meter)
                problem = problem or _off_the_neck(
                    riff, called, entry.transpose, self.neck_of(name)
                )
                if problem is not None:
                    yield problem

    def _riff(self, part: PartSettings) -> Riff | None:
        """The riff that a part plays; None where it is off, plays none, or its name is unknown."""
        if part.on is False or part.riff is None:
            return None
        return self.riffs.get(part.riff) if isinstance(part.riff, str) else part.riff

    def _fit_advice(
        self,
        riff: Riff,
        called: str,
        entry: Entry,
        section: Section,
        number: int,
        meter: Meter | None,
    ) -> RiffProblem | None:
        """The first bar played that is longer or shorter than the riff's bar there."""
        ending = ending_of(entry, section, number)
        meter = meter or COMMON_TIME
        changes = set_by_pass(entry, section, number)
        rows_at = id(changes.rows) if changes is not None and changes.rows is not None else None
        key = (section.name, ending, rows_at, meter)
        if key not in self.laid:
            rows = pass_rows(entry, section, number)
            self.laid[key] = lay_out([bar for row in rows for bar in row], meter)
        first, last = entry.bars or (1, len(self.laid[key]))
        for bar in range(first, last + 1):
            of_riff = (bar - 1) % len(riff.bars)
            tab, own = riff.bars[of_riff], self.laid[key][bar - 1].meter
            if tab.length_whole != own.bar_whole:
                what = (
                    f"bar {bar} of {section.name} is in {own}, but bar {of_riff + 1} of "
                    f"{called} has {len(tab.rows[0])} cells of {note_value_text(tab.step_whole)}."
                )
                return RiffProblem(what, _fix_for(tab, own))
        return None


def pickup_problem(
    riff: Riff, called: str, meter: Meter, transpose: int, neck: Neck
) -> RiffProblem | None:
    """Why a riff can't be played in a pickup of this meter, before a line that transposes."""
    if len(riff.bars) != 1:
        what = f"a pickup is one bar, but {called} has {len(riff.bars)}."
        return RiffProblem(what, "Write a riff of one bar.")
    tab = riff.bars[0]
    if tab.length_whole != meter.bar_whole:
        cells = f"{len(tab.rows[0])} cells of {note_value_text(tab.step_whole)}"
        what = f"the pickup is in {meter}, but {called} has {cells}."
        return RiffProblem(what, _fix_for(tab, meter))
    return _off_the_neck(riff, called, transpose, neck)


def _fix_for(tab: TabBar, meter: Meter) -> str:
    cells = meter.bar_whole / tab.step_whole
    if cells.denominator == 1:
        return f"Give that bar of the tab {cells} cells, or have the section play another riff."
    return "Set another step in that bar of the tab, or have the section play another riff."


def _off_the_neck(riff: Riff, called: str, transpose: int, neck: Neck) -> RiffProblem | None:
    """A riff that a line's `transpose` takes off the neck, or that can't be moved at all."""
    if not transpose:
        return None
    fixed = fixed_by(riff, neck)
    if fixed:
        what = f"{called} has {fixed}, so it can't be transposed."
        return RiffProblem(what, "Play another riff here, or turn the part off.", "transpose")
    low, high = span(riff)
    if low + transpose < 0:
        what = f"{called} goes down to fret {low}, so it can't be transposed by {transpose}."
    elif high + transpose > neck.frets:
        what = f"{called} goes up to fret {high}, so it can't be transposed by +{transpose}."
    else:
        return None
    fix = f"Transpose it by {-low:+d} to {neck.frets - high:+d}, or turn the part off here."
    return RiffProblem(what, fix, "transpose")
