"""The drums: a built-in beat in each meter or the writer's own lines, and what a drummer adds.

In a `stop` or a `ring` only its first stroke is struck, and the drums wait for the next
chord; at N.C. they go on. With a built-in beat that is neither light nor brushed, a crash
opens each section that differs from the one before, and a stroke or two on the snare after
the last beat of the count-in leads into bar 1. Written lines are played as written, and
get both only with `fill: on`, which puts a fill in the last bar of every pass but the
song's last: over its last two beats, or over the last one of three or two.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import TypeAlias

from backing.form.model import PartSettings
from backing.form.parts import DRUM_BEAT, FILL, LEVEL
from backing.form.pattern_records import DrumPattern
from backing.players.drum_beats import DEFAULT_LEVEL, Hit, at_level, beat_for, beat_hits
from backing.players.part_settings import SettingsOf
from backing.players.tiling import bar_steps, own_meter, placed
from backing.score import Note
from backing.theory import built_in_beats
from backing.theory.built_in_beats import CRASH, FOOT, HAT, OPEN_HAT, RIDE
from backing.theory.general_midi import percussion_number
from backing.theory.rhythm import Meter
from backing.timeline import Bar, Span, Timeline

HATS = (HAT, OPEN_HAT, FOOT)
#: How long a stroke lasts in the file; an open hi-hat, unless the next hat closes it; a crash.
STROKE_WHOLE = Fraction(1, 32)
RINGING_WHOLE = {OPEN_HAT: Fraction(1, 4), CRASH: Fraction(1, 2)}

#: Velocities of written strokes, plain and accented; those of hats, ride and shakers.
WRITTEN, WRITTEN_SOFTER = (90, 112), (66, 86)
_SHAKEN = ("tambourine", "cabasa", "maracas")
_SOFTER = {*HATS, RIDE, *map(percussion_number, _SHAKEN)}
CRASH_VELOCITY, STOP_VELOCITY = 100, 104
#: The fill's first and last velocity, and those of what leads into bar 1.
FILL_FROM, FILL_TO = 76, 104
LEAD_IN_VELOCITIES = (52, 66)
#: Beats shorter than this, in seconds, are filled with two strokes, longer ones with four.
QUICK_BEAT_S = Fraction(45, 100)


def play(timeline: Timeline, settings: SettingsOf) -> list[Note]:
    """The strokes in order, each ended by the next of its drum."""
    waits = [span for span in timeline.spans if span.marks & {"stop", "ring"}]
    struck = list(_outside(waits, _grid(timeline, settings)))
    for span in waits:
        if settings(span.playing).on:
            hits = _marked(span, settings(span.playing))
            struck += [(span.start_whole, pitch, velocity) for pitch, velocity in hits]
    if waits:
        struck.sort()
    return _ended(struck, waits, timeline.end_whole + timeline.ring_out_whole)


#: Where, on what and how loud.
_Struck: TypeAlias = "tuple[Fraction, int, int]"


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
    lasts = {id(bar) for bar, after in pairwise(timeline.bars) if bar.playing is not after.playing}
    before: str | None = None
    for bar, earlier in zip(timeline.bars, (None, *timeline.bars), strict=False):
        opens = earlier is None or earlier.playing is not bar.playing
        if opens and earlier is not None:
            before = earlier.playing.section
        part = settings(bar.playing)
        if not part.on:
            continue
        hits = _hits(bar, timeline, part)
        if id(bar) in lasts and FILL.of(part):
            hits = _with_fill(hits, _fill(bar, timeline, part))
        if opens and before != bar.playing.section and _adds(part, bar.meter):
            hits = _with_crash(hits, _level(part))
        yield from _struck(bar, hits)


def _struck(bar: Bar, hits: Sequence[Hit]) -> Iterator[_Struck]:
    strokes = tuple((hit.offset_whole, hit) for hit in hits)
    for at, hit in placed(bar, strokes):
        yield at, hit.pitch, hit.velocity


def _level(part: PartSettings) -> str:
    return LEVEL.of(part) or DEFAULT_LEVEL


def _adds(part: PartSettings, meter: Meter) -> bool:
    """Whether the drummer adds crashes and leads into bar 1."""
    if _level(part) == "light":
        return False
    beat = DRUM_BEAT.of(part)
    if isinstance(beat, DrumPattern):
        return bool(FILL.of(part))
    return beat_for(beat, meter).name != "brushes"


def _hits(bar: Bar, timeline: Timeline, part: PartSettings) -> tuple[Hit, ...]:
    """A bar's own beat, built in or as written."""
    beat = DRUM_BEAT.of(part)
    if not isinstance(beat, DrumPattern):
        return beat_hits(beat, bar.meter, _level(part))
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


def _marked(span: Span, part: PartSettings) -> list[tuple[int, int]]:
    """What is struck with a chord that then stops or rings: (pitch, velocity) each."""
    level, beat = _level(part), DRUM_BEAT.of(part)
    if isinstance(beat, DrumPattern):
        # The lines that open the writer's pattern.
        opening = [(pitch, line[0][0]) for pitch, line in beat.lines if line[0][0]]
        return [(pitch, _written(pitch, stroke, level)) for pitch, stroke in opening]
    soft = level == "light" or beat == "brushes"
    velocity = at_level(STOP_VELOCITY, "light" if soft else level)
    if "stop" in span.marks:
        drums = built_in_beats.LIGHT_STOP if level == "light" else built_in_beats.STOP
    else:
        drums = built_in_beats.SOFT_RING if soft else built_in_beats.RING
    return [(pitch, velocity) for pitch in drums]


def _with_crash(hits: Sequence[Hit], level: str) -> tuple[Hit, ...]:
    """A bar that opens with a crash in place of its hi-hat."""
    crash = Hit(Fraction(0), CRASH, at_level(CRASH_VELOCITY, level))
    return (crash, *(hit for hit in hits if hit.offset_whole or hit.pitch not in HATS))


# What leads into the next section.


def _with_fill(hits: Sequence[Hit], fill: Sequence[Hit]) -> tuple[Hit, ...]:
    """A bar's beat up to where the fill starts, then the fill."""
    return (*(hit for hit in hits if not fill or hit.offset_whole < fill[0].offset_whole), *fill)


def _fill(bar: Bar, timeline: Timeline, part: PartSettings) -> tuple[Hit, ...]:
    return _fill_of(bar.meter, _parts(bar, timeline, part), _level(part))


def _parts(bar: Bar, timeline: Timeline, part: PartSettings) -> int:
    """How many strokes fill a beat of one unit: three in a shuffle, fewer in a quick beat."""
    named = DRUM_BEAT.of(part)
    beat = named if isinstance(named, DrumPattern) else beat_for(named, bar.meter)
    if beat.step_whole.denominator % 3 == 0:
        return 3
    beat_s = bar.meter.beats[-1] * timeline.seconds_per_whole(bar.start_whole)
    return 4 if beat_s >= QUICK_BEAT_S else 2


@lru_cache(maxsize=128)
def _fill_of(meter: Meter, parts: int, level: str) -> tuple[Hit, ...]:
    """Down the drums of the fill, louder as it goes; a light one is over the last beat alone."""
    count = len(meter.beats)
    if count == 1:
        return ()
    over = 2 if count >= 4 and level != "light" else 1
    offsets = [at for beat in range(count - over, count) for at in _within(meter, beat, parts)]
    drums = built_in_beats.LIGHT_FILL if level == "light" else built_in_beats.FILL
    last = max(1, len(offsets) - 1)
    return tuple(
        Hit(
            at,
            drums[index * len(drums) // len(offsets)],
            at_level(FILL_FROM + (FILL_TO - FILL_FROM) * index // last, level),
        )
        for index, at in enumerate(offsets)
    )


def _within(meter: Meter, beat: int, parts: int) -> list[Fraction]:
    """The strokes that fill a beat: one for each of its units, or `parts` for a single unit."""
    start, length = meter.beat_starts[beat], meter.beats[beat]
    gathered = len(meter.beats) < meter.count or meter.unit >= 8
    step = meter.unit_whole if gathered else length / parts
    return [start + index * step for index in range(int(length / step))]


def _lead_in(timeline: Timeline, settings: SettingsOf) -> Iterator[_Struck]:
    """One or two strokes after the last beat before bar 1; that beat itself is the click's."""
    first = settings(timeline.bars[0].playing)
    if not timeline.count_in or not first.on or not _adds(first, timeline.bars[0].meter):
        return
    bar = timeline.count_in[-1]
    strokes = _within(bar.meter, len(bar.meter.beats) - 1, _parts(bar, timeline, first))
    late = strokes[max(1, (len(strokes) + 1) // 2) :][-2:]
    velocities = LEAD_IN_VELOCITIES[2 - len(late) :]
    yield from _struck(
        bar,
        [
            Hit(at, built_in_beats.LEAD_IN, at_level(velocity, _level(first)))
            for at, velocity in zip(late, velocities, strict=True)
        ],
    )


# How long.


def _ended(struck: Sequence[_Struck], waits: Sequence[Span], end_whole: Fraction) -> list[Note]:
    """Notes from strokes: short, but what rings lasts until its next stroke, a stop or the end."""
    stops = [span.start_whole for span in waits]  # going back, the last one is the nearest
    next_of: dict[int, Fraction] = {}
    notes = []
    stop, now, short = end_whole, end_whole, end_whole
    for at, pitch, velocity in reversed(struck):
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
