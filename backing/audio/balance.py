"""What brings each part to its place in the balance, in a soundfont that has been measured.

How loud a part will be is predicted from its notes: each adds the power that was measured for it,
as if notes never met in phase. Fixed target levels by such an energy model were preferred to those
of models of hearing (Wichern and others, "Comparison of loudness features for automatic level
adjustment in mixing", AES Convention 139, 2015). The predicted loudness is gated as BS.1770 has
it, so bars without the part don't count.

The guitar's part is the zero that all others are relative to. The whole song at full tempo gives
the gains, and every version of it keeps them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from math import inf, log10
from typing import TYPE_CHECKING, Any, NamedTuple

from backing.audio.clicks import ACCENT_VELOCITY
from backing.audio.clicks import PART as CLICK
from backing.audio.frames import seconds_at
from backing.audio.standing_out import Strike, raised_db
from backing.score import Note, Score, Track, with_settings, with_volumes
from backing.theory.device_levels import MOST

if TYPE_CHECKING:
    from backing.audio.calibration import Calibration, NotePower

#: A chord or note that makes programs of one part alike, and how long it sounds, in tenths.
_TYPICAL = {33: (33, 38, 43)}
_CHORD = (43, 50, 55, 59, 64, 67)
_TYPICAL_TENTHS = 5
#: Room for the end of the last note, in tenths of a second.
_ROOM = 64


class Sound(NamedTuple):
    """A part's sound: its program, or the kit of percussion."""

    part: str
    number: int


#: Decibels to add to each sound at volume 100.
Gains = Mapping[Sound, float]


def gains_of(score: Score, calibration: Calibration) -> dict[Sound, float]:
    """What brings each part of a whole song to its level."""
    seconds = seconds_at(score.tempos)

    def tenths(whole: Fraction) -> float:
        return 10 * float(seconds(whole))

    length = int(tenths(score.end_whole)) + 1
    found: dict[Sound, float] = {}
    for part in dict.fromkeys(track.part for track in score.tracks):
        tracks = [track for track in score.tracks if track.part == part]
        found |= _gains(tracks, calibration, tenths, length)
    return _with_clear_click(score, found, calibration)


def _with_clear_click(
    score: Score, gains: dict[Sound, float], calibration: Calibration
) -> dict[Sound, float]:
    """The same gains, but a click that the drums would cover is louder."""
    seconds = seconds_at(score.tempos)
    clicks: list[Strike] = []
    drums: list[Strike] = []
    for track in (track for track in score.tracks if track.program is None):
        strikes = clicks if track.part == CLICK else drums
        for sound, note, power, factor, _ in _powers(track, calibration):
            if sound in gains:
                balanced_factor = factor * 10 ** (gains[sound] / 10)
                strikes.append(Strike(float(seconds(note.start_whole)), power, balanced_factor))
    first = min((stroke.at_s for stroke in drums), default=inf)
    raised = raised_db([click for click in clicks if click.at_s >= first], drums)
    return {sound: db + raised if sound.part == CLICK else db for sound, db in gains.items()}


def _gains(
    tracks: Sequence[Track], calibration: Calibration, tenths: Any, length: int
) -> dict[Sound, float]:
    """One part's gains: its programs are made alike, then brought to its level together.

    Kits aren't alike: each is brought to its level by itself.
    """
    import numpy as np

    from backing.audio.meter import integrated_lufs

    powers: dict[Sound, list[float]] = {}
    for track in tracks:
        for sound, note, power, factor, level_lu in _powers(track, calibration):
            factor *= 10 ** (-level_lu / 10)
            bins = powers.setdefault(sound, [0.0] * (length + _ROOM))
            _add(bins, power, tenths(note.start_whole), tenths(note.end_whole), factor)
    alike = {sound: _alike(sound, tracks, calibration) for sound in powers}
    groups = [[sound] for sound in powers] if tracks[0].program is None else [list(powers)]
    found: dict[Sound, float] = {}
    for group in groups:
        total: Any = sum(np.array(powers[one]) * 10 ** (alike[one] / 10) for one in group)
        lufs = integrated_lufs(total) if group else -inf
        if lufs > -inf:
            found |= {sound: alike[sound] - lufs for sound in group}
    return found


def _powers(
    track: Track, calibration: Calibration
) -> Iterator[tuple[Sound, Note, NotePower, float, int]]:
    """A track's measured notes: sound, note, its power, what that is times, and its level in LU."""
    for note, now in with_settings(track):
        power = _power(track, note, now.program, calibration)
        if power is not None:
            factor = _loudness_factor(track.part, note, now.expression)
            yield Sound(track.part, now.program), note, power, factor, now.level_lu


def _power(track: Track, note: Note, number: int, calibration: Calibration) -> NotePower | None:
    if track.program is None:
        return calibration.stroke(number, note.pitch)
    return calibration.note(number, note.pitch)


def _loudness_factor(part: str, note: Note, expression: int) -> float:
    """A note's power against one at the measured velocity."""
    from backing.audio.calibration import VELOCITY

    if part == CLICK:
        return float((note.velocity / ACCENT_VELOCITY) ** 2 * (ACCENT_VELOCITY / VELOCITY) ** 4)
    return float((note.velocity / VELOCITY * expression / MOST) ** 4)


def _alike(sound: Sound, tracks: Sequence[Track], calibration: Calibration) -> float:
    """The decibels that make a part's programs equally loud on a typical chord; 0 for kits."""
    if tracks[0].program is None:
        return 0.0
    power = sum(
        sum(calibration.note(sound.number, pitch).held[:_TYPICAL_TENTHS])
        for pitch in _TYPICAL.get(sound.number, _CHORD)
    )
    return -10 * log10(power) if power > 0 else 0.0


def _add(bins: list[float], power: NotePower, start: float, end: float, factor: float) -> None:
    """Add a note's power to a part's tenths of a second."""
    at, held = int(start), power.held
    if not power.ending:
        for place, each in enumerate(held):
            bins[at + place] += factor * each
        return
    whole, rest = divmod(end - start, 1)
    last = int(whole)
    for place in range(last):
        bins[at + place] += factor * power.at(place)
    now = factor * power.at(last)
    bins[at + last] += now * rest
    ending = now / held[-1] if held[-1] > 0 else 0.0
    for place, each in enumerate(power.ending):
        bins[at + last + place] += min(ending * each, now)


def sounds_of(score: Score) -> set[Sound]:
    """Every sound that a score plays."""
    return {
        Sound(track.part, now.program) for track in score.tracks for _, now in with_settings(track)
    }


# A score in balance.


def balanced(score: Score, gains: Gains, whole: Gains) -> Score:
    """A score whose parts have the volumes that bring them into balance; the click is left.

    Args:
        score: a version of a song.
        gains: of every sound in it.
        whole: those of the whole song, of which the loudest sound gets volume 100.
    """
    top = loudest(whole or gains)
    return score._replace(
        tracks=tuple(
            track if track.part == CLICK else _balanced(track, gains, top) for track in score.tracks
        )
    )


def click_gain(gains: Gains, whole: Gains) -> float:
    """What a click's amplitude is multiplied by, beside the parts of `balanced`."""
    own = [db for sound, db in gains.items() if sound.part == CLICK]
    return float(10 ** ((own[0] - loudest(whole or gains)) / 20)) if own else 1.0


def loudest(gains: Gains) -> float:
    """The gain of the sound that needs the most; the click is apart."""
    return max((db for sound, db in gains.items() if sound.part != CLICK), default=0.0)


def _balanced(track: Track, gains: Gains, top: float) -> Track:
    def volume(program: int, written: int) -> int:
        down = gains.get(Sound(track.part, program), top) - top
        return min(MOST, round(written * 10 ** (down / 40)))

    return with_volumes(track, volume)
