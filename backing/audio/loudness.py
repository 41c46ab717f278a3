"""How loud a piece of audio is.

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

#: How many frames are examined together; `REACH` is at most as many.
WINDOW = 64
#: The meter's interpolator has 49 taps for 4 or for 2 steps a frame: 13 or 25 frames.
REACH = 32
#: More than the sum of any of its phases' taps without their signs: 1.865 for 4 steps, and
#: 2.307 for 2, which it takes from 96 kHz on (a sinc under a Hann window, summed).
_MOST_OVER, _MOST_OVER_96 = 1.9, 2.4


class Loudness(NamedTuple):
    """What a meter measures. `lufs` is -inf for silence, and for less than 0.4 s."""

    lufs: float
    true_peak_db: float


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
    """The true peak of a stream."""

    def __init__(self, rate: int) -> None:
        self.value = 0.0
        self._peaks = WindowPeaks(rate)

    def add(self, block: Block) -> None:
        _, peaks = self._peaks.over(self.value, block)
        self.value = max(self.value, float(peaks.max(initial=0.0)))


class WindowPeaks:
    """The true peaks of a stream's windows, interpolated only where they may be over a threshold.

    What the interpolator gives at a frame depends on at most `REACH` frames up to that one, and
    is at most `_MOST_OVER` times the largest of them. So the result is that of the whole signal,
    in a small part of the time.
    """

    def __init__(self, rate: int) -> None:
        import numpy as np

        self._peak = Peak(rate)
        self._over = _MOST_OVER if rate < 96000 else _MOST_OVER_96
        self._before = np.zeros((REACH, CHANNELS), "f4")

    def over(self, threshold: float, block: Block) -> tuple[Any, Any]:
        """Which of a block's windows may have a peak over a threshold, and their peaks.

        A block's last window may be short; no other block follows it then.
        """
        import numpy as np

        before, frames = self._before, np.concatenate([self._before, block])
        self._before = frames[-REACH:]
        count = -(-len(block) // WINDOW)
        if missing := count * WINDOW - len(block):
            frames = np.concatenate([frames, np.zeros((missing, CHANNELS), "f4")])
        rows = frames[REACH:].reshape(count, -1)
        most = np.maximum(rows.max(axis=1), -rows.min(axis=1))
        most = np.maximum(most, np.concatenate([[np.abs(before).max()], most[:-1]]))
        (loud,) = np.nonzero(most * self._over > threshold)
        if not len(loud):
            return loud, np.zeros(0)
        windows = frames[np.arange(REACH + WINDOW)[:, None] + loud * WINDOW]
        return loud, self._peak.of_each(windows, REACH)


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
