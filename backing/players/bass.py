"""The bass: each chord's root, or the note after its slash, low on the neck or, in a walk, halfway.

Every line strikes that note where a chord starts. `roots` holds it and strikes it again at
each bar line; `beats` strikes it on each beat. `root-fifth` plays it at the start of a bar
and the fifth halfway (4/4, 6/8), on the third beat of three, or where a later group
starts, with the fifth below the root if the range allows; a bar of one beat, or felt in
one (3/8), has the root alone. Where the chord changes after a fifth, the last beat before the
change is a passing note or, if the fifth has that beat alone, its second half (its last eighth in
6/8): unless it would be shorter than `SHORTEST_PASSING_S` at the pass's tempo, the next chord is
pushed, or its bass is the same. `walking` plays a note on each beat, in a register of its own (see
`bass_pitches`), and leads into the next chord where that sounds, pushed or not (see `walking`).
A written line plays its degrees (see `degrees`); its 1 and 8 are the slash bass if there is one.
For marks, N.C. and silent sections, see `chord_cues`. In passes that play a riff the chords are
left to the other parts; a chord that is pushed into the end of a riff ends what sounds there.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise, zip_longest
from operator import attrgetter
from typing import NamedTuple

from backing.form.model import Form
from backing.form.parts import LINE
from backing.form.pattern_records import BassPattern
from backing.players.bass_pitches import (
    Range,
    Step,
    Walk,
    harmony_of,
    nearest,
    other_octave,
    passes_to,
    passing_pitch,
    range_of,
    tone_pitch,
    walked,
    walking_home,
)
from backing.players.chord_cues import Cue, chord_cues
from backing.players.part_settings import SettingsOf
from backing.players.riff import riff_notes, written
from backing.players.tiling import Placed, bar_steps, own_meter
from backing.score import Note
from backing.theory.bass_lines import (
    BASS_LINES,
    FIFTH,
    PASSING,
    ROOT,
    SHORTEST_PASSING_S,
    WALK,
)
from backing.theory.bass_positions import Place, places
from backing.theory.chords import Chord
from backing.theory.rhythm import Meter
from backing.timeline import Bar, Pass, Span, Timeline

DEFAULT_LINE = "roots"

STRONG, WEAK = 92, 80
WALKING, WALKING_WEAK = 88, 84
#: After a walk of so many notes the same bass may come in its other octave.
LONG_WALK = 4


class _Pluck(NamedTuple):
    """A note to play: root, fifth, passing note, a step of a walk, or a degree as written."""

    tone: str
    velocity: int
    strong: bool = False
    opens_bar: bool = False


@dataclass(slots=True)
class _Phrase:
    """A chord's plucks in order, the first where it starts. It `leads_on` unless a rest follows.

    In a walking line it `walks`, even if it has time for one note only. It `is_pushed` if it comes
    early.
    """

    chord: Chord
    walks: bool
    is_pushed: bool
    starts: list[Fraction] = field(default_factory=list)
    plucks: list[_Pluck] = field(default_factory=list)
    end_whole: Fraction = Fraction(0)
    leads_on: bool = False


_START = _Pluck(ROOT, STRONG, strong=True)


def play(timeline: Timeline, settings: SettingsOf) -> list[Note]:
    """The bass's notes in order, a line's one at a time, `capo` semitones above what is written."""
    form = timeline.form
    of_riff = {
        id(bar.playing)
        for bar in timeline.played
        if written(form, settings, bar.playing) is not None
    }
    if not of_riff:
        return _line(timeline, settings, timeline.spans)
    chords = tuple(span for span in timeline.spans if id(span.playing) not in of_riff)
    line = _line(timeline, settings, chords)
    riffs = riff_notes(timeline, settings, form.strings_of("bass"))
    pushed = [
        span.start_whole
        for span in chords
        if span.start_whole < span.slot_whole and span.chord and settings(span.playing).on
    ]
    cut = [_ended_at(note, pushed) for note in riffs]
    return sorted([*line, *cut], key=attrgetter("start_whole"))


def places_of(line: Sequence[Note], form: Form) -> tuple[Place, ...]:
    """Where a bass student holds each note of a line."""
    pitches = [note.pitch for note in line]
    return places(pitches, form.bass_tuning, form.instrument.frets, form.instrument.reach)


def _ended_at(note: Note, places: Sequence[Fraction]) -> Note:
    """A note of a riff, which ends where a chord of the next pass comes early."""
    at = bisect_right(places, note.start_whole)
    if at == len(places) or places[at] >= note.end_whole:
        return note
    bends = tuple(bend for bend in note.bends if bend.start_whole < places[at])
    return note._replace(end_whole=places[at], bends=bends)


def _line(timeline: Timeline, settings: SettingsOf, spans: tuple[Span, ...]) -> list[Note]:
    """The line over these chords; at a riff's first bar it rests."""
    form, reach = timeline.form, range_of(timeline.form.bass_tuning)
    cues = chord_cues(
        timeline._replace(spans=spans),
        settings,
        lambda bar: _plucks(bar, form, settings),
        strike_changes=True,
    )
    if len(spans) < len(timeline.spans):
        rests = (Cue(at, "rest") for at in _riff_starts(timeline, settings))
        cues = [*sorted([*cues[:-1], *rests], key=attrgetter("start_whole")), cues[-1]]
    phrases = _phrases(cues, spans, settings)
    homes = list(_homes(phrases, form.capo, reach))
    notes: list[Note] = []
    for phrase, pitches in zip(phrases, _pitches(phrases, homes, form.capo, reach), strict=True):
        ends = [*phrase.starts[1:], phrase.end_whole]
        for start, end, pitch, pluck in zip(
            phrase.starts, ends, pitches, phrase.plucks, strict=True
        ):
            notes.append(Note(start, end, pitch, pluck.velocity))
    return notes


def _riff_starts(timeline: Timeline, settings: SettingsOf) -> Iterator[Fraction]:
    """The bar lines where passes with a riff start."""
    before = None
    for bar in timeline.played:
        if bar.playing is not before and written(timeline.form, settings, bar.playing):
            yield bar.start_whole
        before = bar.playing


def _phrases(found: Sequence[Cue], spans: Sequence[Span], settings: SettingsOf) -> list[_Phrase]:
    by_start = {span.start_whole: span for span in spans}
    phrases: list[_Phrase] = []
    sounding = False
    for cue in found:
        if cue.action == "strike":
            phrases[-1].starts.append(cue.start_whole)
            phrases[-1].plucks.append(cue.stroke or _START)
            continue
        if sounding:
            phrases[-1].end_whole = cue.start_whole
            phrases[-1].leads_on = cue.action == "change"
        sounding = cue.chord is not None
        if cue.chord is not None:
            span = by_start[cue.start_whole]
            walks = _line_of(span.playing, settings) == "walking"
            phrases.append(_Phrase(cue.chord, walks, span.start_whole < span.slot_whole))
    for phrase, following in zip_longest(phrases, phrases[1:]):
        _keep_passing(phrase, following)
    return phrases


def _keep_passing(phrase: _Phrase, following: _Phrase | None) -> None:
    """Leave out a phrase's passing notes, but for one after the fifth that leads to a new bass."""
    *_, before, last = _START, _START, *phrase.plucks
    leads = (
        (before.tone, last.tone) == (FIFTH, PASSING)
        and phrase.leads_on
        and following is not None
        and not following.is_pushed
        and passes_to(phrase.chord, following.chord)
    )
    end = len(phrase.plucks) - 1
    kept = [
        index
        for index, pluck in enumerate(phrase.plucks)
        if pluck.tone != PASSING or (leads and index == end)
    ]
    phrase.starts = [phrase.starts[index] for index in kept]
    phrase.plucks = [phrase.plucks[index] for index in kept]


# Which pitches.


def _homes(phrases: Sequence[_Phrase], capo: int, reach: Range) -> Iterator[int]:
    """The pitch of each chord's bass where the chord starts.

    A walk follows the bass before it; other lines follow one another, as low as without walks.
    The same note again after four notes of a walk or more comes in its other octave.
    """
    low: int | None = None
    home: int | None = None
    walked_on = False
    for phrase in phrases:
        pitch_class = (phrase.chord.bass_class + capo) % 12
        if phrase.walks:
            before, home = home, walking_home(pitch_class, home, reach)
            if walked_on and home == before:
                home = other_octave(home, reach)
        else:
            low = home = nearest(pitch_class, low, _range_for(phrase, reach))
        walked_on = phrase.walks and phrase.leads_on and len(phrase.plucks) >= LONG_WALK
        yield home


def _range_for(phrase: _Phrase, reach: Range) -> Range:
    """Where a chord's bass may be: a written line has room for an octave above it."""
    is_written = any(pluck.tone not in (ROOT, FIFTH, PASSING) for pluck in phrase.plucks)
    return reach._replace(highest=reach.highest_home) if is_written else reach


def _pitches(
    phrases: Sequence[_Phrase], homes: Sequence[int], capo: int, reach: Range
) -> Iterator[list[int]]:
    """Each chord's notes. A change that comes again is walked in another way."""
    heard: Counter[tuple[Chord, Chord | None]] = Counter()
    for index, (phrase, home) in enumerate(zip(phrases, homes, strict=True)):
        following = phrases[index + 1].chord if phrase.leads_on else None
        target = homes[index + 1] if phrase.leads_on else None
        if not phrase.walks:
            pitches = [
                tone_pitch(pluck.tone, phrase.chord, home, capo, reach)
                for pluck in phrase.plucks
                if pluck.tone != PASSING
            ]
            if len(pitches) < len(phrase.plucks) and following is not None and target is not None:
                pitches.append(passing_pitch(phrase.chord, following, pitches[-1], target, reach))
            yield pitches
            continue
        change = phrase.chord, following
        walk = Walk(
            phrase.chord,
            [Step(pluck.strong, pluck.opens_bar) for pluck in phrase.plucks],
            home,
            target,
            harmony_of(following or phrase.chord, capo).scale,
            index + heard[change],
        )
        heard[change] += 1
        yield walked(walk, capo, reach)


# Which beats.


def _line_of(playing: Pass, settings: SettingsOf) -> str | BassPattern:
    return LINE.of(settings(playing)) or DEFAULT_LINE


def _plucks(bar: Bar, form: Form, settings: SettingsOf) -> Placed[_Pluck]:
    if written(form, settings, bar.playing) is not None:
        return ()
    line = _line_of(bar.playing, settings)
    if not isinstance(line, BassPattern):
        return _built_in(line, bar.meter, bar.playing.quarter_bpm)
    starts = bar.meter.beat_starts
    return tuple(
        (at, _Pluck(degree, STRONG if at in starts else WEAK))
        for at, degree in bar_steps(line.bars, line.step_whole, bar, own_meter(form, bar))
        if degree != "-"
    )


@lru_cache(maxsize=128)
def _built_in(name: str, meter: Meter, quarter_bpm: Fraction) -> Placed[_Pluck]:
    """A bar of a built-in line in any meter, with every passing note that the tempo allows."""
    places, tones = BASS_LINES[name]
    strong = _strong_beats(meter)
    beats: Sequence[int] = {
        "bar line": (0,),
        "strong beats": _strong_or_last(meter, strong),
        "beats": range(len(meter.beats)),
    }[places]
    plucks: list[tuple[Fraction, _Pluck]] = []
    for turn, (beat, then) in enumerate(pairwise([*beats, len(meter.beats)])):
        tone = tones[turn % len(tones)]
        pluck = _pluck(tone, beat, beat in strong, in_turn=len(tones) > 1)
        plucks.append((meter.beat_starts[beat], pluck))
        passing = _passing_whole(meter, beat, then)
        if tone == FIFTH and passing * 240 / quarter_bpm >= SHORTEST_PASSING_S:
            end = (*meter.beat_starts, meter.bar_whole)[then]
            plucks.append((end - passing, _Pluck(PASSING, WEAK)))
    return tuple(plucks)


def _passing_whole(meter: Meter, beat: int, then: int) -> Fraction:
    """How long a passing note lasts between a note on one beat and another on a later one."""
    last = meter.beats[then - 1]
    if then - beat > 1:
        return last
    return last / 2 if last == meter.unit_whole else meter.unit_whole


def _pluck(tone: str, beat: int, is_strong: bool, in_turn: bool) -> _Pluck:
    """A tone on a beat. Strong beats stand out in a walk, elsewhere the bar line or the root."""
    if tone == WALK:
        return _Pluck(tone, WALKING if is_strong else WALKING_WEAK, is_strong, beat == 0)
    stands_out = tone == ROOT if in_turn else beat == 0
    return _Pluck(tone, STRONG if stands_out else WEAK)


def _strong_beats(meter: Meter) -> tuple[int, ...]:
    """A bar's strong beats: its first, the one halfway, the start of a later group."""
    count = len(meter.beats)
    if 1 < len(meter.group_starts) < count:
        return tuple(meter.beat_starts.index(start) for start in meter.group_starts)
    if count <= 3:
        return (0,)
    return (0, (count + 1) // 2) if count <= 6 else tuple(range(0, count, 2))


def _strong_or_last(meter: Meter, strong: tuple[int, ...]) -> tuple[int, ...]:
    """The strong beats; if there is only one, the last beat too, unless the bar is felt in one."""
    count = len(meter.beats)
    in_one = count == 1 or meter.bar_whole <= Fraction(3, 8)
    return (0, count - 1) if len(strong) == 1 and not in_one else strong
