"""Cues: what falls to each chord, once marks, rests and silent sections have had their say.

Every chordal player obeys the same rules, told here once. A pushed chord is struck
where it sounds, with the parts of its own section, and tied over the beat that it came
ahead of. A stop is struck short, a ring struck once; both then wait for the next chord.
At N.C., and where a section has the part off, all sound ends. A span belongs to one
pass, since no section begins with a slash. Positions are in whole notes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from typing import Any, Literal, NamedTuple, TypeAlias, TypeVar

from backing.form.model import PartSettings
from backing.theory.chords import Chord
from backing.timeline import Bar, Pass, Timeline

#: The longest that a stopped chord sounds: an eighth.
STOPPED_WHOLE = Fraction(1, 8)

Stroke = TypeVar("Stroke")
SettingsOf: TypeAlias = Callable[[Pass], PartSettings]


class Cue(NamedTuple):
    """Something for a player to do, from `start_whole` on.

    `change`: the harmony is `chord` now; what doesn't belong to it ends.
    `strike`: play `chord` with the player's own `stroke`, or, where that is None, with
    the plain stroke that a mark or a new chord asks for.
    `rest`: all sound ends.
    """

    start_whole: Fraction
    action: Literal["change", "strike", "rest"]
    chord: Chord | None = None
    stroke: Any = None


def settings_of(part: str, on: bool) -> SettingsOf:
    """What a pass says of a part, `on` decided: by its form or, unsaid there, as given."""
    # By identity: a pass holds mappings, so has no hash, and outlives this in its timeline.
    found: dict[int, tuple[Pass, PartSettings]] = {}

    def look_up(playing: Pass) -> PartSettings:
        if id(playing) not in found:
            said = playing.settings.parts.get(part, PartSettings())
            found[id(playing)] = playing, said if said.on is not None else said._replace(on=on)
        return found[id(playing)][1]

    return look_up


def cues(
    timeline: Timeline,
    settings: SettingsOf,
    strokes: Callable[[Bar], Sequence[tuple[Fraction, Stroke]]],
    strike_changes: bool = False,
) -> list[Cue]:
    """A part's cues in order; the last is the rest that ends the song.

    Args:
        settings: as `settings_of` gives them.
        strokes: a bar's strokes, each with its place from the bar line, in order.
        strike_changes: whether each chord is struck where it starts, stroke or no stroke.
    """
    grid = [struck for bar in timeline.played for struck in _placed(bar, strokes(bar))]
    found: list[Cue] = []
    place = 0
    for span in timeline.spans:
        start, slot, end, marks = span.start_whole, span.slot_whole, span.end_whole, span.marks
        sounding = span.chord is not None and settings(span.playing).on
        struck = sounding and (strike_changes or bool(marks))
        # What falls to the chord: from its slot on, unless it has been struck for itself.
        while place < len(grid) and (grid[place][0] < slot or (struck and grid[place][0] == slot)):
            place += 1
        first = place
        while place < len(grid) and grid[place][0] < end:
            place += 1

        if not sounding:
            found.append(Cue(start, "rest"))
            continue
        found.append(Cue(start, "change", span.chord))
        if struck:
            found.append(Cue(start, "strike", span.chord))
        if "stop" in marks:
            found.append(Cue(min(start + STOPPED_WHOLE, end), "rest"))
        elif "ring" not in marks:
            found += [Cue(at, "strike", span.chord, stroke) for at, stroke in grid[first:place]]
    found.append(Cue(_last_sound(timeline), "rest"))
    return found


def _placed(
    bar: Bar, strokes: Sequence[tuple[Fraction, Stroke]]
) -> Iterator[tuple[Fraction, Stroke]]:
    places = bar.places([offset for offset, _ in strokes])
    yield from zip(places, (stroke for _, stroke in strokes), strict=True)


def _last_sound(timeline: Timeline) -> Fraction:
    """The last bar line or, where the last chord is left to ring, as long as it may."""
    rings = bool(timeline.spans) and "ring" in timeline.spans[-1].marks
    return timeline.end_whole + (timeline.ring_out_whole if rings else 0)
