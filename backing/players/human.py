"""Human time and touch: each player's notes a little early or late, louder or softer.

People stray from the grid in slow waves with quicker ones on them, whose power falls with
their rate as 1/f, not at random from note to note, and listeners strongly prefer the first
kind (Hennig and others, "The nature and perception of fluctuations in human musical
rhythms", PLoS ONE 6(10), 2011). A drift here is the sum of eight waves alike in width,
each half as quick as the one before: from an eighth note to sixteen whole notes a turn.

At 100 percent time strays by a standard deviation of nearly 6 ms and never by more than
12 ms. At the usual 75 no two players are more than 18 ms apart: asynchronies below 19 ms
were preferred both to wider ones and to none at all (Journal of New Music Research 46(4),
2017). How far loudness strays is this project's choice.

A drift bends a player's time as a whole. It is one rising function of position, for the
starts and ends of notes, bends and controls alike: so the strings of a stroke move
together, a note that ended where the next one starts still does, and no order changes.
The click stays exact, since the others are judged by it.

The seed and the part's name give the drift. Only `Random.random` is used, which Python
keeps the same for a seed in every version.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from fractions import Fraction
from functools import cache
from itertools import pairwise
from random import Random

from backing.form.parts import CLICK
from backing.players.arm import swept
from backing.score import Note, Score, TempoChange, Track

#: How far from the grid at most, at 100 percent: seconds, and steps of velocity.
FARTHEST_S = Fraction(12, 1000)
FARTHEST_VELOCITY = 8

#: Places are moved in these units to a whole note, to keep their fractions simple.
GRID = 7680
#: From turn to turn of the quickest wave, in units: an eighth note.
TURN = GRID // 8
WAVES = 8
#: How far a single wave goes, as a share of the farthest. Evenly spread turns make the sum's
#: standard deviation about half of the farthest; what would go beyond that is cut off there.
SHARE = 0.36


def humanize(score: Score, percent: int, seed: int = 0) -> Score:
    """A score as people play it: each part a little early or late, louder or softer.

    Args:
        score: as `play` returns it, exactly on the grid, with all strings of a stroke at once.
        percent: from 0 (exact) to 100 (up to 12 ms and 8 steps of velocity); a form's own is
            `form.human`.
        seed: which of many performances; the same score, percent and seed give the same one.

    Returns:
        The score with its strokes spread over time and its notes moved; the click, tempos, markers
        and chord names stay exact.
    """
    score = swept(score, percent, seed)
    if not percent:
        return score
    turns = _unit(score.end_whole) // TURN + 2
    farthest = _farthest_units(score.tempos, turns, FARTHEST_S * percent / 100)
    loudest = FARTHEST_VELOCITY * percent / 100

    def played(track: Track) -> Track:
        if track.part == CLICK:
            return track
        early_late = drift(f"{seed}/{track.part}/time", turns)
        shifts = [share * units for share, units in zip(early_late, farthest, strict=True)]
        shifts[0] = max(0.0, shifts[0])  # nothing starts before the file does
        touch = [share * loudest for share in drift(f"{seed}/{track.part}/touch", turns)]
        moved = _mover(shifts, _unit(score.end_whole))
        return track._replace(
            notes=_notes(track.notes, moved, touch),
            bends=tuple(
                bend._replace(start_whole=moved(_unit(bend.start_whole))) for bend in track.bends
            ),
            changes=tuple(
                change._replace(start_whole=moved(_unit(change.start_whole)))
                for change in track.changes
            ),
        )

    return score._replace(tracks=tuple(map(played, score.tracks)))


def drift(seed: str, turns: int) -> list[float]:
    """The first `turns` places of a 1/f drift, an eighth note apart, from -1 to 1.

    The slowest wave is drawn first; then a place is put midway between every two, and the
    next wave is added to them all, until there are enough waves.
    """
    draw = Random(seed).random
    slowest = 1 << (WAVES - 1)
    skipped = int(draw() * slowest)
    line = [0.0] * ((skipped + turns) // slowest + 3)
    for wave in range(WAVES):
        if wave:
            halfway = [(a + b) / 2 for a, b in pairwise(line)]
            line = [value for pair in zip(line, halfway, strict=False) for value in pair]
        line = [value + SHARE * (2 * draw() - 1) for value in line]
    return [min(1.0, max(-1.0, value)) for value in line[skipped : skipped + turns]]


def _farthest_units(tempos: Sequence[TempoChange], turns: int, farthest_s: Fraction) -> list[float]:
    """How many units a place near each turn may be moved.

    The slowest tempo from the turn before to the turn after sets it, since both move a
    place between them; one unit less leaves room for rounding.
    """
    starts = [_unit(start) for start, _ in tempos]
    units = [max(0.0, float(GRID * bpm / 240 * farthest_s) - 1) for _, bpm in tempos]
    if len(units) == 1:
        return units * turns
    return [
        min(
            units[
                max(0, bisect_right(starts, (turn - 1) * TURN) - 1) : max(
                    1, bisect_right(starts, (turn + 1) * TURN)
                )
            ]
        )
        for turn in range(turns)
    ]


def _mover(shifts: Sequence[float], last: int) -> Callable[[int], Fraction]:
    """Units to where a drift moves them: at each turn by its shift, in between by a share of two.

    Neighboring shifts differ by less than a turn, at any tempo that a form may have, so
    later places stay later; none goes past `last`.
    """

    @cache
    def moved(unit: int) -> Fraction:
        turn, past = divmod(unit, TURN)
        here = shifts[turn]
        shifted = unit + round(here + (shifts[turn + 1] - here) * past / TURN)
        return Fraction(shifted if shifted < last else last, GRID)

    return moved


def _notes(
    notes: Sequence[Note], moved: Callable[[int], Fraction], touch: Sequence[float]
) -> tuple[Note, ...]:
    played = []
    for start_whole, end_whole, pitch, velocity, string, bends, muted, _, early_whole in notes:
        unit = _unit(start_whole)
        turn, past = divmod(unit, TURN)
        here = touch[turn]
        velocity += round(here + (touch[turn + 1] - here) * past / TURN)
        if not 1 <= velocity <= 127:
            velocity = 1 if velocity < 1 else 127
        start, end = moved(unit), moved(_unit(end_whole))
        played.append(
            Note(start, end, pitch, velocity, string, bends, muted, early_whole=early_whole)
        )
    return tuple(played)


def _unit(place: Fraction) -> int:
    numerator, denominator = place.as_integer_ratio()
    return numerator * GRID // denominator
