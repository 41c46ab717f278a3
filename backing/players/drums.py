"""The drums: a built-in beat for each meter or the writer's own lines, and what a drummer adds.

Nothing is struck in a `stop` or a `ring` but its own first stroke, until the next chord; at
N.C. they go on. With a built-in beat that is neither light nor brushed a crash opens each
section that differs from the one before, and a short pickup on the snare, all after the
last beat of the count, leads into bar 1; written lines are played as written, and get both
only with `fill: on`. `fill: on` puts a fill in the last bar of every pass but the song's
last: over its last two beats, or the last of three or two.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import TypeAlias

from backing.form.model import DrumPattern, PartSettings
from backing.players.beats import (
    CRASH,
    DEFAULT_LEVEL,
    FOOT,
    HAT,
    KICK,
    LOUDNESS,
    OPEN_HAT,
    RIDE,
    RIM,
    SNARE,
    TOMS,
    Hit,
    beat,
    row_for,
)
from backing.players.cues import SettingsOf
from backing.players.patterns import bar_steps, own_meter
from backing.score import Note
from backing.theory.rhythm import Meter
from backing.timeline import Bar, Span, Timeline

HATS = (HAT, OPEN_HAT, FOOT)
#: How long a stroke is written, and at most an open hi-hat, which the next hat closes, and a crash.
STROKE_WHOLE = Fraction(1, 32)
RINGING_WHOLE = {OPEN_HAT: Fraction(1, 4), CRASH: Fraction(1, 2)}

#: Velocities of written strokes, plain and accented; those of the hats, cymbals and shakers.
WRITTEN, WRITTEN_SOFTER = (90, 112), (66, 86)
_SOFTER = {*HATS, RIDE, 54, 69, 70, 82}
CRASH_VELOCITY, STOP_VELOCITY = 100, 104
#: The fill's first and last velocity, and the pickup's.
FILL_FROM, FILL_TO = 76, 104
PICKUP_VELOCITIES = (52, 66)
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
    """The strokes that no stop or ring keeps waiting."""
    index = 0
    for stroke in grid:
        while index < len(waits) and waits[index].end_whole <= stroke[0]:
            index += 1
        if index == len(waits) or stroke[0] < waits[index].start_whole:
            yield stroke


def _grid(timeline: Timeline, settings: SettingsOf) -> Iterator[_Struck]:
    """Every stroke of every bar, as though no chord had a mark."""
    yield from _pickup(timeline, settings)
    lasts = {id(bar) for bar, after in pairwise(timeline.bars) if bar.playing is not after.playing}
    before: str | None = None
    for bar, earlier in zip(timeline.bars, (None, *timeline.bars), strict=False):
        opens = earlier is None or earlier.playing is not bar.playing
        if opens and earlier is not None:
            before = earlier.playing.section
        asked = settings(bar.playing)
        if not asked.on:
            continue
        hits = _hits(bar, timeline, asked)
        if id(bar) in lasts and asked.fill:
            hits = _with_fill(hits, _fill(bar, timeline, asked))
        if opens and before != bar.playing.section and _adds(asked, bar.meter):
            velocity = CRASH_VELOCITY * LOUDNESS[_level(asked)] // 100
            hits = (
                Hit(Fraction(0), CRASH, velocity),
                *(h for h in hits if h[0] or h[1] not in HATS),
            )
        yield from _placed(bar, hits)


def _placed(bar: Bar, hits: Sequence[Hit]) -> Iterator[_Struck]:
    places = bar.places([offset for offset, _, _ in hits])
    for at, (_, pitch, velocity) in zip(places, hits, strict=True):
        yield at, pitch, velocity


def _level(asked: PartSettings) -> str:
    return asked.level or DEFAULT_LEVEL


def _adds(asked: PartSettings, meter: Meter) -> bool:
    """Whether the drummer adds crashes and a pickup."""
    if _level(asked) == "light":
        return False
    if isinstance(asked.beat, DrumPattern):
        return bool(asked.fill)
    return row_for(asked.beat, meter).name != "brushes"


def _hits(bar: Bar, timeline: Timeline, asked: PartSettings) -> tuple[Hit, ...]:
    """A bar's own beat, built in or as written."""
    if not isinstance(asked.beat, DrumPattern):
        return beat(asked.beat, bar.meter, _level(asked))
    meter = own_meter(timeline.form, bar)
    hits = sorted(
        Hit(at, pitch, _written(pitch, stroke, _level(asked)))
        for pitch, line in asked.beat.lines
        for at, stroke in bar_steps(line, asked.beat.step_whole, bar, meter)
        if stroke
    )
    return tuple({hit[:2]: hit for hit in hits}.values())  # of two names for a drum, the louder


def _written(pitch: int, stroke: int, level: str) -> int:
    plain = WRITTEN_SOFTER if pitch in _SOFTER else WRITTEN
    return min(127, plain[stroke - 1] * LOUDNESS[level] // 100)


def _marked(span: Span, asked: PartSettings) -> list[tuple[int, int]]:
    """What is struck with a chord that then stops or rings: (pitch, velocity) each."""
    level = _level(asked)
    if isinstance(asked.beat, DrumPattern):
        # The lines that open the writer's pattern.
        opening = [(pitch, line[0][0]) for pitch, line in asked.beat.lines if line[0][0]]
        return [(pitch, _written(pitch, stroke, level)) for pitch, stroke in opening]
    soft = level == "light" or asked.beat == "brushes"
    velocity = min(127, STOP_VELOCITY * (72 if soft else LOUDNESS[level]) // 100)
    if "stop" in span.marks:
        with_kick = RIM if level == "light" else SNARE
    else:
        with_kick = RIDE if soft else CRASH
    return [(KICK, velocity), (with_kick, velocity)]


# What leads on.


def _with_fill(hits: Sequence[Hit], fill: Sequence[Hit]) -> tuple[Hit, ...]:
    """A bar's beat up to where the fill starts, and the fill."""
    return (*(hit for hit in hits if not fill or hit.offset_whole < fill[0].offset_whole), *fill)


def _fill(bar: Bar, timeline: Timeline, asked: PartSettings) -> tuple[Hit, ...]:
    return _fill_of(bar.meter, _parts(bar, timeline, asked), _level(asked))


def _parts(bar: Bar, timeline: Timeline, asked: PartSettings) -> int:
    """Into how many strokes a beat of one unit falls: three in a shuffle, fewer in a quick beat."""
    if not isinstance(asked.beat, DrumPattern):
        if row_for(asked.beat, bar.meter).step_whole.denominator % 3 == 0:
            return 3
    elif asked.beat.step_whole.denominator % 3 == 0:
        return 3
    beat_s = bar.meter.beats[-1] * timeline.seconds_per_whole(bar.start_whole)
    return 4 if beat_s >= QUICK_BEAT_S else 2


@lru_cache(maxsize=128)
def _fill_of(meter: Meter, parts: int, level: str) -> tuple[Hit, ...]:
    """Snare, then down the toms, louder as it goes; light, the snare alone over the last beat."""
    count = len(meter.beats)
    if count == 1:
        return ()
    over = 2 if count >= 4 and level != "light" else 1
    offsets = [at for beat in range(count - over, count) for at in _within(meter, beat, parts)]
    drums = (SNARE,) if level == "light" else (SNARE, *TOMS)
    last = max(1, len(offsets) - 1)
    return tuple(
        Hit(
            at,
            drums[index * len(drums) // len(offsets)],
            min(127, (FILL_FROM + (FILL_TO - FILL_FROM) * index // last) * LOUDNESS[level] // 100),
        )
        for index, at in enumerate(offsets)
    )


def _within(meter: Meter, beat: int, parts: int) -> list[Fraction]:
    """The strokes that fill a beat: its units where it gathers some, else so many parts."""
    start, length = meter.beat_starts[beat], meter.beats[beat]
    gathered = len(meter.beats) < meter.count or meter.unit >= 8
    step = meter.unit_whole if gathered else length / parts
    return [start + index * step for index in range(int(length / step))]


def _pickup(timeline: Timeline, settings: SettingsOf) -> Iterator[_Struck]:
    """One or two strokes after the last beat of the bar before bar 1, which stays the click's."""
    first = settings(timeline.bars[0].playing)
    if not timeline.count_in or not first.on or not _adds(first, timeline.bars[0].meter):
        return
    bar = timeline.count_in[-1]
    strokes = _within(bar.meter, len(bar.meter.beats) - 1, _parts(bar, timeline, first))
    late = strokes[max(1, (len(strokes) + 1) // 2) :][-2:]
    loud = LOUDNESS[_level(first)]
    velocities = PICKUP_VELOCITIES[2 - len(late) :]
    hits = [Hit(at, SNARE, v * loud // 100) for at, v in zip(late, velocities, strict=True)]
    yield from _placed(bar, hits)


# How long.


def _ended(struck: Sequence[_Struck], waits: Sequence[Span], end_whole: Fraction) -> list[Note]:
    """Notes from strokes: short, the ringing ones until their like, a stop or the song's end."""
    stops = [span.start_whole for span in waits]  # the last of them is the nearest ahead
    next_of: dict[int, Fraction] = {}
    notes = []
    stop, now, short = end_whole, end_whole, end_whole
    for at, pitch, velocity in reversed(struck):
        while stops and stops[-1] > at:
            stop = stops.pop()
        if at is not now:
            now, short = at, at + STROKE_WHOLE  # two seconds of ring-out always hold it
        like = HAT if pitch in HATS else pitch
        end = min(at + RINGING_WHOLE[pitch], stop) if pitch in RINGING_WHOLE else short
        following = next_of.get(like)
        if following is not None and following < end and following != at:
            end = following
        next_of[like] = at
        notes.append(Note(at, end, pitch, velocity))
    notes.reverse()
    return notes
