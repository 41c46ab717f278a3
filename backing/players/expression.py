"""How a held sound grows and fades: by its channel's expression, also within a note.

A struck note is as loud as it is struck, so its dynamics are in its velocity. A held one that
lasts into a lift, or into a section of another dynamic, must change while it sounds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from backing.players.dynamics import Stretch, scaled
from backing.score import Control, Track
from backing.theory.device_levels import MOST, RESTING_EXPRESSION
from backing.theory.general_midi import SUSTAINED


def with_expression(track: Track, stretches: Sequence[Stretch], end_whole: Fraction) -> Track:
    """A track whose dynamics are in its expression where its sound is held, else in velocities.

    Args:
        track: with the notes as they are before any dynamics, and its changes of program.
        stretches: the song's dynamics.
        end_whole: where the file ends.
    """
    programs = [(Fraction(0), track.program), *_programs(track)]
    notes = tuple(
        note if _holding(programs, note.start_whole) in SUSTAINED else louder
        for note, louder in zip(track.notes, scaled(track.notes, stretches), strict=True)
    )
    (_, first), *later = _values(stretches, programs, end_whole)
    changes = [Control(at, "expression", value) for at, value in later]
    return track._replace(
        notes=notes,
        expression=first,
        changes=tuple(sorted((*track.changes, *changes), key=_start)),
    )


def _programs(track: Track) -> Iterator[tuple[Fraction, int | None]]:
    for change in track.changes:
        if change.what == "program":
            yield change.start_whole, change.value


def _holding(programs: Sequence[tuple[Fraction, int | None]], at: Fraction) -> int | None:
    """The program at a place."""
    return next(program for start, program in reversed(programs) if start <= at)


def _values(
    stretches: Sequence[Stretch],
    programs: Sequence[tuple[Fraction, int | None]],
    end_whole: Fraction,
) -> list[tuple[Fraction, int]]:
    """The expression from each place on, by single steps where it grows; no value twice."""
    starts = {stretch.start_whole for stretch in stretches} | {start for start, _ in programs}
    found: list[tuple[Fraction, int]] = []
    for at in sorted(starts):
        stretch = next((one for one in reversed(stretches) if one.start_whole <= at), stretches[0])
        held = _holding(programs, at) in SUSTAINED
        found += _grown(stretch, at) if held else [(at, RESTING_EXPRESSION)]
    kept: list[tuple[Fraction, int]] = []
    for at, value in found:
        if at <= end_whole and (not kept or kept[-1][1] != value):
            kept.append((at, value))
    return kept


def _grown(stretch: Stretch, since: Fraction) -> Iterator[tuple[Fraction, int]]:
    """A stretch's expression from a place in it on."""
    rest = stretch.level * RESTING_EXPRESSION
    yield since, min(MOST, round(rest))
    if stretch.grows:
        most = rest * (1 + stretch.grows)
        for value in range(round(rest) + 1, min(MOST, round(most)) + 1):
            at = stretch.start_whole + (value - rest) / (most - rest) * stretch.length_whole
            if since < at < stretch.start_whole + stretch.length_whole:
                yield at, value


def _start(change: Control) -> Fraction:
    return change.start_whole
