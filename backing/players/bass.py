"""The bass: each chord's root, or the note after its slash, in the instrument's low register.

Every line strikes that note where a chord starts. `roots` holds it and strikes it again at
each bar line; `beats` strikes it on each beat. `root-fifth` plays it at the start of a bar
and the fifth halfway (4/4, 6/8), on the third beat of three, or where a later group
starts, with the fifth below the root if the range allows; a bar of one beat, or felt in
one (3/8), has the root alone. `walking` plays a note on each beat and leads into the next
chord where that sounds, pushed or not (see `walking`). A written line plays its degrees
(see `degrees`); its 1 and 8 are the slash bass if there is one. For marks, N.C. and silent
sections, see `chord_cues`. In passes that play a riff the chords are left to the other parts; a
chord that is pushed into the end of a riff ends what sounds there.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from operator import attrgetter
from typing import NamedTuple

from backing.form.model import Form
from backing.form.parts import LINE
from backing.form.pattern_records import BassPattern
from backing.players.chord_cues import Cue, chord_cues
from backing.players.degrees import own_scale, semitones
from backing.players.part_settings import SettingsOf
from backing.players.riff import riff_notes, written
from backing.players.tiling import Placed, bar_steps, own_meter
from backing.players.walking import Harmony, between
from backing.score import Note
from backing.theory.bass_lines import BASS_LINES, FIFTH, ROOT, WALK
from backing.theory.bass_positions import Place, places
from backing.theory.chords import Chord
from backing.theory.rhythm import Meter
from backing.timeline import Bar, Span, Timeline

DEFAULT_LINE = "roots"

STRONG, WEAK = 92, 80
WALKING, WALKING_WEAK = 88, 84


class Range(NamedTuple):
    """The lowest and the highest note that a line has; from the lowest open string to the twelfth
    fret of the highest, and two octaves at least."""

    lowest: int
    highest: int

    @property
    def highest_home(self) -> int:
        """The highest root of a written line, with an octave above it."""
        return self.highest - 12

    @property
    def highest_walk(self) -> int:
        """The highest root of a walking line."""
        return self.highest - 5


def range_of(tuning: Sequence[int]) -> Range:
    """The range of a bass that is tuned so."""
    return Range(min(tuning), max(max(tuning) + 12, min(tuning) + 24))


class _Pluck(NamedTuple):
    """A note to play: the root, the fifth, a step of a walk, or a degree as written."""

    tone: str
    velocity: int
    strong: bool = False
    opens_bar: bool = False


@dataclass(slots=True)
class _Phrase:
    """A chord's plucks in order, the first where it starts. It `leads_on` unless a rest follows."""

    chord: Chord
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
    phrases = _phrases(cues)
    notes: list[Note] = []
    first: int | None = None
    for index, phrase in enumerate(phrases):
        if first is None or not phrases[index - 1].leads_on:
            first = _home(phrase, first, form.capo, reach)
        following = phrases[index + 1] if phrase.leads_on else None
        target = _home(following, first, form.capo, reach) if following else None
        walks = len(phrase.plucks) > 1 and phrase.plucks[1].tone == WALK
        if walks:
            target = _other_octave(first, target, len(phrase.plucks), reach)
            next_scale = _harmony((following or phrase).chord, form.capo).scale
            pitches = _walk(phrase, first, target, next_scale, form.capo, index % 2 == 0, reach)
        else:
            pitches = [
                _pitch(pluck.tone, phrase.chord, first, form.capo, reach) for pluck in phrase.plucks
            ]
        for (start, end), pitch, pluck in zip(
            pairwise([*phrase.starts, phrase.end_whole]), pitches, phrase.plucks, strict=True
        ):
            notes.append(Note(start, end, pitch, pluck.velocity))
        first = first if target is None else target
    return notes


def _riff_starts(timeline: Timeline, settings: SettingsOf) -> Iterator[Fraction]:
    """The bar lines where passes with a riff start."""
    before = None
    for bar in timeline.played:
        if bar.playing is not before and written(timeline.form, settings, bar.playing):
            yield bar.start_whole
        before = bar.playing


def _phrases(found: Sequence[Cue]) -> list[_Phrase]:
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
            phrases.append(_Phrase(cue.chord))
    return phrases


# Which pitch.


def nearest(pitch_class: int, before: int | None, reach: Range) -> int:
    """The pitch of a class, within a range, that best follows the one before.

    It is the smaller leap, unless the larger one goes down and by at most three
    semitones more: so a line that wanders up comes back. The first note is the lowest.
    """
    lowest = reach.lowest
    choices = range(lowest + (pitch_class - lowest) % 12, reach.highest + 1, 12)
    if before is None:
        return choices[0]
    return min(choices, key=lambda pitch: 4 * abs(pitch - before) + pitch)


def _home(phrase: _Phrase, before: int | None, capo: int, reach: Range) -> int:
    """The pitch of a chord's bass where the chord starts."""
    is_written = any(pluck.tone not in (ROOT, FIFTH, WALK) for pluck in phrase.plucks)
    pitch_class = (phrase.chord.bass_class + capo) % 12
    highest = reach.highest_home if is_written else reach.highest
    return nearest(pitch_class, before, reach._replace(highest=highest))


def _pitch(tone: str, chord: Chord, first: int, capo: int, reach: Range) -> int:
    """A tone of a chord whose bass is at `first`, moved by octaves into the range."""
    if tone in (ROOT, "1"):
        return first
    if tone == "8":
        return _folded(first + 12, reach)
    root = first - (first - chord.root.pitch_class - capo) % 12
    if tone != FIFTH:
        low = root if root >= reach.lowest else root + 12
        return _folded(low + semitones(chord.intervals, tone), reach)
    fifth = root + semitones(chord.intervals, "5")
    below = (first - fifth) % 12 or (first - root) % 12  # under C/G the other note is C
    return first - below if first - below >= reach.lowest else first - below + 12


def _folded(pitch: int, reach: Range) -> int:
    while pitch > reach.highest:
        pitch -= 12
    return pitch if pitch >= reach.lowest else pitch + 12


def _harmony(chord: Chord, capo: int) -> Harmony:
    """A chord's tones and scale as they sound; without a seventh of its own it allows both."""
    root = chord.root.pitch_class + capo
    steps = set(own_scale(chord.intervals))
    if own_scale(chord.intervals)[6] not in chord.intervals:
        steps |= {10, 11}
    tones = frozenset((tone + capo) % 12 for tone in chord.pitch_classes)
    return Harmony(tones, frozenset((root + step) % 12 for step in steps) | tones)


def _other_octave(first: int, target: int | None, count: int, reach: Range) -> int | None:
    """Where the target is the same note again, four notes or more later, its other octave."""
    if target != first or count < 4:
        return target
    others = (first - 12, first + 12)
    return next((other for other in others if reach.lowest <= other <= reach.highest_walk), first)


def _walk(
    phrase: _Phrase,
    first: int,
    target: int | None,
    next_scale: frozenset[int],
    capo: int,
    upward: bool,
    reach: Range,
) -> list[int]:
    """A chord's walk, bar by bar: each bar starts from the bass or, in turn, from the fifth."""
    harmony = _harmony(phrase.chord, capo)
    cuts = [0, *(i for i, pluck in enumerate(phrase.plucks) if i and pluck.opens_bar)]
    openings = [first]
    for turn in range(1, len(cuts)):
        tone = _pitch(FIFTH if turn % 2 else ROOT, phrase.chord, first, capo, reach)
        openings.append(nearest(tone % 12, openings[-1], reach))
    pitches: list[int] = []
    stretches = zip(
        pairwise([*cuts, len(phrase.plucks)]), openings, [*openings[1:], target], strict=True
    )
    for (cut, end), opening, goal in stretches:
        strong = tuple(pluck.strong for pluck in phrase.plucks[cut + 1 : end])
        scale = next_scale if end == len(phrase.plucks) else harmony.scale
        rising = _starts_upward(opening, goal, upward, reach)
        line = between(opening, goal, strong, harmony, scale, rising, reach.lowest, reach.highest)
        pitches += [opening, *line]
        upward = not upward
    return pitches


def _starts_upward(opening: int, goal: int | None, turn: bool, reach: Range) -> bool:
    """Toward the goal; to the same note, by turns up and down; with no goal, away from the edge."""
    if goal is None:
        return opening < (reach.lowest + reach.highest) // 2
    return turn if goal == opening else goal > opening


# Which beats.


def _plucks(bar: Bar, form: Form, settings: SettingsOf) -> Placed[_Pluck]:
    if written(form, settings, bar.playing) is not None:
        return ()
    line = LINE.of(settings(bar.playing)) or DEFAULT_LINE
    if not isinstance(line, BassPattern):
        return _built_in(line, bar.meter)
    starts = bar.meter.beat_starts
    return tuple(
        (at, _Pluck(degree, STRONG if at in starts else WEAK))
        for at, degree in bar_steps(line.bars, line.step_whole, bar, own_meter(form, bar))
        if degree != "-"
    )


@lru_cache(maxsize=128)
def _built_in(name: str, meter: Meter) -> Placed[_Pluck]:
    """A bar of a built-in line in any meter."""
    places, tones = BASS_LINES[name]
    strong = _strong_beats(meter)
    beats: Sequence[int] = {
        "bar line": (0,),
        "strong beats": _strong_or_last(meter, strong),
        "beats": range(len(meter.beats)),
    }[places]
    return tuple(
        (
            meter.beat_starts[beat],
            _pluck(tones[turn % len(tones)], beat, beat in strong, in_turn=len(tones) > 1),
        )
        for turn, beat in enumerate(beats)
    )


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
