"""The drums: a built-in beat in each meter or the writer's own lines, and what a drummer adds.

A beat for brushes is played on the brush set, all others and written lines on the standard kit.

In a `stop` or a `ring` only its first stroke is struck, and the drums wait for the next
chord; at N.C. they go on. With a built-in beat that is neither light nor for brushes, a crash
opens each section that differs from the one before, and a stroke or two on the snare after
the last beat of the count-in leads into bar 1. `fill: on` puts a fill in the last bar of every
pass but the song's last: over its last beat or, before another section, over its last two. A
cymbal answers it in the next bar. Written lines are played as written, and get all of these
only with `fill: on`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import TypeAlias

from backing.form.model import PartSettings
from backing.form.parts import DRUM_BEAT, FILL, LEVEL
from backing.form.pattern_records import DrumPattern
from backing.players.drum_beats import (
    DEFAULT_LEVEL,
    Hit,
    at_level,
    beat_for,
    beat_hits,
    is_straight,
    place_in_phrase,
)
from backing.players.fills import answer, fill_hits, lead_in_hits, steps_of_a_beat
from backing.players.part_settings import SettingsOf
from backing.players.tiling import bar_steps, own_meter
from backing.score import Control, Note
from backing.theory import built_in_beats
from backing.theory.built_in_beats import CRASH, FOOT, HAT, OPEN_HAT, RIDE, Beat, is_brushed
from backing.theory.general_midi import BRUSH_KIT, STANDARD_KIT, percussion_number
from backing.theory.rhythm import Meter, later
from backing.timeline import Bar, Span, Timeline

HATS = (HAT, OPEN_HAT, FOOT)
#: How long a stroke lasts in the file; an open hi-hat, unless the next hat closes it; a crash.
STROKE_WHOLE = Fraction(1, 32)
RINGING_WHOLE = {OPEN_HAT: Fraction(1, 4), CRASH: Fraction(1, 2)}

#: Velocities of written strokes, plain and accented; those of hats, ride and shakers.
WRITTEN, WRITTEN_SOFTER = (90, 112), (66, 86)
_SHAKEN = ("tambourine", "cabasa", "maracas")
_SOFTER = {*HATS, RIDE, *map(percussion_number, _SHAKEN)}
STOP_VELOCITY = 104


def play(timeline: Timeline, settings: SettingsOf) -> list[Note]:
    """The strokes in order, each ended by the next of its drum."""
    waits = _waits(timeline)
    struck = _every_stroke(timeline, settings, waits)
    return _ended(struck, waits, timeline.end_whole + timeline.ring_out_whole)


def kits(timeline: Timeline, settings: SettingsOf) -> tuple[Control, ...]:
    """Each change to another kit, at the first stroke on it; the standard kit is there first."""
    if not any(_may_brush(settings(playing)) for playing in timeline.passes):
        return ()
    now = STANDARD_KIT
    changes = []
    for at, _, _, kit in _every_stroke(timeline, settings, _waits(timeline)):
        if kit != now:
            changes.append(Control(at, "program", kit))
            now = kit
    return tuple(changes)


#: Where, on what, how loud, and on which kit.
_Struck: TypeAlias = "tuple[Fraction, int, int, int]"


def _waits(timeline: Timeline) -> list[Span]:
    """The chords with which the drums stop or ring."""
    return [span for span in timeline.spans if span.marks & {"stop", "ring"}]


def _every_stroke(timeline: Timeline, settings: SettingsOf, waits: Sequence[Span]) -> list[_Struck]:
    struck = list(_outside(waits, _grid(timeline, settings)))
    for span in waits:
        part = settings(span.playing)
        if part.on:
            meter = span.playing.settings.meter or timeline.form.meter
            kit = _kit(part, meter)
            hits = _marked(span, part, kit)
            struck += [(span.start_whole, pitch, velocity, kit) for pitch, velocity in hits]
    if waits:
        struck.sort()
    return struck


def _may_brush(part: PartSettings) -> bool:
    """Whether a part's beat is for the brush set, in some meter."""
    beat = DRUM_BEAT.of(part)
    return bool(part.on) and is_brushed(beat)


def _kit(part: PartSettings, meter: Meter) -> int:
    beat = DRUM_BEAT.of(part)
    return STANDARD_KIT if isinstance(beat, DrumPattern) else beat_for(beat, meter).kit


def _outside(waits: Sequence[Span], grid: Iterable[_Struck]) -> Iterator[_Struck]:
    """The strokes that are outside every stop and ring."""
    index = 0
    for stroke in grid:
        while index < len(waits) and waits[index].end_whole <= stroke[0]:
            index += 1
        if index == len(waits) or stroke[0] < waits[index].start_whole:
            yield stroke


def _grid(timeline: Timeline, settings: SettingsOf) -> Iterator[_Struck]:
    """Every stroke of every bar, as if no chord had a mark."""
    yield from _lead_in(timeline, settings)
    turns = {True: 0, False: 0}  # fills so far, large and small
    before: str | None = None
    filled = False
    for bar, after in pairwise((*timeline.bars, None)):
        assert bar is not None
        opens = bar.playing.section != before
        before = bar.playing.section
        part = settings(bar.playing)
        if not part.on:
            filled = False
            continue
        hits, kit = _hits(bar, timeline, part), _kit(part, bar.meter)
        fill: tuple[Hit, ...] = ()
        in_triplets = any(hit.offset_whole.denominator % 3 == 0 for hit in hits)
        ends_with_fill = _ends_with_fill(bar, after, part)
        parts = _parts(bar, timeline, part)
        if ends_with_fill and after is not None:
            is_large = after.playing.section != bar.playing.section
            fill = fill_hits(bar.meter, parts, kit, _level(part), is_large, turns[is_large])
            turns[is_large] += 1
            hits = _before_fill(hits, fill)
        if (opens and _adds(part, bar.meter)) or (filled and _may_add(part)):
            hits = _with_cymbal(hits, answer(kit, _level(part)))
        filled = ends_with_fill
        yield from _struck(bar, hits, kit, in_triplets)
        yield from _struck(bar, fill, kit, parts == 3)


def _ends_with_fill(bar: Bar, after: Bar | None, part: PartSettings) -> bool:
    """Whether a bar is the last of a pass, with room for a fill, and isn't the song's last."""
    ends_pass = after is not None and after.playing is not bar.playing
    return ends_pass and bool(FILL.of(part)) and len(bar.meter.beats) > 1


def _struck(bar: Bar, hits: Iterable[Hit], kit: int, in_triplets: bool) -> Iterator[_Struck]:
    """Hits where they sound: what is in triplets doesn't swing."""
    for offset, pitch, velocity in hits:
        at = later(bar.start_whole, offset) if in_triplets else bar.at(offset)
        yield at, pitch, velocity, kit


def _level(part: PartSettings) -> str:
    return LEVEL.of(part) or DEFAULT_LEVEL


def _adds(part: PartSettings, meter: Meter) -> bool:
    """Whether the drummer crashes into each section and leads into bar 1."""
    return _level(part) != "light" and _may_add(part) and _kit(part, meter) == STANDARD_KIT


def _may_add(part: PartSettings) -> bool:
    """Whether a drummer may add to the beat: to written lines only with `fill: on`."""
    return not isinstance(DRUM_BEAT.of(part), DrumPattern) or bool(FILL.of(part))


def _hits(bar: Bar, timeline: Timeline, part: PartSettings) -> tuple[Hit, ...]:
    """A bar's own beat, built in or as written."""
    beat = DRUM_BEAT.of(part)
    if not isinstance(beat, DrumPattern):
        place = place_in_phrase(bar)
        return beat_hits(beat, bar.meter, _level(part), place, is_straight(bar))
    meter = own_meter(timeline.form, bar)
    hits = sorted(
        Hit(at, pitch, _written(pitch, stroke, _level(part)))
        for pitch, line in beat.lines
        for at, stroke in bar_steps(line, beat.step_whole, bar, meter)
        if stroke
    )
    return tuple({hit[:2]: hit for hit in hits}.values())  # of two lines for a drum, the louder


def _written(pitch: int, stroke: int, level: str) -> int:
    """The velocity of a written stroke, 1 plain or 2 accented."""
    velocities = WRITTEN_SOFTER if pitch in _SOFTER else WRITTEN
    return at_level(velocities[stroke - 1], level)


def _marked(span: Span, part: PartSettings, kit: int) -> list[tuple[int, int]]:
    """What is struck with a chord that then stops or rings: (pitch, velocity) each."""
    level, beat = _level(part), DRUM_BEAT.of(part)
    if isinstance(beat, DrumPattern):
        # The lines that open the writer's pattern.
        opening = [(pitch, line[0][0]) for pitch, line in beat.lines if line[0][0]]
        return [(pitch, _written(pitch, stroke, level)) for pitch, stroke in opening]
    soft = level == "light" or kit == BRUSH_KIT
    velocity = at_level(STOP_VELOCITY, "light" if soft else level)
    if "stop" in span.marks and kit == BRUSH_KIT:
        drums = built_in_beats.BRUSH_STOP
    elif "stop" in span.marks:
        drums = built_in_beats.LIGHT_STOP if level == "light" else built_in_beats.STOP
    else:
        drums = built_in_beats.SOFT_RING if soft else built_in_beats.RING
    return [(pitch, velocity) for pitch in drums]


def _with_cymbal(hits: Sequence[Hit], cymbal: Hit) -> tuple[Hit, ...]:
    """A bar that opens with a cymbal in place of its hi-hat or ride."""
    kept = (hit for hit in hits if hit.offset_whole or hit.pitch not in (*HATS, RIDE, cymbal.pitch))
    return (cymbal, *kept)


# What leads into the next section.


def _before_fill(hits: Sequence[Hit], fill: Sequence[Hit]) -> tuple[Hit, ...]:
    """A bar's beat up to where the fill starts."""
    return tuple(hit for hit in hits if not fill or hit.offset_whole < fill[0].offset_whole)


def _parts(bar: Bar, timeline: Timeline, part: PartSettings) -> int:
    """How many strokes fill a beat of one unit: three in a shuffle, fewer in a quick beat."""
    named = DRUM_BEAT.of(part)
    beat = named if isinstance(named, DrumPattern) else beat_for(named, bar.meter)
    if isinstance(beat, Beat) and beat.swings:
        return 3 if is_straight(bar) else 2
    if beat.step_whole.denominator % 3 == 0:
        return 3
    return steps_of_a_beat(bar, timeline)


def _lead_in(timeline: Timeline, settings: SettingsOf) -> Iterator[_Struck]:
    """What is struck before bar 1."""
    first = settings(timeline.bars[0].playing)
    if not timeline.count_in or not first.on or not _adds(first, timeline.bars[0].meter):
        return
    bar = timeline.count_in[-1]
    parts = _parts(bar, timeline, first)
    hits = lead_in_hits(bar.meter, parts, _level(first))
    yield from _struck(bar, hits, _kit(first, bar.meter), parts == 3)


# How long.


def _ended(struck: Sequence[_Struck], waits: Sequence[Span], end_whole: Fraction) -> list[Note]:
    """Notes from strokes: short, but what rings lasts until its next stroke, a stop or the end."""
    stops = [span.start_whole for span in waits]  # going back, the last one is the nearest
    next_of: dict[int, Fraction] = {}
    notes = []
    stop, now, short = end_whole, end_whole, end_whole
    for at, pitch, velocity, _ in reversed(struck):
        while stops and stops[-1] > at:
            stop = stops.pop()
        if at is not now:
            now, short = at, at + STROKE_WHOLE  # the two seconds of ring-out are always longer
        like = HAT if pitch in HATS else pitch
        end = min(at + RINGING_WHOLE[pitch], stop) if pitch in RINGING_WHOLE else short
        following = next_of.get(like)
        if following is not None and following < end and following != at:
            end = following
        next_of[like] = at
        notes.append(Note(at, end, pitch, velocity))
    notes.reverse()
    return notes
