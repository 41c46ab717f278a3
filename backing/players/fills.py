"""What the drums play into the next pass, and into bar 1."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache

from backing.players.drum_beats import Hit, at_level
from backing.theory.built_in_beats import LEAD_IN
from backing.theory.fills import (
    ACCENT,
    LARGE_BEATS,
    LETTERS,
    QUICK_BEAT_S,
    SMALL_BEATS,
    Cell,
    fills_for,
)
from backing.theory.rhythm import Meter
from backing.timeline import Bar, Timeline

#: Velocities of the strokes that lead into bar 1.
LEAD_IN_VELOCITIES = (52, 66)


@lru_cache(maxsize=256)
def fill_hits(
    meter: Meter, parts: int, kit: int, level: str, is_large: bool, turn: int
) -> tuple[Hit, ...]:
    """A fill over the last beats of a bar; none in a bar of one beat.

    Args:
        meter: the bar's.
        parts: into how many steps a beat of one unit is divided.
        kit: a General MIDI program.
        level: a key of `LEVELS`.
        is_large: whether another section follows.
        turn: how many fills of its size there were before.
    """
    count = len(meter.beats)
    if count == 1:
        return ()
    fills = fills_for(kit, level)
    of_size = fills.large if is_large else fills.small
    cells = of_size[turn % len(of_size)]
    beats = range(count - (LARGE_BEATS if is_large else SMALL_BEATS), count)
    struck = [
        (at, letter)
        for beat, cell in zip(beats, cells, strict=True)
        for at, letter in _strokes(within(meter, beat, parts), cell)
    ]
    rise, last = fills.loudest - fills.softest, max(1, len(struck) - 1)
    return tuple(
        Hit(
            at,
            LETTERS[letter.lower()],
            at_level(fills.softest + rise * index // last + ACCENT * letter.isupper(), level),
        )
        for index, (at, letter) in enumerate(struck)
    )


def _strokes(steps: Sequence[Fraction], cell: Cell) -> Iterator[tuple[Fraction, str]]:
    line = cell[min(len(steps), max(cell))]
    for index, at in enumerate(steps):
        letter = line[min(index, len(line) - 1)]
        if letter != "-":
            yield at, letter


def answer(kit: int, level: str) -> Hit:
    """The cymbal that answers a fill on the next bar line."""
    fills = fills_for(kit, level)
    return Hit(Fraction(0), fills.cymbal, at_level(fills.answer, level))


def steps_of_a_beat(bar: Bar, timeline: Timeline) -> int:
    """How many strokes fill a beat of one unit, where it isn't in triplets."""
    beat_s = bar.meter.beats[-1] * timeline.seconds_per_whole(bar.start_whole)
    return 4 if beat_s >= Fraction(*QUICK_BEAT_S) else 2


def within(meter: Meter, beat: int, parts: int) -> list[Fraction]:
    """The strokes that fill a beat: one for each of its units, or `parts` for a single unit."""
    start, length = meter.beat_starts[beat], meter.beats[beat]
    gathered = len(meter.beats) < meter.count or meter.unit >= 8
    step = meter.unit_whole if gathered else length / parts
    return [start + index * step for index in range(int(length / step))]


def lead_in_hits(meter: Meter, parts: int, level: str) -> list[Hit]:
    """One or two strokes after a bar's last beat; that beat itself is the click's."""
    strokes = within(meter, len(meter.beats) - 1, parts)
    late = strokes[max(1, (len(strokes) + 1) // 2) :][-2:]
    velocities = LEAD_IN_VELOCITIES[2 - len(late) :]
    return [
        Hit(at, LEAD_IN, at_level(velocity, level))
        for at, velocity in zip(late, velocities, strict=True)
    ]
