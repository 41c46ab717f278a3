"""What is played: notes at exact positions, and the conductor's events.

Positions are fractions of a whole note from the start of the file, count-in
included. Velocities are 1-127, pitches MIDI note numbers, strings counted as
guitarists do: 1 is the highest.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from backing.theory.keys import Key
from backing.theory.rhythm import Meter


class Note(NamedTuple):
    """One sounding note."""

    start_whole: Fraction
    end_whole: Fraction
    pitch: int
    velocity: int
    string: int | None = None


@dataclass(frozen=True, slots=True)
class Track:
    """One part's notes. `program` counts from 0; None is percussion (channel 10)."""

    part: str
    name: str
    program: int | None
    volume: int
    pan: int
    notes: tuple[Note, ...]


class TempoChange(NamedTuple):
    """From here on, `quarter_bpm` quarter notes a minute (exact)."""

    start_whole: Fraction
    quarter_bpm: Fraction


class MeterChange(NamedTuple):
    """From here on, bars of `meter`."""

    start_whole: Fraction
    meter: Meter


class KeyChange(NamedTuple):
    """From here on, the sounding key."""

    start_whole: Fraction
    key: Key


class Words(NamedTuple):
    """A section marker or a chord name at its place."""

    start_whole: Fraction
    text: str


@dataclass(frozen=True, slots=True)
class Score:
    """A song ready to be written. `keys` are as they sound; `end_whole` includes the ring-out."""

    title: str
    tracks: tuple[Track, ...]
    tempos: tuple[TempoChange, ...]
    meters: tuple[MeterChange, ...]
    markers: tuple[Words, ...]
    chords: tuple[Words, ...]
    keys: tuple[KeyChange, ...]
    end_whole: Fraction
