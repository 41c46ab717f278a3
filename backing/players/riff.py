"""Riffs from tab, as written: each note at its own cell, at its own fret, on its own string.

A riff starts with its pass and repeats through it; a bar of the section takes the riff's
bar of the same count. Frets count from the capo, raised by as much as a line of the form
transposes. A note rings until its string is struck again or the pass ends. At a chord's
`(stop)`, where it is written, what sounds is cut short, and nothing is struck until the next
chord is written, unless the riff plays through. Other marks, N.C. and changes of chord
don't affect a riff. A pickup bar has none but its own.

Hammered and pulled notes (h, p) sound without a new pick: softer, at three quarters of a
picked note's velocity (from memory: no measured figure found), and start exactly where
the note before them ends. What the fretting hand does to a note is done by bending:

- a slide (/ \\) bends the note it leaves, over its last tenth of a second or its second
  half, all the way to the note it leads to, which then sounds like a hammered one;
- a bend (b) rises a whole tone from its pick on, in 0.15 s or half of the note, and stays;
- a shake (~) begins after 0.15 s or a third of the note and wavers 30 cents up and down
  5.5 times a second. These times and widths are common practice, from memory.

What the signs of tab ask of single notes:

- a ghost note is struck at half of a picked note's velocity;
- a short one (.) sounds half as long as it is to the next number of the riff, on any string,
  or to the bar line: half of its value, as a staccato dot has it (common practice);
- a muted one, with the palm on the string, sounds a sixteenth at most (from memory);
- a natural harmonic sounds the partial that its place on the string has (`theory.harmonics`);
- a rest (r) silences its string.

In a riff whose chords are rolled, strings that are picked together start a 96th of a whole note
apart, the low one on time, but together take no more than half of the time to the next number.

A note that is hammered, pulled or slid to from one that was not played, since `bars A-B`
began after it or a chord took its string, is picked.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import cycle, groupby
from operator import attrgetter
from typing import NamedTuple

from backing.form.model import Form
from backing.form.tab import Riff, TabNote
from backing.form.tab_cells import notes_by_bar
from backing.players.chord_cues import STOPPED_WHOLE, Cue
from backing.players.part_settings import SettingsOf
from backing.players.strings import GRID, BendsOf, Gesture, Shape, Strings
from backing.score import Bend, Note
from backing.timeline import Bar, Pass, Timeline

PICKED, ON_BEAT = 84, 6
LEGATO = Fraction(3, 4)  # of a picked note's velocity
DAMPED, DAMPED_MS = 62, 90
GHOST = Fraction(1, 2)  # of a picked note's velocity
MUTED_WHOLE = Fraction(1, 16)
#: Of a picked note's velocity: at this the muted guitar starts as loud as strings that ring, within
#: 2 dB for low notes (measured in three soundfonts).
PALM = Fraction(7, 8)
ROLL_WHOLE = Fraction(1, 96)
#: Later than anything in a song.
_FAR = Fraction(10**9)

WHOLE_TONE = 2
BEND_S, SLIDE_S, BEFORE_SHAKE_S = Fraction(3, 20), Fraction(1, 10), Fraction(3, 20)
SHAKE_HZ = Fraction(11, 2)
#: A shake in cents, sixteen steps to a turn: a sine.
SHAKE_CENTS = (0, 11, 21, 28, 30, 28, 21, 11, 0, -11, -21, -28, -30, -28, -21, -11)
#: How many steps of the pitch wheel make up a bend or slide.
CURVE_STEPS = 16


class Tabbed(NamedTuple):
    """One event of a riff's tab, until when it may ring, and the fret 0 of its string.

    `place_whole` is its place in the tab, before its chord is rolled.
    """

    note: TabNote
    open_pitch: int
    until_whole: Fraction
    on_beat: bool
    place_whole: Fraction

    def strike(
        self, strings: Strings, at: Fraction, shape: Shape, units_a_second: int, room: Fraction
    ) -> None:
        """Sound it on its string; the chord and the room make no difference."""
        note, until = self.note, self.until_whole
        index = strings.count - note.string
        velocity = PICKED + ON_BEAT * self.on_beat
        if note.rests:
            strings.end(index, at)
            return
        if note.fret is None:
            damped = Fraction(max(1, DAMPED_MS * units_a_second // 1000), GRID)
            end = min(at + damped, until)
            strings.strike_in_riff(index, at, self.open_pitch, DAMPED, end, muted=True)
            return
        pitch, before = self.open_pitch + note.semitones, strings.sounding_in_riff(index, at)
        if note.ghost:
            velocity = round(velocity * GHOST)
        if note.muted:
            velocity = round(velocity * PALM)
        if note.link is not None and before is not None:
            velocity = round(velocity * LEGATO)
            if note.link in "/\\":
                strings.slide(index, pitch - before)
        gesture = Gesture(note.bend, note.shake) if note.bend or note.shake else None
        strings.strike_in_riff(index, at, pitch, velocity, until, gesture, note.muted)


def riff_cues(timeline: Timeline, settings: SettingsOf, open_strings: Sequence[int]) -> list[Cue]:
    """A riff's notes in every pass that plays one; each such pass begins with a rest.

    Args:
        open_strings: what the strings sound at fret 0, lowest row first.
    """
    found: list[Cue] = []
    form = timeline.form
    every = timeline.played if form.pickup_parts else timeline.bars
    for _, bars_of_pass in groupby(every, key=lambda bar: id(bar.playing)):
        bars = list(bars_of_pass)
        riff = written(form, settings, bars[0].playing)
        if riff is None:
            continue
        stops = () if riff.plays_through else _stops_in(timeline, bars)
        raised = bars[0].playing.transpose
        by_bar = notes_by_bar(riff)
        found.append(Cue(bars[0].start_whole, "rest"))
        for bar in bars:
            for at, tabbed in _placed(bar, by_bar[bar.pattern_bar % len(by_bar)], riff.rolled):
                stop = _next_stop(stops, tabbed.place_whole)
                if not _is_silent(stops, tabbed.place_whole):
                    end = bars[-1].end_whole if stop is None else stop.ends_whole
                    note = tabbed.note
                    stroke = tabbed._replace(
                        open_pitch=open_strings[-note.string] + raised,
                        until_whole=min(end, tabbed.until_whole),
                    )
                    found.append(Cue(at, "strike", stroke=stroke))
    return found


def _placed(
    bar: Bar, events: Sequence[tuple[Fraction, TabNote]], rolled: bool
) -> Iterator[tuple[Fraction, Tabbed]]:
    """A bar's events where they are played, each cut short by its own signs alone."""
    places = bar.places([offset for offset, _ in events])
    inside = [
        (at, offset, note)
        for at, (offset, note) in zip(places, events, strict=True)
        if offset < bar.meter.bar_whole
    ]
    moments = [(at, list(group)) for at, group in groupby(inside, key=lambda one: one[0])]
    ends = [*(at for at, _ in moments), bar.end_whole][1:]
    for (at, group), end in zip(moments, ends, strict=True):
        half = (end - at) / 2
        picked = sum(note.is_picked for _, _, note in group) if rolled else 0
        apart = min(ROLL_WHOLE, half / picked) if picked else Fraction(0)
        start = at
        for _, offset, note in group:
            own = start if note.is_picked else at
            until = at + half if note.short else _FAR
            if note.muted:
                until = min(until, own + MUTED_WHOLE)
            on_beat = offset in bar.meter.beat_starts
            yield own, Tabbed(note, 0, until, on_beat, at)
            start += apart * note.is_picked


def riff_notes(timeline: Timeline, settings: SettingsOf, open_strings: Sequence[int]) -> list[Note]:
    """What a part plays that has nothing but riffs on its strings; see `riff_cues`."""
    strings = Strings(len(open_strings), timeline.end_whole)
    for cue in riff_cues(timeline, settings, open_strings):
        if isinstance(cue.stroke, Tabbed):
            units = round(GRID / timeline.seconds_per_whole(cue.start_whole))
            cue.stroke.strike(strings, cue.start_whole, (), units, Fraction(1))
    return strings.notes(bends_of(timeline))


class _Stop(NamedTuple):
    """A chord's `(stop)`: its place, where what sounds there ends, and where the next chord is."""

    at_whole: Fraction
    ends_whole: Fraction
    next_whole: Fraction


def _stops_in(timeline: Timeline, bars: Sequence[Bar]) -> Sequence[_Stop]:
    """The stops in the bars of a pass, where they are written: a push leaves riffs alone."""
    start, end = bars[0].start_whole, bars[-1].end_whole
    spans = timeline.spans
    first = bisect_left(spans, start, key=lambda span: span.slot_whole)
    last = bisect_left(spans, end, key=lambda span: span.slot_whole)
    places = [*(span.slot_whole for span in spans[first:last]), end]
    return [
        _Stop(span.slot_whole, min(span.slot_whole + STOPPED_WHOLE, following), following)
        for span, following in zip(spans[first:last], places[1:], strict=True)
        if "stop" in span.marks
    ]


def _next_stop(stops: Sequence[_Stop], at: Fraction) -> _Stop | None:
    """The first stop at a place or after it; stops are in order of time."""
    following = bisect_left(stops, at, key=attrgetter("at_whole"))
    return stops[following] if following < len(stops) else None


def _is_silent(stops: Sequence[_Stop], at: Fraction) -> bool:
    """Whether a stop lets nothing be struck at a place; stops are in order of time."""
    following = bisect_left(stops, at, key=attrgetter("at_whole"))
    return following > 0 and at < stops[following - 1].next_whole


def written(form: Form, settings: SettingsOf, playing: Pass) -> Riff | None:
    """The riff that a pass plays, if any."""
    riff = settings(playing).riff
    if not settings(playing).on or riff is None:
        return None
    return form.riffs[riff] if isinstance(riff, str) else riff


def bends_of(timeline: Timeline) -> BendsOf:
    """How a note is bent in a song, whose tempo at the note's start is taken throughout it."""

    def bends(start: Fraction, end: Fraction, gesture: Gesture) -> tuple[Bend, ...]:
        second = GRID / timeline.seconds_per_whole(start)
        curve = _curve((end - start) * GRID, second, gesture)
        return tuple(Bend(start + offset, level) for offset, level in curve)

    return bends


@lru_cache(maxsize=256)
def _curve(
    length: Fraction, second: Fraction, gesture: Gesture
) -> tuple[tuple[Fraction, Fraction], ...]:
    """Semitones by place from a note's start."""
    return tuple(
        (Fraction(int(units), GRID), level) for units, level in _levels(length, second, gesture)
    )


def _levels(
    length: Fraction, second: Fraction, gesture: Gesture
) -> Iterator[tuple[Fraction, Fraction]]:
    """As `_curve`, with places and lengths in units of the grid."""
    level, at = Fraction(0), Fraction(0)
    leaving = length - (min(SLIDE_S * second, length / 2) if gesture.slide else 0)
    if gesture.bend:
        at = min(BEND_S * second, length / 2)
        yield from _ramp(Fraction(0), at, level, WHOLE_TONE)
        level = Fraction(WHOLE_TONE)
    if gesture.shake:
        at = max(at, min(BEFORE_SHAKE_S * second, length / 3))
        for cents in cycle(SHAKE_CENTS):
            if at >= leaving:
                break
            yield at, level + Fraction(cents, 100)
            at += second / SHAKE_HZ / len(SHAKE_CENTS)
        if gesture.slide:
            yield leaving, level
    if gesture.slide:
        yield from _ramp(leaving, length, level, gesture.slide)


def _ramp(
    start: Fraction, end: Fraction, low: Fraction, high: int
) -> Iterator[tuple[Fraction, Fraction]]:
    """Even steps from one level to another, which is reached one step before the end."""
    for step in range(1, CURVE_STEPS):
        share = Fraction(step, CURVE_STEPS - 1)
        yield start + (end - start) * step / CURVE_STEPS, low + (high - low) * share
