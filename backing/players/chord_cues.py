"""Cues: what each chord asks of a player, once marks, rests and silent sections are applied.

Every player of chords follows the same rules, written here once. A pushed chord is struck
where it sounds, with the settings of its own section, and held over the beat that it came
ahead of. A stop is struck short, a ring struck once; both then wait for the next chord.
At N.C., and where a section has the part off, all sound ends. A span belongs to one
pass, since no section begins with a slash. Positions are in whole notes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from typing import Any, Literal, NamedTuple, TypeVar

from backing.players.part_settings import SettingsOf
from backing.players.tiling import Placed, placed
from backing.theory.chords import Chord
from backing.timeline import Bar, Span, Timeline

#: The longest that a stopped chord sounds: an eighth.
STOPPED_WHOLE = Fraction(1, 8)

Stroke = TypeVar("Stroke")


class Cue(NamedTuple):
    """Something for a player to do, from `start_whole` on.

    `change`: the harmony is `chord` now; what doesn't belong to it ends.
    `strike`: play `chord` with the player's own `stroke` or, where that is None, with
    the plain stroke of a mark or a new chord.
    `rest`: all sound ends.
    """

    start_whole: Fraction
    action: Literal["change", "strike", "rest"]
    chord: Chord | None = None
    stroke: Any = None


def chord_cues(
    timeline: Timeline,
    settings: SettingsOf,
    strokes: Callable[[Bar], Placed[Stroke]],
    strike_changes: bool = False,
    is_short: Callable[[Stroke], bool] = lambda stroke: False,
) -> list[Cue]:
    """A part's cues in order; the last is the rest that ends the song.

    Args:
        settings: as `settings_of` gives them.
        strokes: a bar's strokes, each with its place from the bar line, in order.
        strike_changes: whether each chord is struck where it starts, stroke or no stroke.
        is_short: whether a stroke is stopped halfway to the next one or to the next chord.
    """
    grid = [struck for bar in timeline.played for struck in placed(bar, strokes(bar))]
    found: list[Cue] = []
    place = 0
    for span in timeline.spans:
        sounding = span.chord is not None and bool(settings(span.playing).on)
        struck = sounding and (strike_changes or bool(span.marks))
        first, place = _falling_to(span, grid, place, struck)
        if sounding:
            found += _cues_of(span, struck, grid[first:place], is_short)
        else:
            found.append(Cue(span.start_whole, "rest"))
    found.append(Cue(_last_sound(timeline), "rest"))
    return found


def _falling_to(
    span: Span, grid: Sequence[tuple[Fraction, Stroke]], place: int, struck: bool
) -> tuple[int, int]:
    """From where to where the grid's strokes fall to a chord, counting from `place` on.

    They start at its slot, or after it if the chord is struck there without them.
    """
    while place < len(grid) and (
        grid[place][0] < span.slot_whole or (struck and grid[place][0] == span.slot_whole)
    ):
        place += 1
    first = place
    while place < len(grid) and grid[place][0] < span.end_whole:
        place += 1
    return first, place


def _cues_of(
    span: Span,
    struck: bool,
    strokes: Sequence[tuple[Fraction, Stroke]],
    is_short: Callable[[Stroke], bool],
) -> Iterator[Cue]:
    """A sounding chord's cues."""
    start = span.start_whole
    yield Cue(start, "change", span.chord)
    if struck:
        yield Cue(start, "strike", span.chord)
    if "stop" in span.marks:
        yield Cue(min(start + STOPPED_WHOLE, span.end_whole), "rest")
    elif "ring" not in span.marks:
        following = [*(at for at, _ in strokes), span.end_whole][1:]
        for (at, stroke), then in zip(strokes, following, strict=False):
            yield Cue(at, "strike", span.chord, stroke)
            if is_short(stroke):
                yield Cue((at + then) / 2, "rest")


def _last_sound(timeline: Timeline) -> Fraction:
    """The last bar line or, where the last chord is left to ring, as long as it may."""
    rings = bool(timeline.spans) and "ring" in timeline.spans[-1].marks
    return timeline.end_whole + (timeline.ring_out_whole if rings else 0)
