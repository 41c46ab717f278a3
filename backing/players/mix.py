"""Where each part sits in the mix: its sound, volume and place, pass by pass.

A pitched part has its own channel, whose settings change where a pass differs from the
one before. Percussion parts share a channel, so their volume is in their velocities, and
all are in the middle, with the sounds of one kit.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Literal, NamedTuple

from backing.form.model import PartSettings
from backing.players.dynamics import Stretch, by_pass, starts
from backing.score import Control
from backing.timeline import Pass, Timeline

#: The volume that leaves percussion's velocities as they are.
FULL_VOLUME = 100


class Mix(NamedTuple):
    """A part's General MIDI program (from 0), volume (0-127) and pan (-64 to 63)."""

    program: int
    volume: int
    pan: int


def mix_of(
    timeline: Timeline, part: str, programs: Mapping[str, int], usual: Mix
) -> tuple[Mix, tuple[Control, ...]]:
    """A pitched part's mix at the start, and each change of it later.

    Args:
        programs: General MIDI programs by the form's word for the sound.
        usual: what holds where the form doesn't say.
    """
    first, *later = [
        (start, _mix(playing, part, programs, usual)) for start, playing in starts(timeline)
    ]
    changes: list[Control] = []
    _, before = first
    for start, now in later:
        changes += _changes(start, before, now)
        before = now
    return first[1], tuple(changes)


def percussion_levels(timeline: Timeline, part: str, usual_volume: int) -> list[Stretch]:
    """What a percussion part's volumes do to its velocities."""

    def level(playing: Pass) -> Fraction:
        written = playing.settings.parts.get(part, PartSettings()).volume
        return Fraction(usual_volume if written is None else written, FULL_VOLUME)

    return by_pass(timeline, level)


def _mix(playing: Pass, part: str, programs: Mapping[str, int], usual: Mix) -> Mix:
    written = playing.settings.parts.get(part, PartSettings())
    return Mix(
        programs.get(written.sound or "", usual.program),
        usual.volume if written.volume is None else written.volume,
        usual.pan if written.pan is None else written.pan,
    )


_WHATS: tuple[Literal["program", "volume", "pan"], ...] = ("program", "volume", "pan")


def _changes(start: Fraction, before: Mix, now: Mix) -> list[Control]:
    if now == before:
        return []
    return [
        Control(start, what, value)
        for what, value, old in zip(_WHATS, now, before, strict=True)
        if value != old
    ]
