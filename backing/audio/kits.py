"""Brushes for a soundfont that has no brush set: the standard kit, played softly."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection

from backing.audio.soundfonts import PERCUSSION_BANK
from backing.score import Note, Score, Track
from backing.theory.built_in_beats import HAT, SLAP, SNARE, SWIRL, TAP
from backing.theory.general_midi import BRUSH_KIT, STANDARD_KIT

#: What stands for a brush: on these keys the standard kit has other drums. A swirl becomes the
#: hi-hat, which keeps the time.
STAND_INS = {TAP: SNARE, SLAP: SNARE, SWIRL: HAT}
#: The share of a velocity that is left, in percent: of the stand-ins, and of all other drums.
#: Chosen so that the loudness of brushed bars is that of the brush sets of free soundfonts.
STAND_IN_VELOCITY, OTHER_VELOCITY = 70, 90


def with_kits_of(score: Score, presets: Collection[tuple[int, int]]) -> Score:
    """A score whose brushes are played on the standard kit, if the presets have no brush set.

    Args:
        score: as it should sound.
        presets: a soundfont's, as pairs (bank, program).
    """
    if (PERCUSSION_BANK, BRUSH_KIT) in presets or (PERCUSSION_BANK, STANDARD_KIT) not in presets:
        return score
    tracks = tuple(
        _on_standard_kit(track) if track.program is None else track for track in score.tracks
    )
    return score._replace(tracks=tracks)


def _on_standard_kit(track: Track) -> Track:
    if all(change.value != BRUSH_KIT for change in track.changes):
        return track
    starts = [change.start_whole for change in track.changes]
    notes = []
    for note in track.notes:
        index = bisect_right(starts, note.start_whole) - 1
        brushed = index >= 0 and track.changes[index].value == BRUSH_KIT
        notes.append(_stand_in(note) if brushed else note)
    return track._replace(notes=tuple(notes), changes=())


def _stand_in(note: Note) -> Note:
    percent = STAND_IN_VELOCITY if note.pitch in STAND_INS else OTHER_VELOCITY
    return note._replace(
        pitch=STAND_INS.get(note.pitch, note.pitch), velocity=max(1, note.velocity * percent // 100)
    )
