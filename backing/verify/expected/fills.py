"""What a fill strikes, from the table of fills, by this proof's own arithmetic.

A fill is over a bar's last beat or, where another section follows, its last two; a bar of one
beat has none. Fills of one size take turns through a round. A beat of several units has a step
for each of them, and so has every beat of eighths or shorter ones. Any other beat has three steps
where the bar's beat plays triplets, two of swung eighths, and else four or, if it is quick, two.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import TypeAlias

from backing.theory.fills import (
    BRUSHED,
    LARGE_BEATS,
    LETTERS,
    LIGHT,
    QUICK_BEAT_S,
    SMALL_BEATS,
    STICKS,
    Fills,
)
from backing.theory.general_midi import BRUSH_KIT
from backing.theory.rhythm import Meter

#: A place in whole notes from the bar line, as written, and a drum.
Stroke: TypeAlias = "tuple[Fraction, int]"


def fill_in(
    meter: Meter, steps: int, kit: int, level: str | None, large: bool, turn: int
) -> tuple[Stroke, ...]:
    """The strokes of a fill, in order; none in a bar of one beat.

    Args:
        meter: the bar's.
        steps: those of a beat of one unit.
        kit: a General MIDI program.
        level: as the form has it.
        large: whether another section follows.
        turn: how many of its size came before it in the round.
    """
    if len(meter.beats) == 1:
        return ()
    table = fills_on(kit, level)
    choices = table.large if large else table.small
    chosen = choices[turn % len(choices)]
    assert len(chosen) == (LARGE_BEATS if large else SMALL_BEATS)
    return tuple(_strokes(meter, steps, chosen))


def fills_on(kit: int, level: str | None) -> Fills:
    """The table's fills for a kit at a level."""
    if kit != BRUSH_KIT:
        return LIGHT if level == "light" else STICKS
    return BRUSHED


def steps_of(meter: Meter, quarter_bpm: Fraction) -> int:
    """How many steps the last beat of a bar has at a tempo, if it is one unit."""
    seconds = meter.beats[-1] * 240 / quarter_bpm
    numerator, denominator = QUICK_BEAT_S
    return 2 if seconds * denominator < numerator else 4


def _strokes(meter: Meter, steps: int, cells: tuple[dict[int, str], ...]) -> Iterator[Stroke]:
    lengths = meter.beats[-len(cells) :]
    start = meter.bar_whole - sum(lengths)
    units = [length * meter.unit for length in meter.beats]
    by_unit = meter.unit >= 8 or max(units) > 1
    for cell, length in zip(cells, lengths, strict=True):
        count = int(length * meter.unit) if by_unit else steps
        letters = cell[count] if count in cell else cell[max(cell)]
        letters += letters[-1] * (count - len(letters))
        for index, letter in enumerate(letters[:count]):
            if letter != "-":
                yield start + length * index / count, LETTERS[letter.lower()]
        start += length
