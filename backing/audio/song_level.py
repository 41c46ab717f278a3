"""The gain of a song: what brings all of it, at full tempo, to the target loudness.

Every version of a song gets the gain of the whole one, so that the band doesn't change where the
student takes over: without the guitar it is softer than the target. Peaks over the ceiling are
limited, by 3 dB at most; where that isn't enough, the song stays below its target.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from backing.audio.limiter import Limiter
from backing.audio.loudness import CEILING_DB, HAIR_DB, Loudness, measure, raw_blocks
from backing.system.cache import cached

if TYPE_CHECKING:
    from backing.audio.loudness import Block

#: The most that peaks are turned down, in dB.
MOST_REDUCTION_DB = 3.0
#: Room under the ceiling for what a lossy encoder adds to the peaks, so that few files are encoded
#: twice: of 20 mixes of the demos it added less than this to 19 as MP3, to 16 as Ogg.
ROOM_DB = 0.1
#: How near the target is near enough, in LU, and how often a better gain is looked for.
NEAR_LU, TRIES = 0.02, 4
#: Changes with everything that changes the gain of the same sound.
EDITION = 2


class Gain(NamedTuple):
    """Decibels to add to the sound as it is rendered, and the loudness of the whole song then.

    `lufs` is -inf for silence, and for less than 0.4 s. `held_back` is whether the peaks kept it
    from reaching the target.
    """

    db: float
    lufs: float
    held_back: bool


def gain_for(raw: Path, rate: int, target_lufs: float) -> Gain:
    """The gain of a raw file that holds a whole song.

    What has no loudness is left as it is, unless its peak is over the ceiling.

    Raises:
        BackingError: the file can't be read.
    """
    loudness = measure(raw, rate)
    most = _most_db(loudness)
    if loudness.lufs == -inf:
        return Gain(min(0.0, most), -inf, most < 0.0)
    db = min(most, target_lufs - loudness.lufs)
    for _ in range(TRIES):
        reached = _limited_lufs(raw, rate, db, loudness)
        if abs(target_lufs - reached) <= NEAR_LU or (db == most and reached < target_lufs):
            break
        db = min(most, db + target_lufs - reached)
    return Gain(db, reached, target_lufs - reached > NEAR_LU)


def song_gain(key: str, whole: Callable[[], tuple[Path, int]], target_lufs: float) -> Gain:
    """The gain of a song, from the cache or from its sound, which is removed again.

    Args:
        key: all that the sound depends on.
        whole: renders the whole song; returns a raw file and its rate.
        target_lufs: the loudness.
    """

    def make() -> list[Any]:
        raw, rate = whole()
        gain = gain_for(raw, rate, target_lufs)
        raw.unlink()
        return [gain.db, None if gain.lufs == -inf else gain.lufs, gain.held_back]

    text = f"{EDITION}\n{target_lufs}\n{key}"
    digest = hashlib.sha256(text.encode()).hexdigest()
    db, lufs, held_back = cached("songs", digest, make, _fits)
    return Gain(db, -inf if lufs is None else lufs, held_back)


def of_version(gain: Gain, loudness: Loudness) -> Gain:
    """The song's gain for one of its versions: less where its peaks would be limited too much."""
    return gain._replace(db=min(gain.db, _most_db(loudness)))


def limited(raw: Path, rate: int, gain_db: float, ceiling_db: float | None) -> Iterator[Block]:
    """A raw file's blocks at a gain, with peaks under a ceiling; None leaves them as they are."""
    import numpy as np

    factor = np.float32(10 ** (gain_db / 20))
    blocks = (block * factor for block in raw_blocks(raw))
    if ceiling_db is None:
        return blocks
    return Limiter(rate, ceiling_db - HAIR_DB).limited(blocks)


def held_back_sentence(gain: Gain, target_lufs: float) -> str:
    """A sentence for the user about a gain that was held back; empty if it was not."""
    if not gain.held_back:
        return ""
    if gain.lufs == -inf:
        return f"Turned down by {-gain.db:.1f} dB, to keep its peaks from distorting."
    return (
        f"The whole song is at {gain.lufs:.1f} LUFS instead of {target_lufs:.1f}: any louder, its "
        f"peaks would have to be turned down by more than {MOST_REDUCTION_DB:.0f} dB."
    )


def _most_db(loudness: Loudness) -> float:
    """The highest gain at which peaks need no more than the most reduction."""
    if loudness.lufs == -inf:
        return CEILING_DB - ROOM_DB - HAIR_DB - loudness.true_peak_db
    return CEILING_DB - ROOM_DB + MOST_REDUCTION_DB - loudness.true_peak_db


def _limited_lufs(raw: Path, rate: int, db: float, loudness: Loudness) -> float:
    if loudness.true_peak_db + db <= CEILING_DB - ROOM_DB - HAIR_DB:
        return loudness.lufs + db
    return measure(limited(raw, rate, db, CEILING_DB - ROOM_DB), rate).lufs


def _fits(found: Any) -> bool:
    """Whether what was kept is a gain."""
    match found:
        case [int() | float(), int() | float() | None, bool()]:
            return True
    return False
