"""What the bass must play: when each note starts and ends, and which pitches it may have.

The form fixes every time. Each chord is struck where it comes, whatever the line, and from
its place in the bar on the line's own notes follow: at each bar line (`roots`), on each beat
(`beats`, `walking`), on the strong beats (`root-fifth`), or on the steps that are written. A
note lasts until the next one or until a rest. A stop or a ring leaves a chord its first note.

The form fixes the pitch class too, except in a walking line:
- the first note of every chord is its bass: the root, or the note after its slash;
- `roots` and `beats` play only that note. `root-fifth` takes turns with the chord's fifth,
  altered where the chord's is; where the fifth is already the bass, with the root;
- a written degree is what `forms/README.md` says;
- a walking line plays, on strong beats, any tone of the chord (its fifth and its slash bass
  count among them); on the other beats such a tone or one that leads: a half or whole step
  from the note that follows at once.

The octave is the player's choice, from the lowest open string to the twelfth fret of the highest
string, and two octaves at least.

Where a pass plays a riff there is no line: what sounds before it ends at its first bar line, and
`riffs` has its notes. A student's bass that rests in a practice version is silent.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from backing.form.pattern_records import BassPattern
from backing.theory.bass_lines import BASS_LINES, FIFTH, ROOT, WALK
from backing.theory.chords import Chord
from backing.theory.rhythm import Meter
from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.cues import STOPPED_QUARTERS, SoundingChord, sounding_chords
from backing.verify.expected.moments import ANY, Moment, mask
from backing.verify.expected.records import Expected, PlayedBar, PlayedRound
from backing.verify.expected.riffs import ExpectedRiffs, expect_riffs
from backing.verify.expected.tiling import Steps, places, steps_in

#: The frets on the highest string that a line uses, and how many semitones it has at least.
HIGHEST_FRET, LEAST_RANGE = 12, 24
#: What the bass plays where the form names no line.
USUAL_LINE = "roots"
HOLD = "-"
#: A walking line's note on a beat that isn't strong; on a strong one it is `WALK`.
WEAK_WALK = "weak walk"
#: Bars that are felt in one have no second strong beat.
FELT_IN_ONE_WHOLE = Fraction(3, 8)
#: Places that are nearer to each other than this are one: no two notes are.
SAME_QUARTERS = 1e-6


class Wanted(NamedTuple):
    """Which pitch classes a note may have, as bits, and how a message names them.

    With `may_lead` it may have any other that is a half or whole step from the next note.
    """

    classes: int
    name: str
    may_lead: bool = False


class BassNote(NamedTuple):
    """A note: its start and its end in seconds; one that is `stopped` may also end sooner."""

    at_s: float
    until_s: float
    wanted: Wanted
    stopped: bool


class ExpectedBass(NamedTuple):
    """What the bass must play, in order: its line, from `lowest` to `highest`, and its riffs."""

    part: str
    lowest: int
    highest: int
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
    moments = [
        Moment(note.at_s, ANY if note.wanted.may_lead else note.wanted.classes) for note in notes
    ]
    lowest, highest = min(band.bass_tuning), max(band.bass_tuning) + HIGHEST_FRET
    return ExpectedBass(
        part,
        lowest,
        max(highest, lowest + LEAST_RANGE),
        tuple(sorted([*moments, *riffs.moments])),
        tuple(notes),
        riffs,
    )


def _between(notes: Iterable[BassNote], rests: Sequence[tuple[float, ...]]) -> Iterator[BassNote]:
    """Notes without those in rests, from and to times in seconds; none sounds into one.

    A note that led to one in a rest may be any.
    """
    for note in notes:
        if any(start - SAME_QUARTERS <= note.at_s < end - SAME_QUARTERS for start, end in rests):
            continue
        rest_s = min((start for start, _ in rests if start > note.at_s), default=note.until_s)
        if rest_s <= note.until_s and note.wanted.may_lead:
            note = note._replace(wanted=note.wanted._replace(classes=ANY))
        yield note._replace(until_s=min(note.until_s, rest_s))


def _notes_of_round(
    played: PlayedRound, part: str, bars: _Bars, clock: Clockwork
) -> Iterator[BassNote]:
    strokes = [stroke for bar in played.bars for stroke in bars.strokes(bar)]
    at, riffs = 0, _riff_starts(played, part)
    for chord in sounding_chords(played, part):
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
        yield from _notes_of_chord(chord, follow, clock)


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
    chord: SoundingChord, strokes: Sequence[tuple[float, str]], clock: Clockwork
) -> Iterator[BassNote]:
    """A chord's first note, then what the line plays while the chord lasts."""
    harmony, up, stopped = chord.harmony, chord.played.up % 12, chord.stops
    start_s, tone = clock.seconds(chord.played.struck), ROOT
    for place, following in strokes:
        end_s = clock.seconds(place)
        yield BassNote(start_s, end_s, wanted(harmony, up, tone), stopped)
        start_s, tone = end_s, following
    yield BassNote(start_s, clock.seconds(chord.until), wanted(harmony, up, tone), stopped)


# Where a bar has notes.


class _Bars:
    """The strokes of a song's bars: those of bars that are alike are worked out once."""

    def __init__(self, part: str) -> None:
        self.part = part
        self.known: dict[Hashable, list[tuple[float, str]]] = {}

    def strokes(self, bar: PlayedBar) -> Iterator[tuple[float, str]]:
        """What the line plays in a bar: places in quarters from the file's start, and tones."""
        plan = bar.plan
        line = plan.parts[self.part].values.get("line") or USUAL_LINE
        alike = (line, bar.meter, plan.meter, plan.swing, bar.pattern_bar)
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
    return _built_in(line, bar.meter)


@lru_cache(maxsize=256)
def _built_in(name: str, meter: Meter) -> Steps[str]:
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
    return tuple(steps)


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


# Which pitches a note may have.


@lru_cache(maxsize=4096)
def wanted(chord: Chord, up: int, tone: str) -> Wanted:
    """Which pitch classes a tone of a line has over a chord that sounds `up` semitones higher."""
    root, bass = chord.root.pitch_class, chord.bass_class
    fifth = (root + degree_semitones(chord.intervals, "5")) % 12
    if tone in (WALK, WEAK_WALK):
        tones = {*chord.pitch_classes, fifth}
        return Wanted(_sounding(tones, up), "a tone of the chord", tone == WEAK_WALK)
    if tone in (ROOT, "1", "8"):
        return Wanted(
            _sounding({bass}, up), "the chord's root" if bass == root else "its bass note"
        )
    if tone != FIFTH:
        degree = (root + degree_semitones(chord.intervals, tone)) % 12
        return Wanted(_sounding({degree}, up), f"degree {tone}")
    if bass == fifth:
        return Wanted(_sounding({root}, up), "the chord's root")
    return Wanted(_sounding({fifth}, up), "the chord's fifth")


def _sounding(classes: set[int], up: int) -> int:
    return mask((one + up) % 12 for one in classes)


#: The major scale's degrees, in semitones.
_MAJOR = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 11}
#: What a chord may have as its own second, third, fifth and seventh, the likeliest first.
_OWN = {2: (2, 1), 3: (4, 3, 5, 2), 5: (7, 6, 8), 7: (11, 10)}
#: What it has where it alters its fourth or its sixth.
_ALTERED = {4: 6, 6: 8}


@lru_cache(maxsize=2048)
def degree_semitones(intervals: tuple[int, ...], degree: str) -> int:
    """How far above a chord's root a written degree is, from 0 to 11.

    With b or # the degree counts in the major scale. A plain number is the chord's own tone:
    the third may be a suspended tone or, in a chord without any, the fifth; a chord without
    a seventh takes the minor one (the diminished one where its tones are stacked minor
    thirds); and 2, 4 and 6 are the major scale's unless the chord alters them.
    """
    number = (int(degree.lstrip("b#")) - 1) % 7 + 1
    if degree[0] in "b#":
        return (_MAJOR[number] + (1 if degree[0] == "#" else -1)) % 12
    has = frozenset(intervals)
    own = next((step for step in _OWN.get(number, ()) if step in has), None)
    if own is not None:
        return own
    altered = _ALTERED.get(number)
    if altered in has and altered != degree_semitones(intervals, "5"):
        return altered
    return _without_own(has, number)


def _without_own(has: frozenset[int], number: int) -> int:
    """A degree that a chord doesn't have itself."""
    if number == 2 and {3, 4} <= has:
        return 3  # a raised ninth
    if number == 3:
        return 7
    if number == 7:
        return 9 if {3, 6, 9} <= has else 10
    return _MAJOR[number]
