"""The page's table of chords: each one's names and shape boxes in every key that it can move to.

A shape is the one that the guitarist of the track plays; a chord that the student has moved
takes the first choice of the search. Strings are counted as fingerings are, from 0, low first.
"""

from __future__ import annotations

from backing.form.transposed import renamed
from backing.page.limits import FARTHEST_MOVE
from backing.page.page_json import ChordData, ShapeData
from backing.theory.boxes import barres, first_fret, frets_shown
from backing.theory.chords import Chord
from backing.theory.fingerings import voiced
from backing.theory.fretboard import Fingering
from backing.theory.hand import assign_fingers
from backing.timeline import Timeline

#: In place of a shape, for a bass student.
NO_SHAPE = -1


class ChordTable:
    """A song's chords in order of their first place, and the shapes that they need."""

    def __init__(self, timeline: Timeline) -> None:
        self.form = timeline.form
        chords = [span.chord for span in timeline.spans if span.chord is not None]
        played = voiced(chords, self.form.tuning, self.form.shapes, self.form.voicing)
        self.taken = {str(chord): shape for chord, shape in zip(chords, played, strict=True)}
        self.index_of: dict[tuple[str, int], int] = {}
        self.table: list[ChordData] = []
        self.shapes: list[ShapeData] = []
        self._shape_of: dict[Fingering, int] = {}
        for span in timeline.spans:
            if span.chord is not None:
                self._add(span.chord, span.playing.transpose)

    def _add(self, chord: Chord, moved: int) -> None:
        """Add a chord of a line that the form itself moves by `moved` semitones."""
        if (str(chord), moved) in self.index_of:
            return
        self.index_of[str(chord), moved] = len(self.table)
        key = self.form.key and self.form.key.transposed(moved)
        names = [
            renamed(chord, up, key) or chord for up in range(-FARTHEST_MOVE, FARTHEST_MOVE + 1)
        ]
        self.table.append(
            {
                "name": str(chord),
                "sounding": str(renamed(chord, self.form.capo, key)),
                "moved": [str(name) for name in names],
                "shapes": [self._shape(name) for name in names],
            }
        )

    def _shape(self, chord: Chord) -> int:
        if self.form.instrument.is_bass:
            return NO_SHAPE
        shape = (
            self.taken.get(str(chord))
            or self.form.shapes.get(str(chord))
            or voiced([chord], self.form.tuning, voicing=self.form.voicing)[0]
        )
        if shape not in self._shape_of:
            self._shape_of[shape] = len(self.shapes)
            self.shapes.append(box(shape))
        return self._shape_of[shape]


def box(shape: Fingering) -> ShapeData:
    """A shape as its box is drawn: frets, fingers, barres and the first fret shown."""
    fingers = shape.fingers or assign_fingers(shape) or (0,) * len(shape.frets)
    return {
        "frets": list(shape.frets),
        "fingers": list(fingers),
        "barres": [
            {"fret": one.fret, "low": one.low, "high": one.high}
            for one in barres(shape.frets, fingers)
        ],
        "base": first_fret(shape.frets),
        "rows": frets_shown(shape.frets),
        "text": str(shape),
    }
