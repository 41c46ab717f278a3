"""Where a capo lets a song sound as it does, with shapes that are open.

Frets 0 to 7 are weighed, and the writer's own where it is higher: beyond the seventh the
frets are too narrow for open shapes (common practice). At each, the chords are renamed so
that they sound the same, and given the shapes that would be played (`fingerings.voiced`);
the writer's own shapes stay with their symbols.

An open shape sounds an open string and holds no fret above the fourth, so no barre lies
across the neck. A chord counts as often as the hand comes to it in the song, repeats and
all; one that is struck again while it is held counts once.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise
from typing import NamedTuple

from backing.errors import BackingError
from backing.form.model import Form
from backing.practice.easier_shapes import played_chords
from backing.theory.chords import Chord
from backing.theory.easier import easier, strain
from backing.theory.fingerings import voiced
from backing.theory.fretboard import Fingering
from backing.theory.hand import difficulty, move_cost
from backing.theory.keys import Key
from backing.timeline import renamed, unroll

#: The highest capo that is weighed.
HIGHEST = 7
OPEN_FRETS = 4


class Shaped(NamedTuple):
    """A chord's name as a shape, its fingering, and how often the hand comes to it.

    `left_out` says what an easier shape lacks, "" where nothing.
    """

    name: str
    fingering: Fingering
    times: int
    left_out: str = ""

    @property
    def is_open(self) -> bool:
        """Whether it counts as an open shape."""
        return is_open(self.fingering)


class Place(NamedTuple):
    """A capo's fret, the key of the shapes there, each chord once, and the changes' effort.

    `effort` is the average of a change: what the hand moves (`hand.move_cost`) and how hard
    the shape it comes to is to hold (`hand.difficulty`, or for a beginner `easier.strain`).
    `own` marks the writer's own capo.
    """

    capo: int
    key: Key | None
    chords: tuple[Shaped, ...]
    effort: float
    own: bool = False

    @property
    def open_chords(self) -> int:
        """How many of the chords are open shapes."""
        return sum(chord.is_open for chord in self.chords)

    @property
    def open_share(self) -> float:
        """The share of all chords played that are open shapes, 0 to 1."""
        times = sum(chord.times for chord in self.chords)
        return sum(chord.times for chord in self.chords if chord.is_open) / times


def is_open(shape: Fingering) -> bool:
    """Whether an open string sounds in a shape, and no fret above the fourth is held."""
    return 0 in shape.frets and max(fret or 0 for fret in shape.frets) <= OPEN_FRETS


def places(form: Form, for_beginner: bool = False) -> tuple[Place, ...]:
    """Capos for a song's sounding key, the best first.

    Ranked by the share of chords played that are open shapes, then by the changes' effort,
    then the lower capo first. With `for_beginner` each chord takes its easiest shape.

    Raises:
        BackingError: the song has no chords.
    """
    chords = [chord for chord, _ in groupby(played_chords(form))]
    if not chords:
        raise BackingError(f"{form.title}: no chord is played, so no capo is better than another.")
    frets = sorted({*range(HIGHEST + 1), form.capo})
    found = [_place(form, chords, capo, for_beginner) for capo in frets]
    return tuple(sorted(found, key=lambda p: (-p.open_share, round(p.effort, 9), p.capo)))


def plays_riffs(form: Form) -> bool:
    """Whether a guitar plays tab somewhere, which a capo elsewhere would not fit."""
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
        taken = [_easiest(chord, form) for chord in named]
        shapes = [shape for shape, _ in taken]
        left_out = {str(chord): said for chord, (_, said) in zip(named, taken, strict=True)}
    else:
        shapes = list(voiced(named, form.tuning, form.shapes))
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
    """As `easier_form` takes it: the writer's own where it is no harder."""
    own = form.shapes.get(str(chord))
    shape, said = easier(chord, form.tuning)
    return (own, "") if own is not None and strain(own) <= strain(shape) else (shape, said)


def _effort(shapes: Sequence[Fingering], for_beginner: bool) -> float:
    """The average of a change; of a song that has none, the effort of its one shape."""
    held = strain if for_beginner else difficulty
    if len(shapes) == 1:
        return _held(held(shapes[0]), shapes[0])
    changes = list(pairwise(shapes))
    total = sum(move_cost(a, b) + _held(held(b), b) for a, b in changes)
    return total / len(changes)


def _held(effort: float, shape: Fingering) -> float:
    """A written shape that no hand holds, as `hand` knows hands, counts a finger a string."""
    return effort if effort < 100 else sum(bool(fret) for fret in shape.frets)
