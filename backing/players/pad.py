"""The pad: held chords in four voices, led from one to the next with the least movement.

Voices are between E3 and E5, which leaves room for the bass and the guitar's low strings. They
are open: the outer ones are more than an octave apart, and at most a twelfth, and no two are on
one pitch. A chord of more than four tones leaves out its fifth, then its root, then its ninth;
one of fewer doubles its root or fifth, rather than another tone. A slash bass is left to the bass.

No two voices that move go in parallel fifths or octaves (common practice), unless there is no
other way, as between chords of two tones. Of all such voicings, the one played keeps every common
tone in a voice, and its voices, low to high, move the fewest semitones, with regard to the chord
that follows; of equals, it is the one nearest to the middle of the range. A tone in both chords
sounds on, except on a piano, which dies away and strikes every chord anew, and where the sound
changes. For marks, N.C. and silent sections, see `chord_cues`.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import chain, combinations, combinations_with_replacement, product
from typing import NamedTuple

from backing.form.parts import PARTS
from backing.players.chord_cues import chord_cues
from backing.players.part_settings import SettingsOf
from backing.score import Note
from backing.theory.chords import Chord
from backing.theory.general_midi import SUSTAINED
from backing.timeline import Bar, Timeline

DEFAULT_SOUND = "organ"

#: E3 to E5, and how far apart the outer voices lie.
LOWEST, HIGHEST, NARROWEST, WIDEST = 52, 76, 13, 19
MIDDLE = 64
VOICES = 4
VELOCITY = 64
#: What a chord of too many tones leaves out, in semitones above the root, the first one first.
LEFT_OUT = (7, 0, 2, 5, 9)
#: What counts as semitones of movement: each beyond a fourth once more, and a doubled tone that
#: isn't the root or the fifth.
FOURTH, DOUBLED = 5, 2
#: The intervals that two voices mustn't both move to from the same one, modulo 12.
PERFECT = (0, 7)


class Tones(NamedTuple):
    """The pitch classes that a chord's voices take, and those of them that are best doubled."""

    classes: frozenset[int]
    doubled: frozenset[int]


def play(timeline: Timeline, settings: SettingsOf) -> list[Note]:
    """The chords in order, each voice from low to high, `capo` semitones up."""
    sounds = {
        span.start_whole: settings(span.playing).sound or DEFAULT_SOUND for span in timeline.spans
    }
    notes: list[Note] = []
    sounding: dict[int, Fraction] = {}
    voicing: tuple[int, ...] = ()
    sound = DEFAULT_SOUND
    cues = chord_cues(timeline, settings, _no_strokes)
    changes = [cue.chord for cue in cues if cue.action == "change" and cue.chord is not None]
    voicings_ahead = iter(led_through([tones(chord, timeline.form.capo) for chord in changes]))
    for cue in cues:
        at = cue.start_whole
        kept: tuple[int, ...] = ()  # a mark strikes all voices, a change only those that are new
        if cue.action == "change":
            voicing = next(voicings_ahead)
            before, sound = sound, sounds[at]
            if sound == before and PARTS["pad"].programs[sound] in SUSTAINED:
                kept = voicing
        for pitch in sorted(sounding.keys() - set(kept)):
            if sounding[pitch] < at:
                notes.append(Note(sounding[pitch], at, pitch, VELOCITY))
            del sounding[pitch]
        if cue.chord is not None:
            for pitch in voicing:
                sounding.setdefault(pitch, at)
    return sorted(notes)


def _no_strokes(bar: Bar) -> tuple[()]:
    return ()


def tones(chord: Chord, capo: int = 0) -> Tones:
    """What a chord's voices take."""
    intervals = list(chord.intervals)
    for tone in LEFT_OUT:
        if len(intervals) > VOICES and tone in intervals:
            intervals.remove(tone)
    root = chord.root.pitch_class + capo
    doubled = [0, 7] if {0, 7} <= set(intervals) else intervals
    return Tones(
        frozenset((root + step) % 12 for step in intervals[:VOICES]),
        frozenset((root + step) % 12 for step in doubled),
    )


def led_through(chords: Sequence[Tones]) -> list[tuple[int, ...]]:
    """The voicings of chords in turn, each low to high."""
    found: list[tuple[int, ...]] = []
    voicing: tuple[int, ...] = ()
    before: Tones | None = None
    for chord, following in zip(chords, chain(chords[1:], [None]), strict=False):
        if chord != before:
            voicing = led(voicing, chord, following)
        found.append(voicing)
        before = chord
    return found


@lru_cache(maxsize=4096)
def led(before: tuple[int, ...], chord: Tones, following: Tones | None = None) -> tuple[int, ...]:
    """The voicing, low to high, that is best after the one before; the first is central.

    Of those that are as good so far, it is the one from which the `following` chord goes best.
    """

    def cost(step: _Step) -> tuple[object, ...]:
        ahead = min(_steps(step.voicing, following)) if following else _NOWHERE
        moved = 2 * step.moved + ahead.moved
        return (step.parallel, step.lost, ahead.parallel, ahead.lost, moved, *step[3:])

    return min(_steps(before, chord), key=cost).voicing


class _Step(NamedTuple):
    """A way on to a voicing, the worst to do first.

    `parallel` counts its parallels between voices as they are held, and as they are in either
    way. `lost` are common tones that aren't kept. Its voices have `moved` so many semitones, and
    lie so many `aside` from the middle.
    """

    parallel: tuple[int, int]
    lost: int
    moved: int
    aside: int
    voicing: tuple[int, ...]


_NOWHERE = _Step((0, 0), 0, 0, 0, ())


@lru_cache(maxsize=4096)
def _steps(before: tuple[int, ...], chord: Tones) -> tuple[_Step, ...]:
    """Every way on from a voicing to a chord."""
    common = {pitch % 12 for pitch in before} & chord.classes
    steps = []
    for voicing in voicings(chord.classes):
        lost = len(common - {pitch % 12 for pitch in voicing if pitch in before})
        leaps = [abs(new - old) for new, old in zip(voicing, before, strict=False)]
        moved = sum(leap + max(0, leap - FOURTH) for leap in leaps)
        classes = [pitch % 12 for pitch in voicing]
        for one in chord.classes - chord.doubled:
            moved += DOUBLED * (classes.count(one) - 1)
        aside = sum(abs(pitch - MIDDLE) for pitch in voicing)
        parallel = _held_parallels(before, voicing), parallels(before, voicing)
        steps.append(_Step(parallel, lost, moved, aside, voicing))
    return tuple(steps)


def parallels(before: tuple[int, ...], after: tuple[int, ...]) -> int:
    """How many pairs of voices move in parallel fifths or octaves.

    Voices count low to high, and also with each tone that sounds on as a voice that stays, the
    others low to high: the larger number.
    """
    return max(_parallels(before, after), _held_parallels(before, after))


def _held_parallels(before: tuple[int, ...], after: tuple[int, ...]) -> int:
    gone = [pitch for pitch in before if pitch not in after]
    return _parallels(gone, [pitch for pitch in after if pitch not in before])


def _parallels(before: Sequence[int], after: Sequence[int]) -> int:
    moving = [(old, new) for old, new in zip(before, after, strict=False) if old != new]
    return sum(
        (high_old - old) % 12 == (high_new - new) % 12 and (high_new - new) % 12 in PERFECT
        for (old, new), (high_old, high_new) in combinations(moving, 2)
    )


@lru_cache(maxsize=512)
def voicings(classes: frozenset[int]) -> tuple[tuple[int, ...], ...]:
    """Every way to place these pitch classes in four voices."""
    found = set()
    for extra in combinations_with_replacement(sorted(classes), VOICES - len(classes)):
        places = [
            range(LOWEST + (one - LOWEST) % 12, HIGHEST + 1, 12) for one in (*classes, *extra)
        ]
        for pitches in product(*places):
            voicing = tuple(sorted(set(pitches)))
            if len(voicing) == VOICES and NARROWEST <= voicing[-1] - voicing[0] <= WIDEST:
                found.add(voicing)
    return tuple(sorted(found))
