"""What the bass must play: when each note starts and ends, and which pitches it may have.

The form fixes every time. Each chord is struck where it comes, whatever the line, and from
its place in the bar on the line's own notes follow: at each bar line (`roots`), on each beat
(`beats`, `walking`), on the strong beats (`root-fifth`), or on the steps that are written. A
note lasts until the next one or until a rest. A stop or a ring leaves a chord its first note.

The form fixes the pitch class too, except in a walking line:
- the first note of every chord is its bass: the root, or the note after its slash;
- `roots` and `beats` play only that note. `root-fifth` takes turns with the chord's fifth,
  altered where the chord's is; where the fifth is already the bass, with the root;
- `root-fifth` has a passing note before a chord that isn't pushed and has another bass: a half or
  whole step to that bass from the scale of one of the two chords. It comes only after a fifth, on
  the last beat before the change; if the fifth is on that beat, on its last eighth (or whichever
  note the meter counts) or, where the beat is that note, halfway through it. As written, it lasts
  at least `SHORTEST_PASSING_S` at the tempo with which the pass starts;
- a written degree is what `forms/README.md` says;
- a walking line plays, on strong beats, any tone of the chord (its fifth and its slash bass
  count among them); on the other beats such a tone or one that leads, a half or whole step from
  the note that follows at once. It leads from the chord's scale; the chord's last note also from
  that of the next chord, and by any half step.

The octave is the player's choice, from the lowest open string to the twelfth fret of the highest
string, and two octaves at least. In a walking line each chord starts in a narrower register: at
most `WALK_SPREAD` from `WALK_MIDDLE`, or from the nearest note that leaves a whole step of the
range beyond that on both sides.

Where a pass plays a riff there is no line: what sounds before it ends at its first bar line, and
`riffs` has its notes. A student's bass that rests in a practice version is silent.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import zip_longest
from typing import NamedTuple

from backing.form.pattern_records import BassPattern
from backing.theory.bass_lines import (
    BASS_LINES,
    FIFTH,
    PASSING,
    ROOT,
    SHORTEST_PASSING_S,
    WALK,
    WALK_MIDDLE,
    WALK_SPREAD,
)
from backing.theory.rhythm import Meter
from backing.verify.expected.bass_tones import WEAK_WALK, Wanted, passing, scale, wanted
from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.cues import STOPPED_QUARTERS, SoundingChord, sounding_chords
from backing.verify.expected.moments import Moment
from backing.verify.expected.plans import Plan
from backing.verify.expected.records import Expected, PlayedBar, PlayedRound
from backing.verify.expected.riffs import ExpectedRiffs, expect_riffs
from backing.verify.expected.tiling import Steps, places, steps_in

#: The frets on the highest string that a line uses, and how many semitones it has at least.
HIGHEST_FRET, LEAST_RANGE = 12, 24
#: What the bass plays where the form names no line.
USUAL_LINE = "roots"
HOLD = "-"
#: Bars that are felt in one have no second strong beat.
FELT_IN_ONE_WHOLE = Fraction(3, 8)
#: Places that are nearer to each other than this are one: no two notes are.
SAME_QUARTERS = 1e-6


class BassNote(NamedTuple):
    """A note: its start and its end in seconds; one that is `stopped` may also end sooner.

    One that `opens_walk` starts a chord of a walking line, in the register of walks.
    """

    at_s: float
    until_s: float
    wanted: Wanted
    stopped: bool
    opens_walk: bool = False


class ExpectedBass(NamedTuple):
    """What the bass must play, in order: its line, from `lowest` to `highest`, and its riffs.

    The chords of a walk start within `walk_register`, its lowest and its highest note.
    """

    part: str
    lowest: int
    highest: int
    walk_register: tuple[int, int]
    moments: tuple[Moment, ...] = ()
    notes: tuple[BassNote, ...] = ()
    riffs: ExpectedRiffs = ExpectedRiffs()


def expect_bass(expected: Expected, part: str, clock: Clockwork) -> ExpectedBass:
    """Work out what the bass must play in a file."""
    bars, band = _Bars(part), expected.band
    notes: list[BassNote] = []
    for played in expected.played:
        found = _notes_of_round(played, part, bars, clock)
        if band.instrument.part == part:
            found = _between(found, [tuple(map(clock.seconds, rest)) for rest in played.rests])
        notes += found
    riffs = expect_riffs(expected, part, clock)
    moments = [Moment(note.at_s, note.wanted.possible) for note in notes]
    lowest = min(band.bass_tuning)
    highest = max(max(band.bass_tuning) + HIGHEST_FRET, lowest + LEAST_RANGE)
    return ExpectedBass(
        part,
        lowest,
        highest,
        walk_register(lowest, highest),
        tuple(sorted([*moments, *riffs.moments])),
        tuple(notes),
        riffs,
    )


def walk_register(lowest: int, highest: int) -> tuple[int, int]:
    """The lowest and the highest note on which a chord of a walk may start, of a bass's range."""
    _, middle, _ = sorted((lowest + WALK_SPREAD + 2, WALK_MIDDLE, highest - WALK_SPREAD - 2))
    return middle - WALK_SPREAD, middle + WALK_SPREAD


def _between(notes: Iterable[BassNote], rests: Sequence[tuple[float, ...]]) -> Iterator[BassNote]:
    """Notes without those in rests, from and to times in seconds; none sounds into one.

    A note that led to one in a rest may be any that leads somewhere.
    """
    for note in notes:
        if any(start - SAME_QUARTERS <= note.at_s < end - SAME_QUARTERS for start, end in rests):
            continue
        rest_s = min((start for start, _ in rests if start > note.at_s), default=note.until_s)
        if rest_s <= note.until_s:
            note = note._replace(wanted=note.wanted._replace(classes=note.wanted.possible))
        yield note._replace(until_s=min(note.until_s, rest_s))


def _notes_of_round(
    played: PlayedRound, part: str, bars: _Bars, clock: Clockwork
) -> Iterator[BassNote]:
    strokes = [stroke for bar in played.bars for stroke in bars.strokes(bar)]
    at, riffs = 0, _riff_starts(played, part)
    chords = list(sounding_chords(played, part))
    for chord, following in zip_longest(chords, chords[1:]):
        slot, end = float(chord.played.slot) + SAME_QUARTERS, float(chord.played.end)
        while at < len(strokes) and strokes[at][0] <= slot:
            at += 1
        first = at
        while at < len(strokes) and strokes[at][0] < end - SAME_QUARTERS:
            at += 1
        if "riff" in chord.played.plan.parts[part].values:
            continue
        follow = [] if chord.is_struck_once else strokes[first:at]
        if (riff := riffs.get(chord.played.end)) is not None:  # at its bar line, push or no push
            stopped = chord.played.struck + STOPPED_QUARTERS
            chord = chord._replace(until=min(riff, stopped) if chord.stops else riff)
        target = following if _leads_on(chord, following, part) else None
        follow = _kept(follow, chord, target)
        opening, *others = _notes_of_chord(chord, follow, target, clock)
        line = _line_in(chord.played.plan, part)
        yield opening._replace(opens_walk=isinstance(line, str) and WALK in BASS_LINES[line].tones)
        yield from others


def _leads_on(chord: SoundingChord, following: SoundingChord | None, part: str) -> bool:
    """Whether a line goes on from a chord to the following one without a rest or a riff."""
    if following is None or following.played.struck != chord.until:
        return False
    return "riff" not in following.played.plan.parts[part].values


def _line_in(plan: Plan, part: str) -> str | BassPattern:
    """The line of a pass."""
    line: str | BassPattern = plan.parts[part].values.get("line") or USUAL_LINE
    return line


def _riff_starts(played: PlayedRound, part: str) -> dict[Fraction, Fraction]:
    """Where passes with a riff start, by where their first chords are struck."""
    found: dict[Fraction, Fraction] = {}
    before = None
    for chord in played.chords:
        plan = chord.plan.parts[part]
        if chord.plan is not before and plan.on and "riff" in plan.values:
            found[chord.struck] = chord.slot
        before = chord.plan
    return found


def _notes_of_chord(
    chord: SoundingChord,
    strokes: Sequence[tuple[float, str]],
    following: SoundingChord | None,
    clock: Clockwork,
) -> Iterator[BassNote]:
    """A chord's first note, then what the line plays up to the `following` chord or a rest."""
    up, stopped = chord.played.up, chord.stops
    start_s, tone = clock.seconds(chord.played.struck), ROOT
    for place, then in strokes:
        end_s = clock.seconds(place)
        yield BassNote(start_s, end_s, wanted(chord.harmony, up % 12, tone), stopped)
        start_s, tone = end_s, then
    last = _last(chord, tone, following)
    yield BassNote(start_s, clock.seconds(chord.until), last, stopped)


def _last(chord: SoundingChord, tone: str, following: SoundingChord | None) -> Wanted:
    """What the last note of a chord may be."""
    if tone == PASSING and (note := _passing(chord, following)) is not None:
        return note
    last = wanted(chord.harmony, chord.played.up % 12, tone)
    return last.leading_to(following and _scale(following)) if last.steps else last


def _kept(
    strokes: Sequence[tuple[float, str]], chord: SoundingChord, following: SoundingChord | None
) -> list[tuple[float, str]]:
    """A chord's strokes without passing notes, but for one that follows a fifth and leads on."""
    kept = [stroke for stroke in strokes if stroke[1] != PASSING]
    after_fifth = [tone for _, tone in strokes[-2:]] == [FIFTH, PASSING]
    return [*kept, strokes[-1]] if after_fifth and _passing(chord, following) else kept


def _passing(chord: SoundingChord, following: SoundingChord | None) -> Wanted | None:
    """A passing note from a chord to the following one, if there may be one."""
    if following is None or following.played.struck < following.played.slot:
        return None
    before, bass = ((each.harmony.bass_class + each.played.up) % 12 for each in (chord, following))
    return None if bass == before else passing(_scale(chord), _scale(following), bass)


def _scale(chord: SoundingChord) -> int:
    return scale(chord.harmony, chord.played.up % 12)


# Where a bar has notes.


class _Bars:
    """The strokes of a song's bars: those of bars that are alike are worked out once."""

    def __init__(self, part: str) -> None:
        self.part = part
        self.known: dict[Hashable, list[tuple[float, str]]] = {}

    def strokes(self, bar: PlayedBar) -> Iterator[tuple[float, str]]:
        """What the line plays in a bar: places in quarters from the file's start, and tones."""
        plan = bar.plan
        line = _line_in(plan, self.part)
        alike = (line, bar.meter, plan.meter, plan.swing, plan.bpm, bar.pattern_bar)
        offsets = self.known.get(alike)
        if offsets is None:
            at_zero = places(bar._replace(start=Fraction(0)), _steps(line, bar))
            offsets = self.known[alike] = [(float(at), tone) for at, tone in at_zero]
        start = float(bar.start)
        return ((start + at, tone) for at, tone in offsets)


def _steps(line: str | BassPattern, bar: PlayedBar) -> Steps[str]:
    if isinstance(line, BassPattern):
        steps = steps_in(line.bars, line.step_whole, bar)
        return tuple((at, degree) for at, degree in steps if degree != HOLD)
    return _built_in(line, bar.meter, bar.plan.bpm)


@lru_cache(maxsize=256)
def _built_in(name: str, meter: Meter, bpm: Fraction) -> Steps[str]:
    """A bar of a built-in line: its offsets in whole notes, and the tone at each."""
    line = BASS_LINES[name]
    strong = strong_beats(meter)
    beats = list(range(len(meter.beats)))
    if line.places == "bar line":
        beats = [0]
    elif line.places == "strong beats":
        lone = len(strong) == 1 and len(beats) > 1 and meter.bar_whole > FELT_IN_ONE_WHOLE
        beats = [0, beats[-1]] if lone else sorted(strong)
    steps = []
    for index, beat in enumerate(beats):
        tone = line.tones[index % len(line.tones)]
        if tone == WALK and beat not in strong:
            tone = WEAK_WALK
        steps.append((sum(meter.beats[:beat], Fraction(0)), tone))
        if tone == FIFTH:
            then = beats[index + 1] if index + 1 < len(beats) else len(meter.beats)
            length = _passing_whole(meter.beats[beat:then], Fraction(1, meter.unit))
            if 4 * length * 60 >= SHORTEST_PASSING_S * bpm:
                steps.append((sum(meter.beats[:then], Fraction(0)) - length, PASSING))
    return tuple(steps)


def _passing_whole(beats: Sequence[Fraction], unit: Fraction) -> Fraction:
    """How long a passing note is that ends these beats, all of which the fifth would last."""
    *others, last = beats
    if others:
        return last
    return unit if last > unit else unit / 2


@lru_cache(maxsize=256)
def strong_beats(meter: Meter) -> frozenset[int]:
    """The numbers, from 0, of a bar's strong beats.

    Where a meter's groups have several beats each, they are the first of each group. Otherwise
    two or three beats have one strong beat, four to six the first and the middle one (of
    five, the fourth), and more have every other one.
    """
    count = len(meter.beats)
    sizes = meter.groups
    beats_are_units = sum(sizes) == count
    if beats_are_units and 1 < len(sizes) < count:
        return frozenset(sum(sizes[:index]) for index in range(len(sizes)))
    if count < 4:
        return frozenset((0,))
    if count > 6:
        return frozenset(range(0, count, 2))
    return frozenset((0, count - count // 2))
