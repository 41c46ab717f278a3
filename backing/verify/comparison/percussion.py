"""The click and the drums, which share a channel, against what they must play.

Each note of the channel stands for one click or one stroke, and must stand for one: what is
neither is a fault. Where a click and a stroke are the same sound and fall on the same tick, or
one tick apart, a file has one note for both.

A drummer's time strays in the same way for all drums. So a click can only stand for a missing
stroke where other strokes of that moment are as exact as the click.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from backing.theory.general_midi import CLICK_SOUNDS, PERCUSSION
from backing.verify.comparison.leeway import Leeway, PartCheck
from backing.verify.expected.click import ExpectedClicks
from backing.verify.expected.drums import ExpectedDrums, FreeSpan, Stroke
from backing.verify.readers.voices import Notes
from backing.verify.report import Fault

#: Faults of a part that are kept.
MOST_FAULTS = 20
#: A drum isn't struck again sooner than this where the drummer chooses, in seconds.
AGAIN_S = 0.008
#: A click's note may be a tick off for a stroke that it stands for, and so may the strokes of
#: that moment: in tolerances, each of at least half a tick.
NEAR = 4
#: The sounds that a click may have.
CLICKS = frozenset(pitch for sound in CLICK_SOUNDS.values() for pitch in sound)


def check_percussion(
    click: ExpectedClicks | None, drums: ExpectedDrums | None, notes: Notes, leeway: Leeway
) -> list[PartCheck]:
    """Compare all percussion notes with what the click and the drums must play.

    Without expected drums there is a check of them only if the file has some.
    """
    comparison = _Comparison(notes, leeway)
    if click is not None:
        comparison.check_clicks(click)
    if drums is not None:
        comparison.check_strokes(drums)
        comparison.check_free(drums.free)
    comparison.check_rest(click, drums)
    checks = []
    if click is not None:
        checks.append(comparison.clicks.check(click.part, len(click.moments), "clicks"))
    strokes = 0 if drums is None else len(drums.strokes)
    if drums is not None or comparison.strokes.notes:
        checks.append(comparison.strokes.check("drums", strokes, "strokes"))
    return checks


class _Tally:
    """What was found about a part."""

    def __init__(self) -> None:
        self.notes = 0
        self.worst_s = 0.0
        self.faults: list[Fault] = []

    def check(self, part: str, moments: int, unit: str) -> PartCheck:
        faults = tuple(sorted(self.faults)[:MOST_FAULTS])
        return PartCheck(part, moments, unit, self.notes, faults, self.worst_s)


class _Comparison:
    """The notes of a file, taken one after another by what they stand for.

    `left` has the notes of each pitch that nothing has taken, in order of time.
    """

    def __init__(self, notes: Notes, leeway: Leeway) -> None:
        self.leeway = leeway
        self.left: dict[int, list[float]] = {}
        for start, pitch in zip(notes.starts, notes.pitches, strict=True):
            self.left.setdefault(pitch, []).append(start)
        self.clicks, self.strokes = _Tally(), _Tally()
        self.clicked: dict[int, list[float]] = {}

    def check_clicks(self, click: ExpectedClicks) -> None:
        """Take a note for each click, at its exact time."""
        by_pitch: dict[int, list[float]] = {}
        for at_s, pitches in click.moments:
            by_pitch.setdefault(pitches.bit_length() - 1, []).append(at_s)
        for pitch, times in by_pitch.items():
            taken, missing = self._take(pitch, times, 0.0, self.clicks)
            self.clicked[pitch] = [start for start in taken if start is not None]
            self.clicks.faults += [Fault(times[index], "no click") for index in missing]

    def check_strokes(self, drums: ExpectedDrums) -> None:
        """Take a note for each stroke, as far from its time as a player may stray."""
        by_drum: dict[int, list[Stroke]] = {}
        for stroke in drums.strokes:
            by_drum.setdefault(stroke.drum, []).append(stroke)
        missing: list[Stroke] = []
        strays: dict[float, float] = {}
        for drum, strokes in by_drum.items():
            times = [stroke.at_s for stroke in strokes]
            taken, without = self._take(drum, times, self.leeway.human_s, self.strokes)
            missing += [strokes[index] for index in without]
            for at_s, start in zip(times, taken, strict=True):
                if start is not None:
                    strays[at_s] = start - at_s
        for stroke in sorted(missing):
            if not self._is_clicked(stroke, strays):
                self.strokes.faults.append(
                    Fault(stroke.at_s, f"no stroke on {_named(stroke.drum)}")
                )

    def _is_clicked(self, stroke: Stroke, strays: dict[float, float]) -> bool:
        """Whether a click's note stands for a stroke, too."""
        tolerance = self.leeway.tolerance(stroke.at_s)
        reach = self.leeway.human_s + NEAR * tolerance
        stray = strays.get(stroke.at_s)
        at_s = stroke.at_s
        if stray is not None:
            at_s, reach = at_s + stray, NEAR * tolerance
        is_there = _is_near(self.clicked.get(stroke.drum, ()), at_s, reach)
        self.strokes.notes += is_there
        return is_there

    def _take(
        self, pitch: int, times: Sequence[float], human_s: float, tally: _Tally
    ) -> tuple[list[float | None], list[int]]:
        """Take the notes of a pitch that are near enough to times, each once and in order.

        Returns:
            The start of the note of each time, or None, and the indices of those without one.
        """
        starts = self.left.get(pitch, [])
        taken: list[float | None] = []
        missing: list[int] = []
        rest: list[float] = []
        at, count, worst = 0, len(starts), tally.worst_s
        for index, time in enumerate(times):
            while True:
                if at == count:
                    taken.append(None)
                    missing.append(index)
                    break
                off = starts[at] - time
                beyond = abs(off) - human_s
                if beyond <= 0.0 or beyond <= self.leeway.tolerance(time):
                    worst = max(worst, beyond)
                    taken.append(starts[at])
                    at += 1
                    break
                if off > 0:
                    taken.append(None)
                    missing.append(index)
                    break
                rest.append(starts[at])
                at += 1
        self.left[pitch] = rest + list(starts[at:])
        tally.notes += len(times) - len(missing)
        tally.worst_s = worst
        return taken, missing

    def check_free(self, free: Sequence[FreeSpan]) -> None:
        """Take what the drummer chose to strike where the choice is free."""
        for span in free:
            before = self.leeway.tolerance(span.start_s) + self.leeway.human_s
            after = self.leeway.tolerance(span.end_s) + self.leeway.human_s
            for pitch, starts in self.left.items():
                if not span.drums >> pitch & 1:
                    continue
                first = bisect_left(starts, span.start_s - before)
                end = bisect_right(starts, span.end_s + after)
                chosen: list[float] = []
                again: list[float] = []
                for start in starts[first:end]:
                    (again if chosen and start - chosen[-1] < AGAIN_S else chosen).append(start)
                self.left[pitch] = [*starts[:first], *again, *starts[end:]]
                self.strokes.notes += len(chosen)

    def check_rest(self, click: ExpectedClicks | None, drums: ExpectedDrums | None) -> None:
        """Every note that nothing has taken is a fault, of the click if it sounds like one."""
        sounds = set() if click is None else {bits.bit_length() - 1 for _, bits in click.moments}
        struck = set() if drums is None else {stroke.drum for stroke in drums.strokes}
        for pitch, starts in self.left.items():
            is_click = pitch in (sounds or CLICKS) and pitch not in struck and click is not None
            tally = self.clicks if is_click else self.strokes
            tally.notes += len(starts)
            tally.faults += [
                Fault(start, f"a click ({_named(pitch)}) where there should be none")
                if is_click
                else Fault(start, _too_many(start, pitch, drums))
                for start in starts
            ]


def _too_many(start: float, pitch: int, drums: ExpectedDrums | None) -> str:
    """What a stroke is that nobody expects."""
    if drums is None or not drums.strokes:
        return f"a stroke on {_named(pitch)}, but the drums don't play"
    waits = drums.waits
    index = bisect_right(waits, (start, start)) - 1
    if index >= 0 and start < waits[index][1]:
        return f"a stroke on {_named(pitch)} where the drums wait for the next chord"
    return f"a stroke on {_named(pitch)} where there should be none"


def _is_near(starts: Sequence[float], at_s: float, reach: float) -> bool:
    """Whether any of several starts, in order, is within reach of a time."""
    index = bisect_left(starts, at_s - reach)
    return index < len(starts) and starts[index] <= at_s + reach


def _named(pitch: int) -> str:
    """A drum in words."""
    name = PERCUSSION.get(pitch)
    return f"the {name.lower()}" if name else f"percussion note {pitch}"
