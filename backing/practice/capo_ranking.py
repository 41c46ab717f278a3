"""Which capos let a song be played with open shapes while it sounds the same.

Capos 0 to 7 are compared, and the writer's own where it is higher: beyond the seventh the
frets are too narrow for open shapes (common practice). For each capo the chords are renamed
so that they sound the same, and get the shapes that would be played (`fingerings.voiced`);
the writer's own shapes stay with their symbols.

An open shape has an open string that sounds and no finger above the fourth fret, so no barre
lies across the neck. A chord counts every time the hand comes to it in the song, repeats
included; one that is struck again while it is held counts once.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise
from typing import NamedTuple

from backing.errors import BackingError
from backing.form.model import Form
from backing.form.transposed import renamed
from backing.practice.easier_shapes import played_chords
from backing.theory.chords import Chord
from backing.theory.easier import easier, strain
from backing.theory.fingerings import voiced
from backing.theory.fretboard import Fingering
from backing.theory.hand import difficulty, move_cost
from backing.theory.keys import Key
from backing.timeline import unroll

#: The highest capo compared, unless the writer's own is higher.
HIGHEST = 7
#: The highest fret of an open shape.
OPEN_FRETS = 4


class Shaped(NamedTuple):
    """A chord's name as a shape, its fingering, and how often the hand comes to it.

    `left_out` says what an easier shape leaves out, "" for nothing.
    """

    name: str
    fingering: Fingering
    times: int
    left_out: str = ""

    @property
    def is_open(self) -> bool:
        """Whether it is an open shape."""
        return is_open(self.fingering)


class Place(NamedTuple):
    """A capo's fret, the key of the shapes there, each chord once, and the effort per change.

    The effort of a change is how far the hand moves (`hand.move_cost`) plus how hard the new
    shape is to hold (`hand.difficulty`, or for beginners `easier.strain`); `effort_per_change`
    is the average. `own` marks the writer's own capo.
    """

    capo: int
    key: Key | None
    chords: tuple[Shaped, ...]
    effort_per_change: float
    own: bool = False

    @property
    def open_chords(self) -> int:
        """How many of the chords are open shapes."""
        return sum(chord.is_open for chord in self.chords)

    @property
    def percent_of_song(self) -> float:
        """How many of the chords played are open shapes, in percent."""
        times = sum(chord.times for chord in self.chords)
        return 100 * sum(chord.times for chord in self.chords if chord.is_open) / times


def is_open(shape: Fingering) -> bool:
    """Whether an open string sounds in a shape and no finger is above the fourth fret."""
    return 0 in shape.frets and max(fret or 0 for fret in shape.frets) <= OPEN_FRETS


def places(form: Form, for_beginner: bool = False) -> tuple[Place, ...]:
    """Capos for a song that keeps its sounding key, the best first.

    Ranked by the percentage of chords played that are open shapes, then by the effort per
    change, then the lower capo first. With `for_beginner` each chord takes its easiest shape.

    Raises:
        BackingError: the song has no chords.
    """
    chords = [chord for chord, _ in groupby(played_chords(form))]
    if not chords:
        raise BackingError(f"{form.title}: there are no chords, so no capo is better than another.")
    frets = sorted({*range(HIGHEST + 1), form.capo})
    found = [_place(form, chords, capo, for_beginner) for capo in frets]
    return tuple(sorted(found, key=_rank))


def _rank(place: Place) -> tuple[float, float, int]:
    return -place.percent_of_song, round(place.effort_per_change, 9), place.capo


def plays_riffs(form: Form) -> bool:
    """Whether a guitar plays tab somewhere, which fits only the capo it was written for."""
    passes = unroll(form, count_in=False).passes
    return any(
        part.riff is not None and part.on is not False
        for playing in passes
        for part in playing.settings.parts.values()
    )


def _place(form: Form, chords: Sequence[Chord], capo: int, for_beginner: bool) -> Place:
    down = form.capo - capo
    named = [renamed(chord, down, form.key) or chord for chord in chords]
    left_out = {}
    if for_beginner:
        easiest = [_easiest(chord, form) for chord in named]
        shapes = [shape for shape, _ in easiest]
        left_out = {str(chord): out for chord, (_, out) in zip(named, easiest, strict=True)}
    else:
        shapes = list(voiced(named, form.tuning, form.shapes, form.voicing))
    symbols = [str(chord) for chord in named]
    shape_of = dict(zip(symbols, shapes, strict=True))
    return Place(
        capo,
        form.key and form.key.transposed(down),
        tuple(
            Shaped(symbol, shape, symbols.count(symbol), left_out.get(symbol, ""))
            for symbol, shape in shape_of.items()
        ),
        _effort(shapes, for_beginner),
        capo == form.capo,
    )


def _easiest(chord: Chord, form: Form) -> tuple[Fingering, str]:
    """The shape that `easier_form` gives a chord, and what it leaves out."""
    own = form.shapes.get(str(chord))
    shape, left_out = easier(chord, form.tuning)
    return (own, "") if own is not None and strain(own) <= strain(shape) else (shape, left_out)


def _effort(shapes: Sequence[Fingering], for_beginner: bool) -> float:
    """The average effort of a change; of a song without changes, that of its one shape."""
    effort_of = strain if for_beginner else difficulty
    if len(shapes) == 1:
        return _within_reach(effort_of(shapes[0]), shapes[0])
    changes = list(pairwise(shapes))
    total = sum(move_cost(a, b) + _within_reach(effort_of(b), b) for a, b in changes)
    return total / len(changes)


def _within_reach(effort: float, shape: Fingering) -> float:
    """The effort of a shape; one that `hand` finds out of reach counts a finger for each string."""
    return effort if effort < 100 else sum(bool(fret) for fret in shape.frets)
