"""How loud the page plays: one gain for all parts, and the click's gains.

The parts' average is worked out from their samples' powers, as if notes added up in power, so
that all songs are about equally loud and their peaks stay below full scale.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import sqrt
from typing import TYPE_CHECKING, NamedTuple

from backing.audio.balance import Gains, click_gain
from backing.page.page_json import ClickSoundData, Level, NoteData, PartData
from backing.players.click import ACCENT, BEAT, BETWEEN, GROUP
from backing.theory.general_midi import CLICK_SOUNDS

if TYPE_CHECKING:
    from backing.page.sprite import Sprite

#: The parts' average in dB below full scale: a strummed guitar's peaks stand 15 dB above it.
PARTS_DB = -20.0
#: How much of a note that dies away counts, in seconds.
STRUCK_S = 0.5
#: What a panner in the middle does to a part; the click goes past it.
CENTER = sqrt(0.5)
#: Each kind of click as a share of an accent's loudness, as the click's velocities have it.
CLICK_SHARES: dict[Level, float] = {
    "accent": 1.0,
    "group": GROUP / ACCENT,
    "beat": BEAT / ACCENT,
    "between": BETWEEN / ACCENT,
}


class Leveled(NamedTuple):
    """Parts whose notes' gains hold for the samples in the sprite, and the gain over all parts."""

    parts: list[PartData]
    gain: float


def leveled(parts: Sequence[PartData], made: Sprite, seconds: float) -> Leveled:
    """Parts at the sprite's levels, all together at the usual loudness.

    Args:
        parts: with gains for the samples as the engine plays them.
        made: the samples.
        seconds: how long the song is.
    """
    energy = sum(_energy(note, made) for part in parts for note in part["notes"])
    gain = 10 ** (PARTS_DB / 20) / sqrt(energy / seconds) if energy else 1.0
    return Leveled(
        [{**part, "notes": [_in_sprite(note, made) for note in part["notes"]]} for part in parts],
        gain,
    )


def _energy(note: NoteData, made: Sprite) -> float:
    """A note's power over the time that counts."""
    start, end, sample, gain = note[:4]
    held = made.table[sample]["loop"] is not None
    lasts = end - start if held else min(end - start if end else STRUCK_S, STRUCK_S)
    return gain**2 * made.powers[sample] * lasts


def _in_sprite(note: NoteData, made: Sprite) -> NoteData:
    """A note with the gain for its sample as it is in the sprite."""
    start, end, sample, gain = note[:4]
    plain = start, end, sample, float(f"{gain * made.levels[sample]:.4g}")
    return (*plain, note[4], note[5]) if len(note) == 6 else (*plain, note[4])


def click_sounds(made: Sprite, gains: Gains, gain: float) -> dict[str, ClickSoundData]:
    """The click's sounds with their gains, whose samples are at full scale.

    Args:
        made: the samples.
        gains: what brings each sound of the song into balance.
        gain: the one over all parts.
    """
    over = CENTER * gain * click_gain(gains, gains)
    return {
        name: {
            **places,
            "gains": {
                level: float(f"{over * share * _peak(name, level, made.click_peaks):.4g}")
                for level, share in CLICK_SHARES.items()
            },
        }
        for name, places in made.click_places.items()
    }


def _peak(name: str, level: Level, peaks: Mapping[int, float]) -> float:
    """The peak of the sample for a level of a click sound, as the engine plays it."""
    accent, plain = CLICK_SOUNDS[name]
    return peaks[accent if level == "accent" else plain]
