"""MIDI files changed as other programs would change them, through the library mido.

An edit takes a file's bytes and gives those of the changed one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from io import BytesIO
from typing import Any, NamedTuple

import mido

PERCUSSION = 9


class Placed(NamedTuple):
    """A message at its tick from the file's start."""

    tick: int
    message: Any


def read(data: bytes) -> mido.MidiFile:
    return mido.MidiFile(file=BytesIO(data), charset="utf-8")


def tracks_of(data: bytes) -> list[list[Placed]]:
    """Each track's messages with their ticks."""
    tracks = []
    for track in read(data).tracks:
        tick, placed = 0, []
        for message in track:
            tick += message.time
            placed.append(Placed(tick, message))
        tracks.append(placed)
    return tracks


def written(
    tracks: Sequence[Sequence[Placed]],
    like: bytes,
    kind: int | None = None,
    ticks_per_quarter: int | None = None,
) -> bytes:
    """Tracks as a file, of another's type and resolution where none is given.

    Each track is in order of its ticks.
    """
    source = read(like)
    file = mido.MidiFile(
        type=source.type if kind is None else kind,
        ticks_per_beat=ticks_per_quarter or source.ticks_per_beat,
        charset="utf-8",
    )
    for placed in tracks:
        track, now = mido.MidiTrack(), 0
        for tick, message in placed:
            track.append(message.copy(time=tick - now))
            now = tick
        file.tracks.append(track)
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


def each_message(data: bytes, change: Callable[[Any], Any]) -> bytes:
    """Every message as `change` gives it back; None drops it."""
    tracks = [
        [
            Placed(tick, changed)
            for tick, message in track
            if (changed := change(message)) is not None
        ]
        for track in tracks_of(data)
    ]
    return written(tracks, data)


def without(data: bytes, *kinds: str) -> bytes:
    """A file without messages of some kinds."""
    return each_message(data, lambda message: None if message.type in kinds else message)


def as_type_0(data: bytes) -> bytes:
    """All tracks in one."""
    ends = max(track[-1].tick for track in tracks_of(data))
    every = [
        placed
        for track in tracks_of(data)
        for placed in track
        if placed.message.type != "end_of_track"
    ]
    every.sort(key=lambda placed: placed.tick)
    return written([[*every, Placed(ends, mido.MetaMessage("end_of_track"))]], data, kind=0)


def at_resolution(data: bytes, ticks_per_quarter: int) -> bytes:
    """Every place rounded to a tick of another resolution."""
    source = read(data)
    tracks = [
        [
            Placed(round(tick * ticks_per_quarter / source.ticks_per_beat), message)
            for tick, message in track
        ]
        for track in tracks_of(data)
    ]
    return written(tracks, data, ticks_per_quarter=ticks_per_quarter)


def renamed(data: bytes, names: Iterable[str]) -> bytes:
    """New names for all tracks but the first, whose name is the file's title."""
    new = iter(names)
    first, *others = tracks_of(data)
    tracks = [first]
    for track in others:
        name = next(new)
        tracks.append(
            [
                Placed(tick, message.copy(name=name) if message.type == "track_name" else message)
                for tick, message in track
            ]
        )
    return written(tracks, data)


def on_channels(data: bytes, channels: Mapping[int, int]) -> bytes:
    """Everything on some channels moved to others."""
    return each_message(
        data,
        lambda message: (
            message.copy(channel=channels.get(message.channel, message.channel))
            if hasattr(message, "channel")
            else message
        ),
    )


def track_named(data: bytes, name: str) -> int:
    """The index of the first track with a name."""
    (index, *_) = [
        index
        for index, track in enumerate(tracks_of(data))
        if any(m.type == "track_name" and m.name == name for _, m in track)
    ]
    return index


def channel_of(data: bytes, name: str) -> int:
    """The channel of the track with a name."""
    track = tracks_of(data)[track_named(data, name)]
    channel: int = next(m.channel for _, m in track if hasattr(m, "channel"))
    return channel
