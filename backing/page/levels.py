"""How loud the page plays: one factor over all parts, and the click's over that.

The parts' average is reckoned from their samples' powers, as if notes added up in power; so
every song comes to about the same loudness, and its peaks stay below full scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from typing import TYPE_CHECKING

from backing.audio.clicks import ACCENT_OVER_DB
from backing.page.data import CLICK_GAINS, Json

if TYPE_CHECKING:
    from backing.page.sprite import Sprite

#: The parts' average in dB below full scale: a strummed guitar's peaks stand 15 dB above it.
PARTS_DB = -20.0
#: How much of a note counts that dies away, in seconds.
STRUCK_S = 0.5


def level(parts: Sequence[Json], made: Sprite, seconds: float) -> float:
    """Lay the samples' own levels into the notes' gains, and find the factor over all parts.

    Args:
        parts: changed in place: each note's gain then holds for the sample in the sprite.
        made: the samples.
        seconds: how long the song is.
    """
    energy = 0.0
    for part in parts:
        for note in part["notes"]:
            start, end, sample, gain = note[:4]
            held = made.table[sample]["loop"] is not None
            lasts = end - start if held else min(end - start if end else STRUCK_S, STRUCK_S)
            energy += gain**2 * made.powers[sample] * lasts
            note[3] = float(f"{gain * made.levels[sample]:.4g}")
    return 10 ** (PARTS_DB / 20) / sqrt(energy / seconds) if energy else 1.0


def click_gains() -> dict[str, float]:
    """What each kind of click is played at; its samples are at full scale."""
    accent = 10 ** ((PARTS_DB + ACCENT_OVER_DB) / 20)
    return {kind: round(accent * share, 4) for kind, share in CLICK_GAINS.items()}
