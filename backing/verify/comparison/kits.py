"""Which kit plays each stroke and each click, against what the form asks for.

A note that may stand for a click or for a stroke may have the kit of either one. The click is
always on the standard kit. A file that has one kit all through, or but for its first moment, where
the form asks for two or another one, has lost them: another program dropped their changes.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from typing import TypeAlias

from backing.theory.general_midi import BRUSH_KIT, STANDARD_KIT
from backing.verify.comparison.reading import Reading
from backing.verify.expected.click import ExpectedClicks
from backing.verify.expected.drums import ExpectedDrums
from backing.verify.readers.voices import Voice
from backing.verify.report import Fault, Finding

MOST_FAULTS = 20
_NAMES = {STANDARD_KIT: "the standard kit", BRUSH_KIT: "the brush set"}

#: Times in seconds in order, and the kit at each.
_Times: TypeAlias = "tuple[list[float], list[int]]"


def check_kits(
    reading: Reading,
    click: ExpectedClicks | None,
    drums: ExpectedDrums | None,
    percussion: Sequence[Voice],
) -> Iterator[Finding]:
    """Compare the kit of each note of the percussion channel, if there are other kits than one.

    What the reader can't tell isn't compared.
    """
    asked = {stroke.kit for stroke in drums.strokes} if drums else set()
    if any(voice.kits is None for voice in percussion):
        return
    rows = sorted(row for voice in percussion for row in _rows(voice))
    found = {kit for _, _, kit in rows}
    if not rows or asked | found <= {STANDARD_KIT}:
        return
    faults = list(_faults(rows, _Allowed(reading, click, drums)))
    later = {kit for at_s, _, kit in rows if at_s > rows[0][0]}
    if not faults:
        yield reading.agrees("kits", f"{len(rows):,} notes as the form asks")
    elif len(later) == 1 and later <= asked | {STANDARD_KIT}:
        yield reading.lost("kits", "kits")
    else:
        yield reading.differs("kits", faults[:MOST_FAULTS])


def _faults(rows: Iterable[tuple[float, int, int]], allowed: _Allowed) -> Iterator[Fault]:
    for at_s, pitch, kit in rows:
        kits = allowed.kits(at_s, pitch)
        if kits and kit not in kits:
            yield Fault(at_s, f"{_named(kit)} plays, not {_named(min(kits))}")


class _Allowed:
    """The kits that notes may have: each pitch's times, and the kit at each."""

    def __init__(
        self, reading: Reading, click: ExpectedClicks | None, drums: ExpectedDrums | None
    ) -> None:
        self.tolerance = reading.tolerance
        self.human_s = float(reading.expected.human_s)
        self.clicks: dict[int, list[float]] = {}
        for at_s, pitches in click.moments if click else ():
            self.clicks.setdefault(pitches.bit_length() - 1, []).append(at_s)
        self.strokes: dict[int, _Times] = {}
        for stroke in sorted(drums.strokes) if drums else ():
            times, kits = self.strokes.setdefault(stroke.drum, ([], []))
            times.append(stroke.at_s)
            kits.append(stroke.kit)
        self.free = drums.free if drums else ()

    def kits(self, at_s: float, pitch: int) -> set[int]:
        """The kits of what a note at a time may stand for; empty if it stands for nothing."""
        near = 2 * self.tolerance(at_s)
        reach = near + self.human_s
        kits = {STANDARD_KIT for _ in _between(self.clicks.get(pitch, []), at_s, near)}
        times, of_times = self.strokes.get(pitch, ([], []))
        kits |= {of_times[place] for place in _between(times, at_s, reach)}
        return kits | {
            span.kit
            for span in self.free
            if span.drums >> pitch & 1 and span.start_s - reach <= at_s <= span.end_s + reach
        }


def _rows(voice: Voice) -> Iterator[tuple[float, int, int]]:
    """Each note's start, pitch and kit."""
    kits = voice.kits or [STANDARD_KIT] * len(voice.notes.starts)
    yield from zip(voice.notes.starts, voice.notes.pitches, kits, strict=True)


def _between(times: Sequence[float], at_s: float, reach: float) -> range:
    """The places of times, in order, that are within reach of one."""
    return range(bisect_left(times, at_s - reach), bisect_right(times, at_s + reach))


def _named(kit: int) -> str:
    return _NAMES.get(kit, f"kit {kit}")
