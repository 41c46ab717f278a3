"""Parts that are missing from a file or sound higher or lower, where the others agree.

Each voice of the file is given to the part that it fits best in time and pitch, whatever its
name; a part that is left without one is missing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

from backing.verify.causes.clues import UNPITCHED, Case, Onsets, Warp, strokes, turned
from backing.verify.expected.moments import ANY, Moment

#: How many moments of a part and which voices are compared at most.
MOST_MOMENTS, MOST_VOICES = 400, 10
#: The fewest moments by which a part is judged.
FEWEST = 4
#: A voice with more onsets isn't one that a part plays.
MOST_ONSETS = 60_000
#: The share of moments that a part meets where it is present, and where it is missing.
PRESENT, MISSING = 0.9, 0.05
#: The share of a voice's strokes that belong to its part, if it plays nothing else.
STRICT = 0.7
#: A part that meets this share of its moments at its own pitch isn't transposed.
ELSEWHERE = 0.6


class Alone(NamedTuple):
    """Parts that differ as a whole: missing ones, and by how many semitones (1-11) others move.

    Those that are `right` have a voice that plays just what they should.
    """

    missing: tuple[str, ...]
    moved: dict[str, int]
    right: tuple[str, ...]


class _Part(NamedTuple):
    """Some of a part's moments, and how many there are in all."""

    sample: Sequence[Moment]
    whole: int


class _Fit(NamedTuple):
    """How a voice fits a part: `worth` orders fits; `timed` and `tuned` are shares of moments.

    `up` is how many semitones higher it fits best, and `plain` the share tuned at 0.
    """

    worth: float
    timed: float
    tuned: float
    up: int
    plain: float
    strict: float
    """The share of the voice's strokes that are at moments of the part."""


def parts_alone(case: Case, warp: Warp) -> Alone:
    """Find parts that are missing or transposed in a file that is found at `warp`."""
    parts = {
        name: _Part(of_part[:: max(1, len(of_part) // MOST_MOMENTS)], len(of_part))
        for name, of_part in case.moments.items()
        if len(of_part) >= FEWEST
    }
    missing = [
        name
        for name, part in parts.items()
        if name in UNPITCHED and _timed(part.sample, case, warp) <= MISSING
    ]
    pitched = {name: part for name, part in parts.items() if _is_pitched(name, part)}
    fits = _given(pitched, case, warp)
    if all(fit.strict >= STRICT for fit in fits.values()):
        missing += [name for name in pitched if name not in fits]
    return Alone(
        tuple(missing),
        {name: fit.up for name, fit in fits.items() if _is_moved(fit)},
        tuple(name for name, fit in fits.items() if _is_right(fit)),
    )


def _is_pitched(name: str, part: _Part) -> bool:
    return name not in UNPITCHED and any(moment.pitches & ANY != ANY for moment in part.sample)


def _is_moved(fit: _Fit) -> bool:
    """Whether a part plays what it should, but higher or lower."""
    return bool(fit.up) and min(fit.timed, fit.tuned) >= PRESENT and fit.plain < ELSEWHERE


def _is_right(fit: _Fit) -> bool:
    return not fit.up and min(fit.timed, fit.tuned) >= PRESENT and fit.strict >= STRICT


def _timed(moments: Sequence[Moment], case: Case, warp: Warp) -> float:
    """The share of percussion moments that are met."""
    return sum(
        bool(_near(case.unpitched, moment.at_s, case, warp) & moment.pitches) for moment in moments
    ) / len(moments)


def _near(pool: Onsets, at_s: float, case: Case, warp: Warp) -> int:
    return pool.near.get(int((at_s * warp.scale + warp.shift_s) / case.width_s), 0)


def _given(parts: dict[str, _Part], case: Case, warp: Warp) -> dict[str, _Fit]:
    """The best voice of each part, the clearest pairs first; none where no voice fits at all."""
    voices = sorted(case.voices, key=lambda voice: -len(voice.bits))[:MOST_VOICES]
    pairs = [
        (_fit(part, voice, case, warp), name, index)
        for index, voice in enumerate(voices)
        if len(voice.bits) < MOST_ONSETS
        for name, part in parts.items()
    ]
    given: dict[str, _Fit] = {}
    taken: set[int] = set()
    for fit, name, index in sorted(pairs, key=lambda pair: -pair[0].worth):
        if name not in given and index not in taken and fit.timed > MISSING:
            given[name] = fit
            taken.add(index)
    return given


def _fit(part: _Part, voice: Onsets, case: Case, warp: Warp) -> _Fit:
    """Compare a voice with a part's moments at every number of semitones."""
    kinds = Counter(
        (moment.pitches & ANY, _near(voice, moment.at_s, case, warp)) for moment in part.sample
    )
    timed = sum(count for (_, there), count in kinds.items() if there) / len(part.sample)
    telling = {kind: count for kind, count in kinds.items() if kind[1] and kind[0] != ANY}
    told = max(1, sum(telling.values()))
    shares = [
        sum(
            count for (pitches, there), count in telling.items() if not there & ~turned(pitches, up)
        )
        / told
        for up in range(12)
    ]
    up = max(range(12), key=lambda up: shares[up] + 0.02 * (not up))
    width = sum(pitches.bit_count() * count for (pitches, _), count in telling.items()) / told
    strict = min(1.0, timed * part.whole / max(1, strokes(voice, case.width_s)))
    worth = shares[up] * timed * strict * (1.2 - width / 12)
    return _Fit(worth, timed, shares[up], up, shares[0], strict)
