"""A score for a MIDI device of which nothing is known: volumes and velocities that suit most.

In a `Score` a part's volume says how far it is from the balance; a file needs a channel's volume,
which depends on the sound. Percussion shares a channel, so its volume goes into its velocities.
"""

from __future__ import annotations

from fractions import Fraction

from backing.errors import BackingError
from backing.score import Note, Score, Setting, Track, with_settings, with_volumes
from backing.theory.device_levels import (
    DEVICE_CLICK,
    DEVICE_KITS,
    DEVICE_VOLUMES,
    IN_BALANCE,
    MOST,
    RESTING_EXPRESSION,
    USUAL_DEVICE_VOLUME,
)
from backing.theory.general_midi import STANDARD_KIT

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
    """A track whose volumes are its sounds' usual ones times the form's."""
    return with_volumes(track, lambda program, written: _volume(track, program, written))


def _volume(track: Track, program: int, volume: int) -> int:
    if not 0 <= volume <= MOST:
        raise BackingError(f"{track.name}: its volume is {volume}, outside the range 0 to {MOST}.")
    usual = Fraction(DEVICE_VOLUMES.get(program, USUAL_DEVICE_VOLUME) * volume, IN_BALANCE)
    if track.expression < MOST:
        usual *= Fraction(MOST, RESTING_EXPRESSION)
    return min(MOST, round(usual))


def _percussion(track: Track) -> Track:
    """A track whose velocities have the volume in them, and that has no volumes left."""
    return track._replace(
        notes=tuple(_leveled(track, note, now) for note, now in with_settings(track)),
        changes=tuple(one for one in track.changes if one.what not in ("volume", "level_lu")),
    )


def _leveled(track: Track, note: Note, now: Setting) -> Note:
    usual = DEVICE_KITS.get(now.program, DEVICE_KITS[STANDARD_KIT])
    level = (DEVICE_CLICK if track.part == _CLICK else usual) * now.volume / IN_BALANCE
    velocity = note.velocity * level.numerator // level.denominator
    return note._replace(velocity=min(MOST, max(1, velocity)))
