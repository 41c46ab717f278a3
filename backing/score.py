"""What is played: notes at exact positions, and the tempos, meters, keys and texts of a file.

Positions are fractions of a whole note from the start of the file, count-in included.
Velocities go from 1 to 127 and pitches, which are MIDI note numbers, from 0 to 127. Strings
are counted as guitarists do: 1 is the highest.
"""

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from typing import Literal, NamedTuple

from backing.theory.keys import Key
from backing.theory.rhythm import Meter


class Bend(NamedTuple):
    """From here on, everything on the track sounds `semitones` higher, -24 to 24."""

    start_whole: Fraction
    semitones: Fraction


class Sweep(NamedTuple):
    """A string's place in a stroke that runs over several strings.

    In the exact score all strings of a stroke start at its place. Played one after another, this
    one starts `after_whole` after the first; a stroke may last `most_whole`. A player may leave
    outer strings out of a `weak` one. Before a `fresh` one all strings are silent.
    """

    after_whole: Fraction
    most_whole: Fraction
    weak: bool = False
    fresh: bool = False


class Note(NamedTuple):
    """One sounding note, from `start_whole` to `end_whole`.

    `pitch` is 0 to 127, `velocity` 1 to 127, `string` 1 (highest) to 6 on a guitar. `bends`
    are for this note alone: a note that has some goes to a track where nothing else sounds at
    the same time, and they become the track's. A `muted` one is struck with a hand on the string.
    `sweep` is for the strings of a stroke, which `players.arm` spreads over time; a string then
    starts `early_whole` before the stroke's place, or after it if that is negative.
    """

    start_whole: Fraction
    end_whole: Fraction
    pitch: int
    velocity: int
    string: int | None = None
    bends: tuple[Bend, ...] = ()
    muted: bool = False
    sweep: Sweep | None = None
    early_whole: Fraction = Fraction(0)


class Control(NamedTuple):
    """From here on, a track has another value of what `Track` has under that name.

    For percussion a program is a kit; it has no pan and no expression.
    """

    start_whole: Fraction
    what: Literal["program", "volume", "pan", "expression", "level_lu"]
    value: int


class Track(NamedTuple):
    """One part's notes.

    `program` is General MIDI's, from 0 to 127; None is percussion (channel 10). `volume` is 0
    to 127, where 100 leaves the part in balance and another one moves it by
    40 log10(volume / 100) dB; `pan` is -64 (left) to 63 (right). `level_lu` is where the part
    lies in the balance: LU above the guitar. `reverb` is 0 to 127, and so is `expression`, by
    which a held sound grows and fades. All apply from the start; `changes` are later ones, but
    percussion, which starts with the standard kit (0), has no pan and no expression. `bends` bend
    the whole track, so a part has further tracks for bent notes, and one for muted notes.
    """

    part: str
    name: str
    program: int | None
    volume: int
    pan: int
    notes: tuple[Note, ...]
    bends: tuple[Bend, ...] = ()
    changes: tuple[Control, ...] = ()
    level_lu: int = 0
    reverb: int = 0
    expression: int = 127


class Setting(NamedTuple):
    """What a track is set to where a note starts, with values as in `Track`.

    `program` is the kit of percussion, which starts with the standard kit, 0.
    """

    program: int
    volume: int
    pan: int
    expression: int
    level_lu: int


def with_settings(track: Track) -> Iterator[tuple[Note, Setting]]:
    """A track's notes, each with what the track is set to where it starts."""
    now = _first_setting(track)
    starts, settings = [], [now]
    for start_whole, what, value in track.changes:
        now = now._replace(**{what: value})
        starts.append(start_whole)
        settings.append(now)
    for note in track.notes:
        yield note, settings[bisect_right(starts, note.start_whole)]


def with_volumes(track: Track, volume: Callable[[int, int], int]) -> Track:
    """A track with other volumes.

    Args:
        track: whose volumes and programs change by `changes`, in order.
        volume: the new one for a program and the track's own volume.
    """
    now = _first_setting(track)
    first = written = volume(now.program, now.volume)
    changes: list[Control] = []
    for change in track.changes:
        now = now._replace(**{change.what: change.value})
        if change.what != "volume":
            changes.append(change)
        following = volume(now.program, now.volume)
        if following != written:
            changes.append(Control(change.start_whole, "volume", following))
            written = following
    return track._replace(volume=first, changes=tuple(changes))


def _first_setting(track: Track) -> Setting:
    return Setting(track.program or 0, track.volume, track.pan, track.expression, track.level_lu)


def sounding(tracks: Iterable[Track]) -> tuple[Track, ...]:
    """Tracks without those that are empty.

    A part's first track stays where a further one has notes: it has the part's name and sound.
    """
    every = list(tracks)
    parts = {track.part for track in every if track.notes}
    firsts = {track.part: track for track in reversed(every) if track.part in parts}
    return tuple(track for track in every if track.notes or firsts.get(track.part) is track)


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
    """A section marker, a chord name or words to sing, and their place."""

    start_whole: Fraction
    text: str


class Score(NamedTuple):
    """A song ready to be written.

    `keys` are as they sound; `end_whole` includes the ring-out. `pitch_hz` is the A above
    middle C. `words` are to be sung from their place on; what ends them is as RP-017 has it.
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
    words: tuple[Words, ...] = ()
