"""Part of a timeline, and a timeline at another speed.

A stretch is played as it is in its song: bars keep their numbers and their places in
patterns, riffs and ramps, and chords their shapes. A chord that goes on from the bar before is
struck again at the first bar line, and a chord that would come before that line falls on it.
Chords that come early for the bar after the stretch are left out.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

from backing.errors import BackingError
from backing.form.passes import begins
from backing.practice.versions import Stretch
from backing.score import TempoChange
from backing.text.lists import after_colon
from backing.timeline import Bar, Pass, Slot, Timeline, assemble


def bars_of(timeline: Timeline, stretch: Stretch | None) -> tuple[int, int]:
    """A stretch's first and last bar, as the song counts them.

    A section is found by its label (`Chorus 2`), by the label of one pass (`Chorus 2 (1 of
    2)`), or by its name alone: then the first line of the form that plays it counts, and for
    a stretch's end the first one from its start on. If nothing has that name, the one line
    whose label begins with it counts: `Verse 4` for `Verse 4, bars 1-4`.

    Raises:
        BackingError: the song has no such bars or sections.
    """
    count = len(timeline.bars)
    if stretch is None:
        return 1, count
    if stretch.bars is not None:
        first, last = stretch.bars
        if not 1 <= first <= last <= count:
            raise BackingError(f"{timeline.form.title}: {_why_no_bars(first, last, count)}")
        return first, last
    first, end = _section(timeline, stretch.first, 1)
    if stretch.last == stretch.first:
        return first, end
    _, last = _section(timeline, stretch.last, first)
    return first, last


def _why_no_bars(first: int, last: int, count: int) -> str:
    if first > last:
        return f"bars {first}-{last} run backward. Write the first bar, then the last."
    has = f"bars 1-{count}" if count > 1 else "one bar"
    return f"there is no bar {last if last > count else first}. The song has {has}."


def _section(timeline: Timeline, called: str, since: int) -> tuple[int, int]:
    """The first and last bar of a line of the form, or of one pass of it."""
    name = called.casefold().strip()
    ways: tuple[Callable[[Pass], bool], ...] = (
        lambda one: _line(one).casefold() == name,
        lambda one: one.label.casefold() == name,
        lambda one: one.section.casefold() == name,
    )
    for is_meant in ways:
        meant = list(_runs([bar for bar in timeline.bars if is_meant(bar.playing)]))
        for first, last in meant:
            if last >= since:
                return first, last
        if meant:
            raise _too_early(timeline, called)
    return _beginning(timeline, called, since)


def _beginning(timeline: Timeline, called: str, since: int) -> tuple[int, int]:
    """The bars of the one line whose label begins with a name: `Verse 4, bars 1-4`."""
    lines = {playing.entry: _line(playing) for playing in timeline.passes}
    meant = [entry for entry, label in lines.items() if begins(label, called)]
    if len(meant) == 1:
        runs = list(_runs([bar for bar in timeline.bars if bar.playing.entry == meant[0]]))
        for first, last in runs:
            if last >= since:
                return first, last
        raise _too_early(timeline, called)
    title = timeline.form.title
    if meant:
        head = f"{title}: {called!r} could be any of these:"
        raise BackingError(after_colon(head, dict.fromkeys(lines[entry] for entry in meant)))
    head = f"{title}: there is no section {called!r}. The song has"
    known = dict.fromkeys(lines.values())
    raise BackingError(after_colon(f"{head}:" if "," in "".join(known) else head, known))


def _too_early(timeline: Timeline, called: str) -> BackingError:
    return BackingError(
        f"{timeline.form.title}: {called!r} comes before the stretch begins. "
        "Write the earlier section first."
    )


def _runs(bars: Sequence[Bar]) -> Iterator[tuple[int, int]]:
    """The first and last of bars that follow one another in one line of the form."""
    first = None
    for bar, after in zip(bars, [*bars[1:], None], strict=False):
        first = first or bar.number
        if after is not None and _goes_on(bar, after):
            continue
        yield first, bar.number
        first = None


def _goes_on(bar: Bar, after: Bar) -> bool:
    return after.number == bar.number + 1 and after.playing.entry == bar.playing.entry


def _line(playing: Pass) -> str:
    """The label of a pass's line in the form: without the pass's number."""
    return playing.label.removesuffix(f" ({playing.number} of {playing.of})")


def stretched(timeline: Timeline, first: int, last: int) -> Timeline:
    """A song that starts with bar `first` and ends with bar `last`.

    From bar 1 it starts as the song does, with its count-in and pickup.
    """
    if (first, last) == (1, len(timeline.bars)):
        return timeline
    if first == 1:
        return _cut(timeline, 1, last)
    counted = len(timeline.count_in) if timeline.counted else 0
    return repeated(timeline, first, last, counted)


def repeated(timeline: Timeline, first: int, last: int, between: int) -> Timeline:
    """Bars `first`-`last` after `between` bars of count-in in their meter and tempo."""
    bar = timeline.bars[first - 1]
    length = bar.meter.bar_whole
    before = tuple(
        Bar(index + 1 - between, index * length, bar.meter, bar.playing, 0)
        for index in range(between)
    )
    plain = timeline
    if timeline.form.pickup is not None:
        plain = timeline._replace(form=timeline.form._replace(pickup=None))
    return _cut(plain, first, last, before)


def at_speed(timeline: Timeline, speed: Fraction) -> Timeline:
    """The same music at a share of its tempo; swing and pushes keep their written lengths."""
    if speed == 1:
        return timeline
    tempos = tuple(
        change._replace(quarter_bpm=change.quarter_bpm * speed) for change in timeline.tempos
    )
    seconds = tuple(at / speed for at in timeline.tempo_seconds)
    return timeline._replace(tempos=tempos, tempo_seconds=seconds)


def _cut(
    timeline: Timeline, first: int, last: int, before: tuple[Bar, ...] | None = None
) -> Timeline:
    """Bars `first`-`last` after the count-in `before`, or after the song's own without one."""
    bars = timeline.bars[first - 1 : last]
    start, end = bars[0].start_whole, bars[-1].end_whole
    passes = tuple({id(bar.playing): bar.playing for bar in bars}.values())
    if before is None:
        tempos = [change for change in timeline.tempos if change.start_whole < end]
        slots = _slots(timeline, Fraction(0), end)
        cut = assemble(
            timeline.form, timeline.count_in, timeline.counted, bars, passes, slots, tempos
        )
        return cut._replace(song_chords=timeline.song_chords)
    shift = (before[-1].end_whole if before else Fraction(0)) - start
    bars = tuple(bar._replace(start_whole=bar.start_whole + shift) for bar in bars)
    slots = [
        slot._replace(start_whole=slot.start_whole + shift) for slot in _slots(timeline, start, end)
    ]
    tempos = [TempoChange(Fraction(0), 240 / timeline.seconds_per_whole(start))]
    tempos += [
        change._replace(start_whole=change.start_whole + shift)
        for change in timeline.tempos
        if start < change.start_whole < end
    ]
    cut = assemble(timeline.form, before, bool(before), bars, passes, slots, tempos)
    return cut._replace(song_chords=timeline.song_chords)


def _slots(timeline: Timeline, start: Fraction, end: Fraction) -> list[Slot]:
    """The chords written from `start` to `end`; the first one is struck at `start`."""
    starts = [span.slot_whole for span in timeline.spans]
    first, last = bisect_left(starts, start), bisect_left(starts, end)
    slots = [_slot(timeline, index) for index in range(first, last)]
    if first and (not slots or slots[0].start_whole > start):
        goes_on = _slot(timeline, first - 1)
        slots.insert(0, goes_on._replace(start_whole=start, marks=goes_on.marks - {"push"}))
    return slots


def _slot(timeline: Timeline, index: int) -> Slot:
    span = timeline.spans[index]
    return Slot(span.slot_whole, span.chord, span.marks, span.playing)
