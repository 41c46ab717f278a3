"""Where each part lies in the mix: its sound, volume, place and level, pass by pass.

A part's settings change where a pass differs from the one before. Percussion parts share a
channel, so all are in the middle.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Literal, NamedTuple

from backing.form.model import PartSettings
from backing.form.parts import DRUM_BEAT, DRUMS, LEVEL, Part
from backing.players.dynamics import starts
from backing.score import Control
from backing.theory.built_in_beats import is_brushed
from backing.theory.device_levels import IN_BALANCE
from backing.timeline import Pass, Timeline

#: How many LU the drums are louder for how full the beat is; brushes are as soft as light drums.
#: This project's judgement.
FULLER_LU: Mapping[str, int] = {"full": 2, "medium": 0, "light": -4}


class Mix(NamedTuple):
    """A part's program (None for percussion), volume, pan and level, with values as in `Track`."""

    program: int | None
    volume: int
    pan: int
    level_lu: int


def mix_of(timeline: Timeline, part: Part, program: int | None) -> tuple[Mix, tuple[Control, ...]]:
    """A part's mix at the start, and each change of it later.

    Args:
        timeline: the form in playing order.
        part: whose mix it is.
        program: what holds where the form doesn't say; None for percussion.
    """
    usual = Mix(program, IN_BALANCE, part.pan, part.level_lu)
    first, *later = [(start, _mix(playing, part, usual)) for start, playing in starts(timeline)]
    changes: list[Control] = []
    _, before = first
    for start, now in later:
        changes += _changes(start, before, now)
        before = now
    return first[1], tuple(changes)


def _mix(playing: Pass, part: Part, usual: Mix) -> Mix:
    written = playing.settings.parts.get(part.name, PartSettings())
    return Mix(
        part.programs.get(written.sound or "", usual.program),
        usual.volume if written.volume is None else written.volume,
        usual.pan if written.pan is None or not part.programs else written.pan,
        usual.level_lu + (_fuller(written) if part.name == DRUMS else 0),
    )


def _fuller(written: PartSettings) -> int:
    brushed = is_brushed(DRUM_BEAT.of(written))
    return FULLER_LU["light" if brushed else LEVEL.of(written) or "medium"]


_WHATS: tuple[Literal["program", "volume", "pan", "level_lu"], ...] = (
    "program",
    "volume",
    "pan",
    "level_lu",
)


def _changes(start: Fraction, before: Mix, now: Mix) -> list[Control]:
    return [
        Control(start, what, value)
        for what, value, old in zip(_WHATS, now, before, strict=True)
        if value != old and value is not None
    ]
