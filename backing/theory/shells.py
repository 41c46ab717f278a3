"""Shell voicings for jazz comping (common practice): root, third, seventh, perhaps one more tone.

The root, or the bass after a slash, is lowest, on the sixth or the fifth string counted from the
high one. Above it are the tones that name the chord, each once and none on an open string:

- the third, or the fourth or second in its place;
- the seventh, or the sixth in its place; the fifth of a chord that has neither, such as a triad;
- perhaps the most telling of the chord's other tones: an altered fifth, or else the thirteenth, an
  altered ninth, the ninth, the eleventh. If there is none, perhaps the fifth.

Over a foreign slash bass the root may be left out. If no hand can hold a chord that way on these
strings, it has no shells.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import product
from typing import NamedTuple

from backing.theory.chords import Chord
from backing.theory.clarity import grates, has_sharp_ninth, is_muddy
from backing.theory.fretboard import Fingering
from backing.theory.hand import REACHES, Frets, effort, fingers_on, position
from backing.theory.shape_search import up_the_neck

FULL, SHELL = "full", "shell"
#: How guitars may voice a song's chords, and what outputs call it where it isn't usual: on as many
#: strings as sound good, or as shells.
VOICINGS = {FULL: "", SHELL: "shell voicings"}
#: A shell has a string for each tone, four at most.
MOST_TONES = 4

_THIRDS, _SEVENTHS, _FIFTHS = (4, 3, 5, 2), (10, 11, 9), (7, 6, 8)
_COLORS = (6, 8, 9, 1, 3, 2, 5)  # other tones, in semitones above the root: the first tells most
_FIRST_BASS, _LAST_BASS = 6, 5  # strings, from the high one
_LAST_FRET = 12
_KEPT = 12

# What a shell costs besides its difficulty, in the same units.
_MUDDY, _GRATING = 20, 20  # see `clarity`
_NO_COLOR, _FILLED, _NO_ROOT = 4, 2, 4


class _Plan(NamedTuple):
    """Pitch classes: lowest, needed above it, and what each set of others costs."""

    bass: int
    needed: frozenset[int]
    others: dict[frozenset[int], int]


@lru_cache(maxsize=1024)
def shells(chord: Chord, tuning: tuple[int, ...]) -> tuple[tuple[int, Fingering], ...]:
    """A chord's shells, best first, each with its cost: at most 12, perhaps none.

    `tuning` is six to eight note numbers, lowest row first.
    """
    plan = _plan(chord)
    found = []
    for frets in _shapes(plan, tuning):
        fingers = fingers_on(frets)
        if fingers is None:
            continue
        sounding = zip(tuning, frets, strict=True)
        notes = [note + fret for note, fret in sounding if fret is not None]
        others = frozenset(note % 12 for note in notes[1:]) - plan.needed
        harsh = has_sharp_ninth(chord.intervals) and grates(notes, chord.root.pitch_class)
        cost = effort(frets, fingers) + up_the_neck(position(frets)) + plan.others[others]
        cost += _MUDDY * is_muddy(notes) + _GRATING * harsh
        order = tuple(-1 if fret is None else fret for fret in frets)
        found.append((cost, order, Fingering(frets)))
    return tuple((cost, shape) for cost, _, shape in sorted(found)[:_KEPT])


def _plan(chord: Chord) -> _Plan:
    root, bass, steps = chord.root.pitch_class, chord.bass_class, set(chord.intervals)
    named = [0, *_first(_THIRDS, steps), *_first(_SEVENTHS, steps)]
    if len(named) < 3:
        named += _first(_FIFTHS, steps - set(named))
    needed = frozenset((root + step) % 12 for step in named) - {bass}
    left = {step for step in steps - set(named) if (root + step) % 12 != bass}
    color = _first(_COLORS, left)
    others = {frozenset[int](): _NO_COLOR if color else 0}
    if len(needed) + 1 < MOST_TONES:
        for step in color or left & {7}:
            others[frozenset({(root + step) % 12})] = 0 if color else _FILLED
    if bass != root:
        free = {frozenset({root}) | some: cost for some, cost in others.items()}
        rootless = {some: cost + _NO_ROOT for some, cost in others.items()}
        needed, others = needed - {root}, {**rootless, **free}
    return _Plan(bass, needed, others)


def _first(wanted: tuple[int, ...], steps: set[int]) -> list[int]:
    return [step for step in wanted if step in steps][:1]


def _shapes(plan: _Plan, tuning: tuple[int, ...]) -> Iterator[Frets]:
    """Every choice of strings and frets with the plan's tones, in one hand's reach."""
    strings, reach = len(tuning), REACHES[len(tuning)]
    for first in range(strings - _FIRST_BASS, strings - _LAST_BASS + 1):
        for fret in range((plan.bass - tuning[first]) % 12, _LAST_FRET + 1, 12):
            near = range(max(1, fret - reach), min(_LAST_FRET, fret + reach) + 1)
            window = near if fret else range(1, _LAST_FRET + 1)
            for upper in product(*_choices(plan, tuning[first + 1 :], window)):
                frets = (*(None,) * first, fret, *upper)
                if _is_shell(plan, tuning, frets):
                    yield frets


def _choices(
    plan: _Plan, strings: tuple[int, ...], window: range
) -> Iterator[tuple[int | None, ...]]:
    wanted = plan.needed.union(*plan.others)
    for string in strings:
        yield (None, *(fret for fret in window if (string + fret) % 12 in wanted))


def _is_shell(plan: _Plan, tuning: tuple[int, ...], frets: Frets) -> bool:
    sounding = zip(tuning, frets, strict=True)
    bass, *upper = [note + fret for note, fret in sounding if fret is not None]
    tones = frozenset(note % 12 for note in upper)
    return (
        len(tones) == len(upper) < MOST_TONES
        and plan.needed <= tones
        and tones - plan.needed in plan.others
        and all(note > bass for note in upper)
    )
