"""A bar of a drum beat, in any meter and at any level, and at any place in its phrase.

A beat from the table (`backing.theory.built_in_beats`) is played where its row lists the meter; in
any other meter the meter's plain beat takes its place, which is the first plain one that
lists it, or else kick and snare by turns over the beats with a hi-hat between them.

Phrases of four bars start with each pass. Passes of fewer bars don't make phrases, so there the
song's own bar numbers count.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from backing.players.tiling import repeated
from backing.theory.built_in_beats import (
    BEATS,
    DRUMS,
    EVEN_THREE,
    FOOT,
    FOURTH,
    GROUPS,
    HAT,
    LAST_OF_FOURTH,
    LAST_OF_SECOND,
    LEVELS,
    OPEN_HAT,
    PHRASE,
    PLAIN_BEATS,
    RIM,
    SECOND,
    THINNED,
    UNEVEN_THREE,
    Beat,
    Lines,
)
from backing.theory.general_midi import STANDARD_KIT
from backing.theory.rhythm import Meter
from backing.timeline import Bar

#: Velocities of `X`, `x` and `o`: the backbeat is loudest, the hats are well below it.
VELOCITIES = {
    "kick": (102, 88, 66),
    "snare": (104, 84, 42),
    "tap": (112, 90, 66),
    "slap": (118, 96, 68),
    "swirl": (98, 82, 60),
    "hat": (78, 58, 44),
    "open": (76, 62, 46),
    "foot": (62, 54, 44),
    "ride": (102, 88, 64),
}
DEFAULT_LEVEL = "medium"


class Hit(NamedTuple):
    """A stroke of a drum, at its distance from the bar line as written."""

    offset_whole: Fraction
    pitch: int
    velocity: int


def at_level(velocity: int, level: str) -> int:
    """A velocity as a level has it, at most 127."""
    return min(127, velocity * LEVELS[level] // 100)


def beat_for(name: str | None, meter: Meter) -> Beat:
    """The beat that plays in a meter: the one named, the meter's plain one, or one made for it."""
    fitting = [beat for beat in BEATS if str(meter) in beat.meters]
    for choice in (name, *PLAIN_BEATS):
        for beat in fitting:
            if beat.name == choice:
                return beat
    return _made_for(meter)


def is_straight(bar: Bar) -> bool:
    """Whether eighths don't swing in a bar."""
    swing = bar.playing.swing
    return swing is None or swing[0] != Fraction(1, 8)


def place_in_phrase(bar: Bar) -> int:
    """A bar's place in its phrase, from 0."""
    return (bar.pattern_bar if bar.of_pass >= PHRASE else bar.number - 1) % PHRASE


@lru_cache(maxsize=1024)
def beat_hits(
    name: str | None, meter: Meter, level: str, place: int = 0, straight: bool = False
) -> tuple[Hit, ...]:
    """A bar of a beat at a level, in order.

    On the standard kit, `light` leaves out the snare's soft strokes and
    plain kicks, and plays the side stick for the snare and the hi-hat's foot for an open
    hi-hat. With brushes it is only softer. `full` opens the bar's last closed hi-hat.

    Args:
        name: of the beat; None is the meter's plain one.
        meter: the bar's.
        level: a key of `LEVELS`.
        place: the bar's place in its phrase, from 0.
        straight: whether eighths don't swing here, so that a beat that swings is in triplets.
    """
    beat = beat_for(name, meter)
    thinned = level == "light" and beat.kit == STANDARD_KIT
    hits = sorted(
        Hit(
            _in_triplets(at, meter) if beat.swings and straight else at,
            _light(voice) if thinned else DRUMS[voice],
            velocity * THINNED // 100 if thinned else at_level(velocity, level),
        )
        for voice, line in _lines(beat, place)
        for at, mark in repeated(line, beat.step_whole, meter.bar_whole)
        if mark != "-" and not (thinned and _is_left_out(voice, mark))
        for velocity in (VELOCITIES[voice]["Xxo".index(mark)],)
    )
    return tuple(_opened(hits) if level == "full" else hits)


def _lines(beat: Beat, place: int) -> Lines:
    """A beat's lines at a place in a phrase."""
    own = {SECOND: beat.second, FOURTH: beat.fourth}.get(place, ())
    return tuple((dict(beat.lines) | dict(own)).items())


def _in_triplets(at: Fraction, meter: Meter) -> Fraction:
    """The second of two eighths as the third of a triplet."""
    return at if at % meter.unit_whole == 0 else at + Fraction(1, 24)


def _light(voice: str) -> int:
    """What a light beat has for a line's drum."""
    return {"snare": RIM, "open": FOOT}.get(voice, DRUMS[voice])


def _is_left_out(voice: str, mark: str) -> bool:
    return (voice == "kick" and mark == "x") or (voice == "snare" and mark == "o")


def _opened(hits: list[Hit]) -> list[Hit]:
    """Hits whose last hi-hat is open, unless it is the one on the bar line."""
    last = max((index for index, hit in enumerate(hits) if hit.pitch == HAT), default=None)
    if last is None or not hits[last].offset_whole:
        return hits
    return [*hits[:last], hits[last]._replace(pitch=OPEN_HAT), *hits[last + 1 :]]


@lru_cache(maxsize=256)
def _made_for(meter: Meter) -> Beat:
    """Kick and snare by turns over the beats of any meter, and a hi-hat between them."""
    by_unit = len(meter.beats) < meter.count or meter.unit >= 8
    step = meter.unit_whole if by_unit else meter.unit_whole / 2
    kick, snare, hat = ["-"] * (n := int(meter.bar_whole / step)), ["-"] * n, ["x"] * n
    for start, drum in zip(meter.beat_starts, _drums(meter), strict=True):
        at = int(start / step)
        hat[at] = "X"
        if drum != "-":
            (kick if drum == "K" else snare)[at] = "x" if drum == "s" else "X"
    lines = (("hat", "".join(hat)), ("snare", "".join(snare)), ("kick", "".join(kick)))
    shorter, last = ("hat", "".join(hat[:-1]) + "-"), "-" * (n - 1) + "x"
    softly = ("kick", kick) if snare[-1] != "-" else ("snare", snare)
    if softly[1][-1] == "-":
        softly[1][-1] = "o"
    return Beat(
        "plain",
        (str(meter),),
        step,
        lines,
        (shorter, (LAST_OF_SECOND, last)),
        (shorter, (LAST_OF_FOURTH, last), (softly[0], "".join(softly[1]))),
    )


def _drums(meter: Meter) -> str:
    """What opens each beat, in the letters of `GROUPS`."""
    if len(meter.beats) == 3 and not (meter.even and meter.groups and meter.unit <= 4):
        return EVEN_THREE if meter.even else UNEVEN_THREE
    longest = GROUPS[2] * len(meter.beats)
    return "".join(GROUPS.get(size, longest[:size]) for size in _groups(meter))


def _groups(meter: Meter) -> tuple[int, ...]:
    """How many beats go together: as written, or in twos, an odd number with a three."""
    count = len(meter.beats)
    if meter.groups and count == meter.count:
        return meter.groups
    usual = {1: (1,), 3: (3,), 5: (3, 2)}
    twos = (2,) * (count // 2 - count % 2)
    return usual.get(count, (*twos, 3) if count % 2 else twos)
