"""What is played: notes at exact positions, and the conductor's events.

Positions are fractions of a whole note from the start of the file, count-in
included. Velocities are 1-127, pitches MIDI note numbers, strings counted as
guitarists do: 1 is the highest.
"""

from fractions import Fraction
from typing import Literal, NamedTuple

from backing.theory.keys import Key
from backing.theory.rhythm import Meter


class Bend(NamedTuple):
    """From here on, everything on the track sounds so many semitones higher, -24 to 24."""

    start_whole: Fraction
    semitones: Fraction


class Note(NamedTuple):
    """One sounding note.

    `bends` are a player's wish for this string alone; a note that has some is given to a
    track where nothing else sounds with it, and they become that track's.
    """

    start_whole: Fraction
    end_whole: Fraction
    pitch: int
    velocity: int
    string: int | None = None
    bends: tuple[Bend, ...] = ()


class Control(NamedTuple):
    """From here on, a track's program, volume or pan is another: a value as `Track` has it."""

    start_whole: Fraction
    what: Literal["program", "volume", "pan"]
    value: int


class Track(NamedTuple):
    """One part's notes. `program` counts from 0; None is percussion (channel 10).

    `program`, `volume` and `pan` hold from the start; `changes` are later ones, none in
    percussion.

    A track with `bends` is bent as a whole, so a part keeps a track of its own for them.
    """

    part: str
    name: str
    program: int | None
    volume: int
    pan: int
    notes: tuple[Note, ...]
    bends: tuple[Bend, ...] = ()
    changes: tuple[Control, ...] = ()


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


class Score(NamedTuple):
    """A song ready to be written. `keys` are as they sound; `end_whole` includes the ring-out.

    `pitch_hz` is the A above middle C.
    """

    title: str
    tracks: tuple[Track, ...]
    tempos: tuple[TempoChange, ...]
    meters: tuple[MeterChange, ...]
    markers: tuple[Words, ...]
    chords: tuple[Words, ...]
    keys: tuple[KeyChange, ...]
    end_whole: Fraction
    pitch_hz: Fraction = Fraction(440)
