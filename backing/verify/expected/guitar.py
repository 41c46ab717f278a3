"""What a guitar must play: its strokes, what chord the hand holds at each, and its rests.

By the rules under "Marks", "Who plays" and "Patterns" in `forms/README.md`: a chord with a mark
is struck where it sounds and, unless it stops or rings, played on with the strokes that fall
to it after its written place; at N.C., where the part is off, and after a stop nothing
sounds. In passes that play a riff there are no strokes; see `riffs`.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import groupby
from math import inf
from operator import attrgetter
from typing import NamedTuple

from backing.theory.chords import Chord
from backing.theory.fretboard import STRINGS_WITH_BASS
from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.cues import STOPPED_QUARTERS
from backing.verify.expected.hands import PICKED, STRUMMED, Move, moves_in
from backing.verify.expected.moments import Moment, mask
from backing.verify.expected.records import Band, Expected, PlayedChord, PlayedRound
from backing.verify.expected.riffs import ExpectedRiffs, expect_riffs
from backing.verify.expected.tiling import places

#: How far the middle of a stroke, the mean of its starts weighted by the square of velocity, may
#: lie from its place: anywhere, and where a round starts or the tempo changes within a stroke.
MIDDLE_S, HURRIED_MIDDLE_S = 0.004, 0.015
#: How long before its place a stroke may start.
LEAD_S = 0.05


class ShellRule(NamedTuple):
    """What a shell voicing of a chord must be, as it sounds.

    `needed` are the pitch classes that it has, as bits, `most` how many notes it has at most, each
    of another class, `bass` the class of its lowest note, and `highest_bass` how high that is at
    most: it is on the sixth or fifth string counted from the high one.
    """

    needed: int
    most: int
    bass: int
    highest_bass: int


class Held(NamedTuple):
    """A chord as a guitar holds it: its named symbol, and what may sound, all without the octave.

    `tones` are the pitch classes of all its tones as they sound, `needed` those that may not
    be left out, `lowest` the class of its slash bass or None: on fewer than six strings any tone
    may be lowest. `shape` has the writer's own
    shape as sounding pitches, low string first; with `easier` another may take its place. A chord
    that is held as a shell voicing has a `shell`.
    """

    symbol: str
    chord: Chord
    tones: int
    needed: int
    lowest: int | None
    shape: tuple[int | None, ...] | None
    easier: bool
    shell: ShellRule | None = None


class Stroke(NamedTuple):
    """One move of the right hand. `held` is the place of its chord in `ExpectedGuitar.held`.

    The next stroke comes at `next_s`. What is struck sounds at least until `lasts_s`, where
    the hands do something else, and at most until `ends_s`, where a rest begins. From
    `changes_s` on only what belongs to the chord `then` may go on. A chord that is pushed into
    the end of a riff is struck `amid_riff`, which may take strings from it. A `full` stroke goes
    over all strings of the chord. Its middle may be off by `off_s`.
    """

    at_s: float
    move: Move
    held: int
    next_s: float
    lasts_s: float
    ends_s: float
    changes_s: float
    then: int
    amid_riff: bool = False
    full: bool = False
    off_s: float = MIDDLE_S


class ExpectedGuitar(NamedTuple):
    """A guitar's strokes in order of time, the chords that it holds, and its riffs."""

    part: str
    strokes: tuple[Stroke, ...]
    held: tuple[Held, ...]
    riffs: ExpectedRiffs
    band: Band
    moments: tuple[Moment, ...] = ()


def expect_guitar(expected: Expected, part: str, clock: Clockwork) -> ExpectedGuitar:
    """Work out what a guitar must play in a file."""
    hands = _Hands(part, expected.band)
    for number, played in enumerate(expected.played):
        hands.play(number, played)
    rounds_s = [clock.seconds(played.bars[0].start) for played in expected.played]
    strokes = tuple(_strokes(hands.cues, clock, rounds_s))
    riffs = expect_riffs(expected, part, clock)
    moments = [Moment(stroke.at_s, hands.held[stroke.held].tones) for stroke in strokes]
    return ExpectedGuitar(
        part,
        strokes,
        tuple(hands.held),
        riffs,
        expected.band,
        tuple(sorted([*moments, *riffs.moments])),
    )


class _Cue(NamedTuple):
    """Something that the hands do, at a place in quarters.

    With a `move` the chord is struck; without one the left hand changes to it. -1 is no chord:
    all is silent.
    """

    at: Fraction
    move: Move | None = None
    held: int = -1
    amid_riff: bool = False
    full: bool = False


class _Hands:
    """What a guitarist's hands do through a file, and the chords that they hold."""

    def __init__(self, part: str, band: Band) -> None:
        self.part = part
        self.band = band
        self.cues: list[_Cue] = []
        self.held: list[Held] = []
        self.places: dict[tuple[int, str, int], int] = {}

    def play(self, number: int, played: PlayedRound) -> None:
        """Add a round's cues in order; the last is the silence that ends it."""
        riffs = list(_riffs(played, self.part))
        chords = _with_full_strokes(self._of_chords(number, played, riffs), played)
        cues = [*chords, *(_Cue(start) for start, _ in riffs)]
        for start, end in played.rests if self.part == self.band.instrument.part else ():
            cues = [cue for cue in cues if not start <= cue.at < end]
            cues.append(_Cue(start))
        if riffs or played.rests:
            cues.sort(key=attrgetter("at"))
        self.cues += [*cues, _Cue(played.sounds_until)]

    def _of_chords(
        self, number: int, played: PlayedRound, riffs: Sequence[tuple[Fraction, Fraction]]
    ) -> Iterator[_Cue]:
        steps = list(_steps(played, self.part, len(self.band.tuning)))
        starts = [at for at, _ in steps]
        for chord in played.chords:
            plan = chord.plan.parts[self.part]
            if plan.on and "riff" in plan.values:
                continue
            if chord.chord is None or not plan.on:
                yield _Cue(chord.struck)
                continue
            place = self._hold(number, chord)
            amid = any(start <= chord.struck < end for start, end in riffs)
            yield _Cue(chord.struck, None, place)
            if chord.marks:
                move = PICKED if "pick" in plan.values else STRUMMED
                yield _Cue(chord.struck, move, place, amid)
            if "stop" in chord.marks:
                yield _Cue(min(chord.struck + STOPPED_QUARTERS, chord.end))
            elif "ring" not in chord.marks:
                find = bisect_right if chord.marks else bisect_left
                first, last = find(starts, chord.slot), bisect_left(starts, chord.end)
                mine = steps[first:last]
                ends = [*(at for at, _ in mine[1:]), chord.end] if mine else []
                for (at, move), end in zip(mine, ends, strict=True):
                    yield _Cue(at, move, place, amid)
                    if move.short:
                        yield _Cue(at + (end - at) / 2)

    def _hold(self, number: int, chord: PlayedChord) -> int:
        """The place of a chord among those that are held; in each round it is held anew."""
        assert chord.chord is not None
        key = (number, str(chord.chord), chord.plan.transpose)
        if key not in self.places:
            self.places[key] = len(self.held)
            self.held.append(held_chord(chord.chord, chord, self.band))
        return self.places[key]


def _with_full_strokes(cues: Iterable[_Cue], played: PlayedRound) -> Iterator[_Cue]:
    """The cues of a round's chords; a chord's first downstroke in each bar is a full one."""
    lines = [bar.start for bar in played.bars]
    bar, waiting = 0, True
    for cue in cues:
        before, bar = bar, bisect_right(lines, cue.at)
        waiting = waiting or bar > before or (cue.move is None and cue.held >= 0)
        if cue.move is not None and cue.move.stroke == "D":
            cue, waiting = cue._replace(full=waiting), False
        yield cue


def _riffs(played: PlayedRound, part: str) -> Iterator[tuple[Fraction, Fraction]]:
    """From where to where passes play a riff, which silences what was strummed before."""
    # a pickup plays no riff but its own
    song = (bar for bar in played.bars if bar.number or bar.plan.leads_in)
    for _, bars in groupby(song, key=lambda bar: id(bar.plan)):
        first, *others = bars
        plan = first.plan.parts[part]
        if plan.on and "riff" in plan.values:
            yield first.start, [first, *others][-1].end


def _steps(played: PlayedRound, part: str, strings: int) -> Iterator[tuple[Fraction, Move]]:
    """What the pattern of every bar has, whatever its chords do."""
    for bar in played.bars:
        plan = bar.plan.parts[part]
        if plan.on and "riff" not in plan.values:
            yield from places(bar, moves_in(plan.values, bar, strings))


def _strokes(cues: Sequence[_Cue], clock: Clockwork, rounds_s: Sequence[float]) -> Iterator[Stroke]:
    """Strokes with what follows each, worked out from the last one back."""
    times = clock.all_seconds(cue.at for cue in cues)
    tempos = sorted([*clock.starts_s, *rounds_s])
    found = []
    next_s = lasts_s = ends_s = changes_s = inf
    then = -1
    for cue, at_s in zip(reversed(cues), reversed(times), strict=True):
        if cue.move is not None:
            until = next_s, lasts_s, ends_s, changes_s
            first = bisect_left(tempos, at_s - 2 * LEAD_S)
            hurried = (
                cue.amid_riff or tempos[first : bisect_right(tempos, at_s + 2 * LEAD_S, first)]
            )
            off_s = HURRIED_MIDDLE_S if hurried else MIDDLE_S
            own = cue.amid_riff, cue.full, off_s
            found.append(Stroke(at_s, cue.move, cue.held, *until, then, *own))
            next_s = at_s
        elif cue.held < 0:
            ends_s, changes_s, then = at_s, inf, -1
        else:
            changes_s, then = at_s, cue.held
        lasts_s = at_s
    return reversed(found)


# What is held


def held_chord(chord: Chord, played: PlayedChord, band: Band) -> Held:
    """A chord as the hand holds it in a version."""
    named = _named(chord, played.plan.transpose, band)
    tones = {(tone + played.up) % 12 for tone in chord.pitch_classes}
    droppable = {(tone + played.up + chord.root.pitch_class) % 12 for tone in _droppable(chord)}
    bass = (chord.bass_class + played.up) % 12
    at_root = chord.bass_class == chord.root.pitch_class
    is_lowest = chord.bass is not None and len(band.tuning) >= STRINGS_WITH_BASS
    shape = band.shapes.get(str(named))
    return Held(
        symbol=str(named),
        chord=named,
        tones=mask(tones),
        needed=mask(tones - droppable | {bass}),
        lowest=bass if is_lowest and not (at_root and band.easier) else None,
        shape=None if shape is None else _sounding(shape.frets, band),
        easier=band.easier,
        shell=_shell(chord, played.up, band) if band.shells and shape is None else None,
    )


#: By the reference: root, third, seventh and perhaps one more.
_MOST_OF_SHELL = 4
_OCTAVE_FRETS = 12


def _shell(chord: Chord, up: int, band: Band) -> ShellRule:
    steps = [0]
    for choices in (_THIRD_OR_INSTEAD, _SEVENTH_OR_INSTEAD):
        steps += [step for step in choices if step in chord.intervals][:1]
    if len(steps) < _MOST_OF_SHELL - 1:
        steps += [step for step in _FIFTH if step in chord.intervals and step not in steps][:1]
    if chord.bass_class != chord.root.pitch_class:
        steps.remove(0)
    bass = (chord.bass_class + up) % 12
    tones = {(chord.root.pitch_class + step + up) % 12 for step in steps}
    fifth_string = max(band.tuning[-6], band.tuning[-5])
    return ShellRule(
        mask(tones | {bass}), _MOST_OF_SHELL, bass, fifth_string + band.capo + _OCTAVE_FRETS
    )


#: Semitones above the root: the first that a chord has. A fourth or a second stands for a third,
#: a sixth (or a diminished seventh) for a seventh.
_THIRD_OR_INSTEAD, _SEVENTH_OR_INSTEAD, _FIFTH = (4, 3, 5, 2), (10, 11, 9), (7, 6, 8)


def _sounding(frets: Sequence[int | None], band: Band) -> tuple[int | None, ...]:
    return tuple(
        None if fret is None else string + band.capo + fret
        for string, fret in zip(band.tuning, frets, strict=True)
    )


def _named(chord: Chord, transpose: int, band: Band) -> Chord:
    """The chord's symbol after a version's move, and after its line's."""
    for semitones, key, new_key in (
        (band.by, band.key, band.new_key),
        (transpose, band.new_key, band.new_key and band.new_key.transposed(transpose)),
    ):
        if key is not None and new_key is not None:
            chord = chord.moved(key, new_key)
        elif semitones:
            chord = chord.raised(semitones)
    return chord


def _droppable(chord: Chord) -> Iterator[int]:
    """The tones that a grip may leave out, in semitones above the root. Common practice.

    The perfect fifth, but not of a power chord; the ninth of a chord of six tones or more; the
    eleventh of one of seven; the root over a slash bass.
    """
    count = len(chord.intervals)
    if count > 2:
        yield 7
    if count >= 6:
        yield 2
    if count >= 7:
        yield 5
    if chord.bass is not None and chord.bass_class != chord.root.pitch_class:
        yield 0
