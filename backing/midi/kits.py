"""Which kit plays each percussion track, on the one channel that they share.

A program on the channel holds for every track from there on, and tracks may be read in any
order at a tick. So a track repeats its own program before a stroke wherever a track with another
kit may have been read since, even by a program that rounds to fewer ticks. A file that only has
the standard kit says nothing about kits.

Source: General MIDI 2 (MIDI Manufacturers Association, RP-024): programs choose kits.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from typing import TypeAlias

from backing.errors import BackingError
from backing.midi.chunks import Event
from backing.score import Track
from backing.theory.general_midi import STANDARD_KIT

#: Strikes within this many ticks may fall together where another program rounds them: at 96 ticks
#: a quarter, 10 of ours are one.
NEAR = 10

#: A tick at which a track strikes, and its kit there.
Strike: TypeAlias = "tuple[int, int]"


def kit_events(
    tracks: Sequence[Track],
    sounding: Sequence[Sequence[Event]],
    end: int,
    channel: int,
    at: Callable[[Fraction], int],
) -> list[list[Event]]:
    """The program events of percussion tracks, a list for each.

    Args:
        tracks: all percussion tracks of a file.
        sounding: each one's note events, in order.
        end: the file's last tick, where the channel goes back to the standard kit.
        channel: the channel that they share, from 0.
        at: rounds a position to a tick.
    """
    strikes = [
        list(_strikes(track, events, at)) for track, events in zip(tracks, sounding, strict=True)
    ]
    if all(kit == STANDARD_KIT for of_track in strikes for _, kit in of_track):
        return [[] for _ in tracks]
    programs = [
        [
            (tick, _program(channel, kit))
            for tick, kit in _chosen(
                of_track, [other for other in strikes if other is not of_track]
            )
        ]
        for of_track in strikes
    ]
    last = max(range(len(tracks)), key=lambda index: max(strikes[index], default=(-1, 0)))
    programs[last].append((end, _program(channel, STANDARD_KIT)))
    return programs


def _strikes(
    track: Track, events: Sequence[Event], at: Callable[[Fraction], int]
) -> Iterator[Strike]:
    """Each tick at which a track strikes, with the kit that it has there."""
    if any(change.what in ("pan", "expression") for change in track.changes):
        raise BackingError(
            f"{track.name}: percussion shares a channel, so only its kit and volume can change."
        )
    changes = sorted(
        (at(change.start_whole), change.value)
        for change in track.changes
        if change.what == "program"
    )
    if not all(0 <= kit <= 127 for _, kit in changes):
        raise BackingError(f"{track.name}: a kit is a program from 0 to 127.")
    ticks = dict.fromkeys(tick for tick, message in events if message[0] & 0xF0 == 0x90)
    for tick in ticks:
        index = bisect_right(changes, (tick, 127)) - 1
        yield tick, changes[index][1] if index >= 0 else STANDARD_KIT


def _chosen(strikes: Sequence[Strike], others: Sequence[Sequence[Strike]]) -> Iterator[Strike]:
    """Where a track must choose its kit, so that any order of tracks at a tick will do."""
    against = {
        kit: sorted(tick for other in others for tick, its in other if its != kit)
        for _, kit in strikes
    }
    chosen: Strike | None = None
    for tick, kit in strikes:
        if (
            chosen is None
            or chosen[1] != kit
            or _latest(against[kit], tick + NEAR) >= chosen[0] - NEAR
        ):
            chosen = tick, kit
            yield chosen


def _latest(ticks: Sequence[int], until: int) -> int:
    """The last of several ticks up to one; one before them all where there is none."""
    index = bisect_right(ticks, until) - 1
    return ticks[index] if index >= 0 else -NEAR - 1


def _program(channel: int, kit: int) -> bytes:
    return bytes((0xC0 | channel, kit))
