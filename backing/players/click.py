"""The click: each bar's beats, louder on the first.

The beats are the meter's own: dotted quarters in 6/8, the groups in 7/8; where groups
are written over smaller beats (5/4 as 3+2), each group starts a little louder. The
count-in is plain beats, the first of each bar accented, and sounds even where the click
is off, since a form sets it by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from backing.form import parts
from backing.players.part_settings import SettingsOf
from backing.score import Note
from backing.theory.general_midi import CLICK_SOUNDS
from backing.theory.rhythm import Meter, later
from backing.timeline import Bar, Timeline

DEFAULT_SOUND = "wood"
CLICK_WHOLE = Fraction(1, 32)

ACCENT, GROUP, BEAT, BETWEEN = 112, 94, 84, 52


class _Click(NamedTuple):
    start_whole: Fraction  # from the bar line
    velocity: int


def play(timeline: Timeline, settings: SettingsOf) -> list[Note]:
    """The count-in's clicks and the song's, in order, each a thirty-second long."""
    notes: list[Note] = []
    for bar in timeline.count_in:
        if not timeline.counted and not settings(bar.playing).on:
            continue  # a pickup alone, in a song without a click
        sound = settings(bar.playing).sound or DEFAULT_SOUND
        notes += _bar(bar, sound, _clicks(bar.meter, None, True))
    for bar in timeline.bars:
        part = settings(bar.playing)
        plays = parts.PLAYS.of(part)
        if part.on and (plays is None or (bar.number - 1) % plays.cycle < plays.bars):
            accented = parts.ACCENT.of(part) is not False
            clicks = _clicks(bar.meter, parts.SUBDIVIDE.of(part), accented)
            notes += _bar(bar, part.sound or DEFAULT_SOUND, clicks)
    return notes


def _bar(bar: Bar, sound: str, clicks: Sequence[_Click]) -> list[Note]:
    accented, plain = CLICK_SOUNDS[sound]
    return [
        Note(start, later(start, CLICK_WHOLE), accented if velocity == ACCENT else plain, velocity)
        for start, velocity in ((bar.at(begin), velocity) for begin, velocity in clicks)
    ]


@lru_cache(maxsize=256)
def _clicks(meter: Meter, subdivide_whole: Fraction | None, accented: bool) -> tuple[_Click, ...]:
    """A bar's clicks; those between the beats count from each beat anew."""
    step = subdivide_whole or meter.bar_whole
    clicks = []
    for start, length in zip(meter.beat_starts, meter.beats, strict=True):
        for index in range(-(-length // step)):
            at = start + index * step
            velocity = BETWEEN if index else _beat(meter, start, accented)
            clicks.append(_Click(at, velocity))
    return tuple(clicks)


def _beat(meter: Meter, start_whole: Fraction, accented: bool) -> int:
    if not accented:
        return BEAT
    if start_whole == 0:
        return ACCENT
    grouped = len(meter.group_starts) < len(meter.beat_starts)
    return GROUP if grouped and start_whole in meter.group_starts else BEAT
