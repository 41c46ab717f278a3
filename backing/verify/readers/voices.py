"""Voices: what one channel of one track plays, as a reader found it.

Times are seconds from the file's start. Channels count from 0, so General MIDI's percussion
channel is 9.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from math import inf
from typing import NamedTuple, TypeAlias

PERCUSSION = 9

#: From when on a setting of a channel has a value.
Setting: TypeAlias = "tuple[float, int]"
#: The same for a value that isn't whole.
FineSetting: TypeAlias = "tuple[float, float]"


class Notes(NamedTuple):
    """Notes in order of their starts, one list for each of their four values."""

    starts: Sequence[float]
    ends: Sequence[float]
    pitches: Sequence[int]
    velocities: Sequence[int]

    def __bool__(self) -> bool:
        """Whether there are any."""
        return bool(self.starts)

    def at(self, places: Sequence[int]) -> Notes:
        """The notes at some places of the lists."""
        return Notes(
            [self.starts[place] for place in places],
            [self.ends[place] for place in places],
            [self.pitches[place] for place in places],
            [self.velocities[place] for place in places],
        )


NO_NOTES = Notes((), (), (), ())


class ChannelSettings(NamedTuple):
    """All that a file sets for a channel, each in order of time; None is what a reader can't tell.

    `programs` count from 0; `volumes`, `pans` (64 is the middle), `reverbs` and `expressions` are 0
    to 127. `bends` is how
    far the pitch wheel bends the channel, and `tuning` its fine and coarse tuning together,
    both in cents.
    """

    programs: Sequence[Setting] | None = ()
    volumes: Sequence[Setting] | None = ()
    pans: Sequence[Setting] | None = ()
    bends: Sequence[FineSetting] | None = ()
    tuning: Sequence[FineSetting] | None = ()
    reverbs: Sequence[Setting] | None = ()
    expressions: Sequence[Setting] | None = ()


NO_SETTINGS = ChannelSettings()


class Voice(NamedTuple):
    """A channel's notes in a track, with all that the file sets for the channel.

    `kits` are the programs of percussion at each of its notes, empty where the file sets none, and
    None where the reader can't tell.
    """

    name: str
    channel: int
    notes: Notes
    settings: ChannelSettings = NO_SETTINGS
    kits: Sequence[int] | None = ()

    @property
    def is_percussion(self) -> bool:
        """Whether it plays percussion sounds."""
        return self.channel == PERCUSSION


def latest(settings: Sequence[tuple[float, float]], at_s: float) -> float | None:
    """The value of a setting at a time; None before its first."""
    index = bisect_right(settings, (at_s, inf)) - 1
    return settings[index][1] if index >= 0 else None


def merged(voices: Iterable[Notes]) -> Notes:
    """All notes of several voices, in order of their starts."""
    every = [notes for notes in voices if notes]
    if len(every) < 2:
        return every[0] if every else NO_NOTES
    rows = sorted(row for notes in every for row in zip(*notes, strict=True))
    starts, ends, pitches, velocities = zip(*rows, strict=True)
    return Notes(starts, ends, pitches, velocities)
