"""How loud a piece of audio is, and the gain that brings it to a target loudness.

Loudness is integrated (ITU-R BS.1770, gated as in EBU R 128) in LUFS; the true peak is the highest
value of the oversampled signal in dBTP. Both are measured in a stream, so memory does not grow
with the length. A raw file is little-endian float32, two channels interleaved; 1.0 is full scale.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import inf, log10
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from backing.audio.meter import Meter, Peak
from backing.errors import BackingError, read_error

if TYPE_CHECKING:
    import numpy as np

    Block = np.ndarray[Any, np.dtype[np.float32]]

CHANNELS = 2
FRAME_BYTES = 4 * CHANNELS
BLOCK_FRAMES = 65536
#: The loudness of streamed music (AES TD1008: -16 LUFS for what is not speech).
TARGET_LUFS = -16.0
#: The highest true peak allowed (EBU R 128).
CEILING_DB = -1.0
#: Room under the ceiling for rounding and dither of the last bit.
HAIR_DB = 0.01

#: How many frames are examined together; `_REACH` is at most as many.
_WINDOW = 64
#: The meter's interpolator has 49 taps for 4 or for 2 steps a frame: 13 or 25 frames.
_REACH = 32
#: More than the sum of any of its phases' taps without their signs: 1.865 for 4 steps, and
#: 2.307 for 2, which it takes from 96 kHz on (a sinc under a Hann window, summed).
_MOST_OVER, _MOST_OVER_96 = 1.9, 2.4


class Loudness(NamedTuple):
    """What a meter measures. `lufs` is -inf for silence, and for less than 0.4 s."""

    lufs: float
    true_peak_db: float


class Gain(NamedTuple):
    """Decibels to add. `held_back` is whether the peak kept it from reaching the target."""

    db: float
    held_back: bool


def measure(source: Path | Iterable[Block], rate: int) -> Loudness:
    """Measure a raw file, or blocks of float32 frames (frames by two), at `rate` Hz.

    Raises:
        BackingError: the file can't be read, or is cut within a frame.
    """
    meter, peak = Meter(rate), _HighestPeak(rate)
    for block in raw_blocks(source) if isinstance(source, Path) else source:
        if len(block):
            meter.add(block)
            peak.add(block)
    return Loudness(meter.lufs, 20 * log10(peak.value) if peak.value > 0 else -inf)


class _HighestPeak:
    """The true peak of a stream, interpolated only in windows that may hold the highest.

    What the interpolator gives at a frame depends on at most `_REACH` frames up to that one, and
    is at most `_MOST_OVER` times the largest of them. So the result is that of the whole signal,
    in a small part of the time.
    """

    def __init__(self, rate: int) -> None:
        import numpy as np

        self.value = 0.0
        self._peak = Peak(rate)
        self._over = _MOST_OVER if rate < 96000 else _MOST_OVER_96
        self._before = np.zeros((_REACH, CHANNELS), "f4")

    def add(self, block: Block) -> None:
        import numpy as np

        before, frames = self._before, np.concatenate([self._before, block])
        self._before = frames[-_REACH:]
        count = -(-len(block) // _WINDOW)
        if missing := count * _WINDOW - len(block):
            frames = np.concatenate([frames, np.zeros((missing, CHANNELS), "f4")])
        rows = frames[_REACH:].reshape(count, -1)
        most = np.maximum(rows.max(axis=1), -rows.min(axis=1))
        most = np.maximum(most, np.concatenate([[np.abs(before).max()], most[:-1]]))
        (loud,) = np.nonzero(most * self._over > self.value)
        if not len(loud):
            return
        windows = frames[np.arange(_REACH + _WINDOW)[:, None] + loud * _WINDOW]
        self.value = max(self.value, float(self._peak.of_each(windows, _REACH).max()))


def gain_for(
    loudness: Loudness, target_lufs: float = TARGET_LUFS, ceiling_db: float = CEILING_DB
) -> Gain:
    """The gain that brings a loudness to the target, or the true peak to just under the ceiling.

    The lower of the two gains is used. What has no loudness (silence, or too short to measure)
    is left as it is, unless its peak is over the ceiling.
    """
    wanted = target_lufs - loudness.lufs if loudness.lufs > -inf else 0.0
    most = ceiling_db - HAIR_DB - loudness.true_peak_db
    return Gain(min(wanted, most), wanted > most)


def held_back_sentence(loudness: Loudness, gain: Gain, target_lufs: float = TARGET_LUFS) -> str:
    """A sentence for the user about a gain that was held back; empty if it was not."""
    if not gain.held_back:
        return ""
    if loudness.lufs == -inf:
        return f"Turned down by {-gain.db:.1f} dB, to keep its peaks from distorting."
    reached = loudness.lufs + gain.db
    return f"{reached:.1f} LUFS instead of {target_lufs:.1f}: any louder, its peaks would distort."


def raw_blocks(path: Path) -> Iterator[Block]:
    """A raw file's frames, a block at a time; raises BackingError if it can't be read."""
    import numpy as np

    try:
        with open(path, "rb") as file:
            while data := file.read(BLOCK_FRAMES * FRAME_BYTES):
                if len(data) % FRAME_BYTES:
                    raise BackingError(f"{path}: the rendered sound is cut off within a frame.")
                yield np.frombuffer(data, "<f4").reshape(-1, CHANNELS)
    except OSError as error:
        raise read_error(path, error) from None
