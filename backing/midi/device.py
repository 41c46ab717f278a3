"""A score for a MIDI device of which nothing is known: volumes and velocities that suit most.

In a `Score` a part's volume says how far it is from the balance; a file needs a channel's volume,
which depends on the sound. Percussion shares a channel, so its volume goes into its velocities.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from fractions import Fraction

from backing.errors import BackingError
from backing.score import Control, Note, Score, Track
from backing.theory.device_levels import (
    DEVICE_CLICK,
    DEVICE_KITS,
    DEVICE_VOLUMES,
    IN_BALANCE,
    MOST,
    RESTING_EXPRESSION,
    USUAL_DEVICE_VOLUME,
)

_CLICK = "click"


def for_device(score: Score) -> Score:
    """A score whose tracks have the volumes and velocities that are written into a file.

    Raises:
        BackingError: a volume outside its range.
    """
    return score._replace(
        tracks=tuple(
            _percussion(track) if track.program is None else _pitched(track)
            for track in score.tracks
        )
    )


def _pitched(track: Track) -> Track:
    """A track whose volume, and each change of it, is the sound's usual one times the form's."""
    now = {"program": track.program or 0, "volume": track.volume}
    usual = _volume(track, **now)
    changes: list[Control] = []
    written = usual
    for change in track.changes:
        if change.what not in now:
            changes.append(change)
            continue
        now[change.what] = change.value
        if change.what == "program":
            changes.append(change)
        volume = _volume(track, **now)
        if volume != written:
            changes.append(Control(change.start_whole, "volume", volume))
            written = volume
    return track._replace(volume=usual, changes=tuple(changes))


def _volume(track: Track, program: int, volume: int) -> int:
    if not 0 <= volume <= MOST:
        raise BackingError(f"{track.name}: its volume is {volume}, outside the range 0 to {MOST}.")
    usual = Fraction(DEVICE_VOLUMES.get(program, USUAL_DEVICE_VOLUME) * volume, IN_BALANCE)
    if track.expression < MOST:
        usual *= Fraction(MOST, RESTING_EXPRESSION)
    return min(MOST, round(usual))


def _percussion(track: Track) -> Track:
    """A track whose velocities have the volume in them, and that has no volumes left."""
    levels = list(_levels(track))
    starts = [start for start, _ in levels]

    def leveled(note: Note) -> Note:
        _, level = levels[max(0, bisect_right(starts, note.start_whole) - 1)]
        velocity = note.velocity * level.numerator // level.denominator
        return note._replace(velocity=min(MOST, max(1, velocity)))

    return track._replace(
        notes=tuple(map(leveled, track.notes)),
        changes=tuple(one for one in track.changes if one.what not in ("volume", "level_lu")),
    )


def _levels(track: Track) -> Iterator[tuple[Fraction, Fraction]]:
    """What velocities are multiplied by, from each place on."""
    kit, volume = 0, track.volume
    yield Fraction(0), _level(track, kit, volume)
    for change in track.changes:
        if change.what == "program":
            kit = change.value
        elif change.what == "volume":
            volume = change.value
        yield change.start_whole, _level(track, kit, volume)


def _level(track: Track, kit: int, volume: int) -> Fraction:
    usual = DEVICE_CLICK if track.part == _CLICK else DEVICE_KITS.get(kit, DEVICE_KITS[0])
    return usual * volume / IN_BALANCE
