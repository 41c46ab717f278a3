"""A bar that is wider than the page, cut in two near its middle."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from math import ceil
from typing import NamedTuple, Protocol, TypeVar

from backing.chart.records import Bar, Sign, Tab

#: Signs that stand in the middle of their bar, not at a time.
CENTERED = ("simile", "bar-rest")


class _Timed(Protocol):
    @property
    def at(self) -> Fraction: ...


Timed = TypeVar("Timed", bound=_Timed)


class _Span(NamedTuple):
    """A stretch of a bar, from `start` up to, not including, `end`."""

    start: Fraction
    end: Fraction

    def of(self, things: Sequence[Timed]) -> tuple[Timed, ...]:
        """Those that stand in it."""
        return tuple(thing for thing in things if self.start <= thing.at < self.end)


def pushed_by(bar: Bar) -> Fraction:
    """How long before a bar line the first chord of the bar after it is struck."""
    pushes = (s.whole for s in bar.signs if s.kind == "push" and s.at == bar.start)
    return next(pushes, Fraction(0))


def halves(bar: Bar) -> tuple[Bar, Bar] | None:
    """A bar cut in two near its middle; None where all of it stands at one place."""
    middle = _middle(bar)
    if middle is None:
        return None
    end = bar.start + bar.whole
    left = _piece(bar, _Span(bar.start, middle), lambda sign: sign.kind in CENTERED)
    right = _piece(bar, _Span(middle, end), lambda sign: False)
    left = left._replace(end="none", closes=False, early=pushed_by(right))
    return left, right._replace(shows_meter=False, opens=False, words=(), alike=())


def _piece(bar: Bar, span: _Span, keeps: Callable[[Sign], bool]) -> Bar:
    """What of a bar stands in a stretch of it; centered signs go where `keeps` says."""
    timed = [sign for sign in bar.signs if sign.kind not in CENTERED]
    kept = set(span.of(timed))
    return bar._replace(
        start=span.start,
        until=span.end,
        slots=span.of(bar.slots),
        signs=tuple(sign for sign in bar.signs if sign in kept or keeps(sign)),
        strokes=span.of(bar.strokes),
        tabs=tuple(tab and _tab(tab, span) for tab in bar.tabs),
    )


def _tab(tab: Tab, span: _Span) -> Tab:
    rhythm = tuple(one for one in tab.rhythm if span.start <= one[0] < span.end)
    return Tab(span.of(tab.frets), rhythm)


def _middle(bar: Bar) -> Fraction | None:
    """Where a bar may be cut: the unit of its meter, or else the place, that is nearest its middle.

    None where all of it stands at one place.
    """
    end, unit = bar.start + bar.whole, bar.meter.unit_whole
    cuts = [bar.start + unit * number for number in range(1, ceil(bar.whole / unit))]
    if not cuts:
        cuts = sorted(at for at in _places(bar) if bar.start < at < end)
    return min(cuts, key=lambda at: abs(at - bar.start - bar.whole / 2), default=None)


def _places(bar: Bar) -> set[Fraction]:
    """Every place of a bar at which something stands."""
    frets = [fret.at for tab in bar.tabs if tab for fret in tab.frets]
    slots = [slot.at for slot in bar.slots]
    signs = [sign.at for sign in bar.signs]
    return {*slots, *signs, *(stroke.at for stroke in bar.strokes), *frets}
