"""Whether strokes fit one grip: a shape that a hand can hold, and that spells the chord.

A stroke goes over at least two neighboring strings of the grip (of those that sound), and
picking fingers play their own. So what the strokes of a chord have struck says which
pitches lie side by side, and a grip is looked for that has them all: at most one pitch a
string, its fretted notes within a hand's reach, only tones of the chord and all that name
it, and its slash bass lowest.

At a very slow tempo strings that are struck one after another start on one tick, and which of
them came first is lost: those are in any order, and two of one pitch are one note.

A pitch is a MIDI note number, a string counts from the low one, 0, and None is a string that
isn't struck. Runs of pitches go from the low string to the high one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import chain, combinations
from typing import NamedTuple, TypeAlias

from backing.theory.chords import Chord
from backing.theory.fingerings import fingerings
from backing.theory.fretboard import HIGHEST_FRET
from backing.theory.hand import REACHES, fingers_on
from backing.theory.picks import FINGER_STRINGS
from backing.verify.expected.guitar import ShellRule
from backing.verify.expected.moments import mask

Grip: TypeAlias = "tuple[int | None, ...]"
Run: TypeAlias = "tuple[int, ...]"
#: A stroke's pitches by tick, those of the low strings first; on one tick they are sorted.
Sweep: TypeAlias = "tuple[Run, ...]"

#: How far up the neck strings that weren't struck are tried.
FARTHEST_FRET = 12


class Struck(NamedTuple):
    """What was struck of a chord: runs of strokes, and fingers with what they played, sorted.

    `has_all` says that together they must spell the chord: no string that wasn't struck helps.
    """

    runs: frozenset[Sweep]
    picked: frozenset[tuple[tuple[str, ...], Run]]
    has_all: bool = False


class Neck(NamedTuple):
    """What the strings are tuned to, and where the capo is."""

    tuning: tuple[int, ...]
    capo: int


class Spelling(NamedTuple):
    """Pitch classes as bits: a chord's tones, those that a grip needs, and its slash bass.

    A `shell` says what else a shell voicing must be.
    """

    tones: int
    needed: int
    lowest: int | None
    shell: ShellRule | None = None


def sweep_fits(sweep: Sweep, grip: Grip) -> bool:
    """Whether a stroke is over two or more neighbors of a grip's strings, or all that it has."""
    sounding = tuple(pitch for pitch in grip if pitch is not None)
    run = in_order(sweep)
    if len(run) < min(2, len(sounding)):
        return False
    if len(run) == len(sweep):
        width = len(run)
        return any(sounding[i : i + width] == run for i in range(len(sounding) - width + 1))
    return any(_starts_with(sounding[first:], sweep) for first in range(len(sounding)))


def is_over_all(sweep: Sweep, grip: Grip) -> bool:
    """Whether a stroke is over all strings of a grip; those of one pitch on one tick are one."""
    sounding = tuple(pitch for pitch in grip if pitch is not None)
    run = in_order(sweep)
    return run == sounding or (len(run) > len(sweep) and set(run) == set(sounding))


def in_order(sweep: Sweep) -> Run:
    """A stroke's pitches from the low string to the high one; those on one tick are sorted."""
    return tuple(chain.from_iterable(sweep))


def _starts_with(sounding: Run, sweep: Sweep) -> bool:
    """Whether a stroke is over the first of these strings, of which some share a tick.

    On one tick two strings of one pitch are one note.
    """
    if not sweep:
        return True
    tick, rest = sweep[0], sweep[1:]
    return any(
        sorted(set(sounding[:width])) == sorted(tick) and _starts_with(sounding[width:], rest)
        for width in range(len(tick), len(sounding) + 1)
    )


def fingers_fit(fingers: Sequence[str], played: Run, grip: Grip) -> bool:
    """Whether fingers played just their strings of a grip."""
    return tuple(sorted(set(fingered(fingers, grip)))) == played


@lru_cache(maxsize=1024)
def fingered(fingers: tuple[str, ...], grip: Grip) -> tuple[int, ...]:
    """What fingers play in a grip: the thumb its lowest string or the next one, the others theirs.

    Where the grip leaves a finger's string out, it takes the nearest that sounds; of two
    equally near, the higher.
    """
    sounding = [string for string, pitch in enumerate(grip) if pitch is not None]
    played = set()
    for finger in fingers:
        if finger in FINGER_STRINGS:
            own = len(grip) - FINGER_STRINGS[finger]
            played.add(min(sounding, key=lambda string: (abs(string - own), -string)))
        else:
            played.add(sounding[min(len(sounding) - 1, finger == "p2")])
    return tuple(pitch for string in sorted(played) if (pitch := grip[string]) is not None)


@lru_cache(maxsize=4096)
def grip_for(struck: Struck, neck: Neck, spelling: Spelling) -> Grip | None:
    """A grip that everything struck fits, or None."""
    longest = max(map(in_order, struck.runs), key=len, default=())
    for grip in chain(_placed(longest, neck), _searched(struck, neck, spelling, False)):
        if _fits(grip, struck, neck, spelling):
            return grip
    for grip in () if struck.has_all else _searched(struck, neck, spelling, True):
        if _fits(grip, struck, neck, spelling):
            return grip
    return None


@lru_cache(maxsize=1024)
def can_spell(chord: Chord, neck: Neck, needed: int) -> bool:
    """Whether a shape that `theory` finds for a chord has all the tones that name it.

    Args:
        chord: as it is named.
        neck: where it is held.
        needed: pitch classes as they sound, as bits.
    """
    best, *_ = fingerings(chord, neck.tuning)
    sounding = (pitch for pitch in best.pitches(neck.tuning, neck.capo) if pitch is not None)
    return not needed & ~_classes(sounding)


@lru_cache(maxsize=1024)
def has_shell(neck: Neck, spelling: Spelling) -> bool:
    """Whether a hand can hold a shell of the needed tones alone, above its bass on no open string.

    Where none can, the guitar has another shape.
    """
    nothing = Struck(frozenset(), frozenset())
    bare = spelling._replace(tones=spelling.needed)
    return any(
        _is_above_bass(grip, neck) and _fits(grip, nothing, neck, bare)
        for grip in _searched(nothing, neck, bare, True)
    )


def _is_above_bass(grip: Grip, neck: Neck) -> bool:
    """Whether a grip's lowest note is on the sixth or fifth string, below no open string."""
    low = next((string for string, pitch in enumerate(grip) if pitch is not None), len(grip))
    if len(grip) - low not in (5, 6) or grip[low] != min(filter(None, grip)):
        return False
    return all(
        pitch != string + neck.capo
        for pitch, string in zip(grip[low + 1 :], neck.tuning[low + 1 :], strict=True)
    )


def _fits(grip: Grip, struck: Struck, neck: Neck, spelling: Spelling) -> bool:
    pitches = [pitch for pitch in grip if pitch is not None]
    classes = _classes(pitches)
    if not classes or spelling.needed & ~classes or classes & ~spelling.tones:
        return False
    if spelling.lowest is not None and min(pitches) % 12 != spelling.lowest:
        return False
    if spelling.shell is not None and not _is_shell(pitches, spelling.shell):
        return False
    return (
        all(sweep_fits(sweep, grip) for sweep in struck.runs)
        and all(fingers_fit(fingers, played, grip) for fingers, played in struck.picked)
        and _is_held(grip, neck)
    )


def _is_shell(pitches: Sequence[int], rule: ShellRule) -> bool:
    classes, lowest = {pitch % 12 for pitch in pitches}, min(pitches)
    return (
        len(pitches) == len(classes) <= rule.most
        and not rule.needed & ~_classes(pitches)
        and lowest % 12 == rule.bass
        and lowest <= rule.highest_bass
    )


def _is_held(grip: Grip, neck: Neck) -> bool:
    frets = tuple(
        None if pitch is None else pitch - string - neck.capo
        for pitch, string in zip(grip, neck.tuning, strict=True)
    )
    return fingers_on(frets) is not None


def _placed(run: Run, neck: Neck) -> Iterator[Grip]:
    """The ways to put a run's pitches on strings, in its order, without any others."""
    if not run:
        return
    for strings in combinations(range(len(neck.tuning)), len(run)):
        frets = [
            pitch - neck.tuning[string] - neck.capo
            for pitch, string in zip(run, strings, strict=True)
        ]
        if all(0 <= fret <= HIGHEST_FRET for fret in frets) and _in_reach(frets, neck):
            grip: list[int | None] = [None] * len(neck.tuning)
            for pitch, string in zip(run, strings, strict=True):
                grip[string] = pitch
            yield tuple(grip)


def _searched(struck: Struck, neck: Neck, spelling: Spelling, with_others: bool) -> Iterator[Grip]:
    """Grips of what was struck and, `with_others`, of chord tones on strings that weren't."""
    known = {pitch for sweep in struck.runs for pitch in in_order(sweep)}
    known |= {pitch for _, played in struck.picked for pitch in played}
    choices = [list(_choices(string, neck, known, spelling, with_others)) for string in neck.tuning]
    pending: list[Grip] = [()]
    while pending:
        grip = pending.pop()
        at = len(grip)
        if at == len(choices):
            if known <= set(grip):
                yield grip
            continue
        missing = known - set(grip)
        if len(missing) > len(choices) - at:
            continue
        for pitch in choices[at]:
            longer = (*grip, pitch)
            if _in_reach(
                [
                    sounding - string - neck.capo
                    for sounding, string in zip(longer, neck.tuning, strict=False)
                    if sounding is not None
                ],
                neck,
            ):
                pending.append(longer)


def _choices(
    string: int, neck: Neck, known: set[int], spelling: Spelling, with_others: bool
) -> Iterator[int | None]:
    """What a string may sound; the last one is tried first."""
    if with_others:
        for pitch in range(string + neck.capo, string + neck.capo + FARTHEST_FRET + 1):
            if spelling.tones >> pitch % 12 & 1 and pitch not in known:
                yield pitch
    yield None
    yield from (pitch for pitch in known if 0 <= pitch - string - neck.capo <= HIGHEST_FRET)


def _in_reach(frets: Sequence[int], neck: Neck) -> bool:
    """Whether fretted notes are near enough to each other for one hand."""
    fretted = [fret for fret in frets if fret]
    return not fretted or max(fretted) - min(fretted) <= REACHES[len(neck.tuning)]


def _classes(pitches: Iterable[int]) -> int:
    return mask(pitch % 12 for pitch in pitches)
