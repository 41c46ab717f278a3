"""What a part's riffs must play: every number of the tab, at its time and its exact pitch.

By the rules under "Riffs" of `forms/README.md`: a riff starts with its pass and repeats through
it; a bar takes the riff's bar of the same number, so a cut starts later in the riff. A note
rings until the next event on its string, or else to the end of its pass. From the place of a
chord with a stop on, nothing is struck before the place of the next chord, and what sounds
there ends an eighth later, unless the riff plays through. What signs of the tab do to single
numbers is in `riff_strikes`. Other marks, chords and N.C. don't
affect it, but for the first chord of the next pass, which takes strings from the riff where
it comes early. A guitar that rests in a practice version is silent.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Hashable, Mapping, Sequence
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from backing.form.parts import GUITARS
from backing.form.tab import Riff
from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.moments import Moment
from backing.verify.expected.records import Band, Expected, PlayedBar, PlayedChord
from backing.verify.expected.riff_strikes import (
    Laid,
    Quiet,
    Silence,
    pitched,
    sharing,
    stops_in,
    struck,
)
from backing.verify.expected.tab import read_tab

#: How long before its place a stroke may start.
STROKE_LEAD_S = 0.05
_GUITARS = {part.name for part in GUITARS}
#: Frets count up to this one.
HIGHEST_FRET = 24


class RiffNote(NamedTuple):
    """A note of a riff.

    It sounds until one of `ends_s`: there are several where other strings sound its pitch
    meanwhile, since one channel holds one note of a pitch. A damped note is short, unless
    another string goes on sounding its pitch. A `muted` note, by the left hand or the palm, isn't
    bent. A `ghost` is much softer than `plain` notes, which are picked and aren't ghosts. `most` is
    how many notes may stand for it in a file: several strings may sound one pitch at the same
    time, each of them on another channel where it is bent or muted.
    """

    at_s: float
    pitch: int
    ends_s: tuple[float, ...]
    damped: bool = False
    bent: bool = False
    shaken: bool = False
    slides: bool = False
    most: int = 1
    ghost: bool = False
    plain: bool = False
    muted: bool = False


class RiffPass(NamedTuple):
    """A pass that plays a riff, or the part of it that a practice version plays.

    `riff` is a number that all passes with the same riff have. From `early_s` on a chord of the
    next pass may take strings from it; that is `end_s` where no chord comes early and none is
    strummed, whose stroke starts a little before its place. A moved
    riff may be some octaves higher or lower, the same in all its passes: `notes` has its notes
    by the semitones of each choice.
    """

    riff: int
    start_s: float
    end_s: float
    early_s: float
    notes: Mapping[int, tuple[RiffNote, ...]]


class ExpectedRiffs(NamedTuple):
    """A part's riffs in order of time."""

    passes: tuple[RiffPass, ...] = ()
    moments: tuple[Moment, ...] = ()


def expect_riffs(expected: Expected, part: str, clock: Clockwork) -> ExpectedRiffs:
    """Work out what a part's riffs must play in a file."""
    known: dict[Riff, int] = {}
    passes: list[RiffPass] = []
    tabs = _Tabs(_neck(expected.band, part))
    strummed = {
        chord.slot
        for played in expected.played
        for chord in played.chords
        if _plays_chords(chord, part) and "pick" not in chord.plan.parts[part].values
    }
    for played in expected.played:
        early = {
            chord.slot: chord.struck
            for chord in played.chords
            if "push" in chord.marks and _plays_chords(chord, part)
        }
        for plan, own in groupby(played.bars, key=lambda bar: bar.plan):
            riff = plan.parts[part].values.get("riff")
            # a pickup plays no riff but its own
            bars = [bar for bar in own if bar.number or plan.leads_in]
            if riff is None or not plan.parts[part].on or not bars:
                continue
            end = bars[-1].end
            places = _Place(
                known.setdefault(riff, len(known)),
                bars[0].start,
                end,
                early.get(end, end),
                part in _GUITARS and end in strummed,
            )
            silence = Silence(
                played.rests if part == expected.band.instrument.part else (),
                () if riff.plays_through else list(stops_in(played.chords, bars)),
            )
            passes.append(_timed(places, tabs.laid(riff, bars, silence), clock))
    moments = (
        Moment(note.at_s, 1 << note.pitch % 12)
        for each in passes
        for note in next(iter(each.notes.values()), ())
    )
    return ExpectedRiffs(tuple(passes), tuple(moments))


def _plays_chords(chord: PlayedChord, part: str) -> bool:
    plan = chord.plan.parts[part]
    return chord.chord is not None and plan.on and "riff" not in plan.values


class _Place(NamedTuple):
    """Where a pass plays a riff; see `RiffPass`. Places are quarters from the file's start."""

    riff: int
    start: Fraction
    end: Fraction
    early: Fraction
    before_stroke: bool


#: The notes of a pass by the semitones of each choice of octaves.
_Choices = Mapping[int, Sequence[Laid]]


def _timed(place: _Place, choices: _Choices, clock: Clockwork) -> RiffPass:
    """A pass with its times in seconds."""
    seconds = _seconds_from(place, clock)
    notes = {
        by: tuple(
            [
                RiffNote(
                    seconds(note.at),
                    note.pitch,
                    tuple([seconds(end) for end in note.ends]),
                    note.damped,
                    note.bent,
                    note.shaken,
                    note.slides,
                    note.most,
                    note.ghost,
                    note.plain,
                    note.muted,
                )
                for note in laid
            ]
        )
        for by, laid in choices.items()
    }
    start_s, end_s = clock.seconds(place.start), clock.seconds(place.end)
    early_s = clock.seconds(place.early) - STROKE_LEAD_S * place.before_stroke
    return RiffPass(place.riff, start_s, end_s, early_s, notes)


def _seconds_from(place: _Place, clock: Clockwork) -> Callable[[float], float]:
    """The times of places in a pass, which are quarters from its start."""
    start, end = float(place.start), float(place.end)
    tempo = bisect_right(clock.quarters, start)
    if tempo < len(clock.quarters) and clock.quarters[tempo] < end:
        return lambda offset: clock.seconds(start + offset)
    start_s, quarter_s = clock.seconds(start), clock.quarter_s[max(0, tempo - 1)]
    return lambda offset: start_s + offset * quarter_s


class _Neck(NamedTuple):
    """What a part plays riffs on: its strings, the highest row first, and how a version moves it.

    Open strings sound `open_up` semitones higher where they are damped, and `fret_0_up` higher at
    fret 0; the frets in the tab lie `by` lower, perhaps some `octaves` from there.
    """

    strings: tuple[int, ...]
    open_up: int
    fret_0_up: int
    by: int
    octaves: bool


def _neck(band: Band, part: str) -> _Neck:
    if part == "bass":
        up = band.bass_up
        return _Neck(band.bass_tuning[::-1], 0, up, up, up != 0)
    return _Neck(band.tuning[::-1], band.capo, band.riff_up, band.by, band.riff_octaves)


class _Tabs:
    """Riffs laid over passes, those of passes that are alike worked out once."""

    def __init__(self, neck: _Neck) -> None:
        self._neck = neck
        self._known: dict[Hashable, _Choices] = {}

    def laid(self, riff: Riff, bars: Sequence[PlayedBar], silence: Silence) -> _Choices:
        """What the bars of a pass play."""
        plan, start = bars[0].plan, bars[0].start
        inside = Quiet(
            tuple(
                (float(first - start), float(last - start))
                for first, last in silence.rests
                if last > start and first < bars[-1].end
            ),
            tuple(
                (float(at - start), float(ends - start), float(following - start))
                for at, ends, following in silence.stops
            ),
        )
        meters = tuple((bar.pattern_bar, bar.meter) for bar in bars)
        key = (id(riff), plan.transpose, plan.swing, meters, inside)
        if key not in self._known:
            neck, moved = self._neck, plan.transpose
            damped = [string + neck.open_up + moved for string in neck.strings]
            fret_0 = [string + neck.fret_0_up + moved for string in neck.strings]
            strikes = list(struck(riff, bars, inside))
            self._known[key] = {
                by: list(sharing(pitched(strikes, damped, [pitch + by for pitch in fret_0])))
                for by in self._octaves(riff)
            }
        return self._known[key]

    def _octaves(self, riff: Riff) -> Sequence[int]:
        """By how many semitones a moved riff may be off: the octaves that fit the neck."""
        if not self._neck.octaves:
            return (0,)
        by = self._neck.by
        frets = [each.fret for bar in read_tab(riff) for _, each in bar if each.fret is not None]
        low, high = (min(frets) + by, max(frets) + by) if frets else (0, 0)
        every = range(-60, 61, 12)
        return [up for up in every if low + up >= 0 and high + up <= HIGHEST_FRET]
