"""A guitarist: one guitar that strums, picks or plays a riff, pass by pass.

A chord is played with the writer's shape, or with one that suits the song, and sounds
`capo` semitones higher. All ways of playing share the same strings (`strings`), so
however a song changes between them, no string sounds two notes. Where a pass plays a
riff, its chords are left to the other parts. A chord with a mark is struck with a plain
downstroke or, where the pass picks, with thumb and fingers together.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from operator import attrgetter
from typing import TypeAlias

from backing.players import pick, riff, strum
from backing.players.chord_cues import Cue, chord_cues
from backing.players.part_settings import SettingsOf
from backing.players.strings import GRID, Shape, Strings, Stroke
from backing.players.tiling import Placed
from backing.score import Note, TempoChange
from backing.theory.chords import Chord
from backing.theory.fingerings import voiced
from backing.timeline import Bar, Timeline

_Cues: TypeAlias = "list[Cue]"
#: Longer than any stroke over eight strings takes.
LONGEST_STROKE_S = Fraction(strum.SLOWEST_MS * 8, 1000)


def play(timeline: Timeline, settings: SettingsOf) -> list[Note]:
    """The notes as struck; each on its string (1 the highest), one at a time on each."""
    found, picked = _cues(timeline, settings)
    shape_of = _shapes(timeline)
    speeds = deque(_speeds(timeline.tempos))
    strings = Strings(len(timeline.form.tuning), found[-1].start_whole)
    shape: Shape = ()
    arm = _Arm(timeline)
    for cue, following in pairwise(
        found
    ):  # the last is the song's end, where strings end by themselves
        at = cue.start_whole
        arm.come_to(cue)
        while len(speeds) > 1 and speeds[1][0] <= at:
            speeds.popleft()
        if cue.chord is not None:
            shape = shape_of(cue.chord)
        if cue.action == "rest":
            strings.rest(at)
        elif cue.action == "change":
            strings.change(at, shape)
        else:
            stroke = cue.stroke or (pick.MARKED if at in picked else strum.MARKED)
            room = min(following.start_whole - at, arm.waited(at))
            arm.ready(stroke).strike(strings, at, shape, speeds[0][1], room)
    return strings.notes(riff.bends_of(timeline))


class _Arm:
    """What a stroke goes by that depends on what came before it.

    A chord's first downstroke in a bar is a full one. What starts a chord has all the strings of
    its kind.
    """

    def __init__(self, timeline: Timeline) -> None:
        self._bars = deque(bar.start_whole for bar in timeline.played)
        self._is_full = self._is_first = self._is_fresh = True
        self._here = self._before = Fraction(-1)

    def come_to(self, cue: Cue) -> None:
        """Go on to a cue."""
        at = cue.start_whole
        if at > self._here:
            self._here, self._before = at, self._here
        while self._bars and self._bars[0] <= at:
            self._bars.popleft()
            self._is_full = True
        if cue.action == "change":
            self._is_full = self._is_first = True
        elif cue.action == "rest":
            self._is_fresh = True

    def waited(self, at: Fraction) -> Fraction:
        """How long ago something was done before a place."""
        return at - self._before

    def ready(self, stroke: Stroke) -> Stroke:
        """A stroke as it is played here; others than a strum's are left as they are."""
        if isinstance(stroke, strum.Stroke):
            is_down = stroke.move == "D"
            stroke = stroke._replace(
                full=is_down and self._is_full,
                free=stroke.move != "x" and not self._is_first and not (is_down and self._is_full),
                fresh=self._is_fresh,
            )
            self._is_full = self._is_full and not is_down
        self._is_first = self._is_fresh = False
        return stroke


def _cues(timeline: Timeline, settings: SettingsOf) -> tuple[_Cues, frozenset[Fraction]]:
    """What the guitarist does, in order, and where chords start in passes that pick."""
    form = timeline.form
    of_riff = {
        id(playing)
        for playing in (*timeline.passes, timeline.played[0].playing)
        if riff.written(form, settings, playing) is not None
    }
    chordal = tuple(span for span in timeline.spans if id(span.playing) not in of_riff)
    found: _Cues = chord_cues(
        timeline._replace(spans=chordal) if of_riff else timeline,
        settings,
        _strokes(timeline, settings),
        is_short=lambda stroke: isinstance(stroke, strum.Stroke | strum.Thumb) and stroke.short,
    )
    if of_riff:
        tabbed = riff.riff_cues(timeline, settings, form.strings_of("guitar"))
        found = [*sorted([*found[:-1], *tabbed], key=attrgetter("start_whole")), found[-1]]
    picked = frozenset(
        span.start_whole for span in chordal if settings(span.playing).pick is not None
    )
    return found, picked


def _strokes(timeline: Timeline, settings: SettingsOf) -> Callable[[Bar], Placed[Stroke]]:
    strummed = strum.strokes(timeline.form, settings)
    plucked = pick.plucks(timeline.form, settings)

    def of_bar(bar: Bar) -> Placed[Stroke]:
        part = settings(bar.playing)
        if part.riff is not None:
            return ()
        return strummed(bar) if part.pick is None else plucked(bar)

    return of_bar


def _speeds(tempos: Sequence[TempoChange]) -> Iterator[tuple[Fraction, int]]:
    """How many places of the strings' grid a second has, and from where on a stroke counts by it.

    A stroke just before a slower tempo is already played at that one's speed, so that its strings
    don't drag when the tempo changes amid them.
    """
    before = tempos[0]
    for change in tempos:
        start, quarter_bpm = change
        if quarter_bpm < before.quarter_bpm:
            stroke_whole = LONGEST_STROKE_S * before.quarter_bpm / 240
            start = max(start - stroke_whole, before.start_whole)
        yield start, round(GRID * quarter_bpm / 240)
        before = change


def _shapes(timeline: Timeline) -> Callable[[Chord], Shape]:
    """Each chord's sounding strings: the writer's shape first, then one that suits the song.

    A stretch has the song's shapes, so that it is practiced as the song and its chart have it.
    """
    form, chords = timeline.form, timeline.song_chords
    fingerings = voiced(chords, form.tuning, form.shapes, form.voicing)
    return {
        chord: fingering.pitches(form.tuning, form.capo)
        for chord, fingering in dict(zip(chords, fingerings, strict=True)).items()
    }.__getitem__
