"""The signs on the line of a bar: beats as slashes, signs for marks, and rests.

Source: the slash notation of rhythm parts (Gould, Behind Bars, 2011, from memory): a slash
for each beat; a wedge (staccatissimo) and rests for what is struck short; a diamond with an
open tie for what is struck once and rings; an eighth tied over the beat for what comes early.
The slashes and the bar repeat are those of SMuFL 1.4 (W3C), tables "Slash noteheads" and
"Bar repeats".
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from backing.chart.records import Sign
from backing.form.layout import LaidBar
from backing.timeline import PUSH_WHOLE


class _Slot(NamedTuple):
    """A slot with its end, and how it is played: `slash`, `stopped`, `ringing` or `rest`."""

    start: Fraction
    end: Fraction
    kind: str
    struck: bool
    pushed: bool


def signs(
    laid: Sequence[LaidBar], again: Sequence[bool], before: Sequence[LaidBar] = ()
) -> list[tuple[Sign, ...]]:
    """The signs of a section's bars; `again` says which are written as repeats of the one before,
    and `before` are the bars that a first slash goes on from.

    A push over a bar line belongs to the bar that it leads to.
    """
    found: list[tuple[Sign, ...]] = []
    kind = "rest"
    for bar in before:
        kind = list(_slots(bar, kind))[-1].kind
    bars: list[list[_Slot]] = []
    for bar in laid:
        slots = list(_slots(bar, kind))
        kind = slots[-1].kind
        bars.append(slots)
    for index, (bar, slots) in enumerate(zip(laid, bars, strict=True)):
        if again[index]:
            found.append((Sign(bar.meter.bar_whole / 2, "simile"),))
            continue
        then = index + 1
        then_pushed = then < len(bars) and not again[then] and bars[then][0].pushed
        found.append(tuple(_bar(bar, slots, then_pushed)))
    return found


def _slots(bar: LaidBar, before: str) -> Iterator[_Slot]:
    """A bar's slots; one that continues a chord is played like the slot before."""
    ends = [slot.start_whole for slot in bar.cells[1:]] + [bar.meter.bar_whole]
    for (start, cell), end in zip(bar.cells, ends, strict=True):
        if cell.goes_on:
            yield _Slot(start, end, before, False, False)
        elif cell.chord is None:
            yield _Slot(start, end, "rest", False, False)
        else:
            kind = next((k for m, k in _KINDS.items() if m in cell.marks), "slash")
            yield _Slot(start, end, kind, True, "push" in cell.marks)


_KINDS = {"stop": "stopped", "ring": "ringing"}


def _bar(bar: LaidBar, slots: Sequence[_Slot], then_pushed: bool) -> Iterator[Sign]:
    """A bar's signs; `then_pushed` says that the next bar's first chord is struck in this one."""
    if all(slot.kind == "rest" and not slot.struck for slot in slots):
        yield Sign(bar.meter.bar_whole / 2, "bar-rest")
        return
    pushed_after = [*(slot.pushed for slot in slots[1:]), then_pushed]
    for index, (slot, cut) in enumerate(zip(slots, pushed_after, strict=True)):
        if slot.pushed:
            # In a short chord's place the push takes half of it (as it is played).
            room = slots[index - 1].end - slots[index - 1].start if index else bar.meter.bar_whole
            yield Sign(slot.start, "push", min(PUSH_WHOLE, room / 2))
        if slot.struck:
            yield Sign(slot.start, slot.kind)
        yield from _beats(bar, slot, cut)


def _beats(bar: LaidBar, slot: _Slot, cut: bool) -> Iterator[Sign]:
    """A slot's beats after its stroke, as slashes or rests; a push cuts the last rest short."""
    beats = [
        (at, min(at + beat, slot.end))
        for at, beat in zip(bar.meter.beat_starts, bar.meter.beats, strict=True)
        if slot.start < at < slot.end or (at == slot.start and not slot.struck)
    ]
    if slot.kind == "slash":
        yield from (Sign(at, "slash") for at, _ in beats)
    elif slot.kind in ("stopped", "rest"):
        for number, (at, until) in enumerate(beats):
            early = PUSH_WHOLE if cut and number == len(beats) - 1 else 0
            if until - early > at:
                yield Sign(at, "rest", until - early - at)
