"""A meter of ITU-R BS.1770 loudness and true peak by numpy alone, in a stream.

Loudness is measured in blocks of 0.4 s every 0.1 s, gated at -70 LUFS and at 10 LU below the
mean of what is left. The true peak is that of the signal at 4 times its rate (2 times from 96 kHz
on), interpolated by a sinc of 49 taps under a Hann window. The standard gives its two filters, a
shelf and a high pass, for 48 kHz only; their analog forms, from which other rates follow, are
those in common use (G 3.99984 dB, Q 0.70718 at 1681.974 Hz; Q 0.50033 at 38.135 Hz).

It is the only meter here: the library that could do the same (pyebur128) has no wheel for Python
3.13 and 3.14. The tests compare the two where they can.
"""

from __future__ import annotations

from math import cos, inf, log10, pi, sin, tan
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    Taps = Sequence[float]

CHANNELS = 2
ABSOLUTE_GATE_LUFS, RELATIVE_GATE_LU = -70.0, -10.0
TAPS = 49
#: How many frames a place depends on: at 2 steps a frame, 25; at 4, 13.
LONGEST = 25
#: How long the filters' response to one sample lasts: the lower one, at 38 Hz, is then 200 dB down.
RESPONSE_S = 0.1


class Meter:
    """Integrated loudness; frames are added as float32, frames by two."""

    def __init__(self, rate: int) -> None:
        import numpy as np

        self._bin = (rate + 5) // 10
        response = weighting(rate, int(RESPONSE_S * rate))
        self._size = 1 << (2 * len(response) - 1).bit_length()
        self._before = len(response) - 1
        self._hop = self._size - self._before
        self._response = np.fft.rfft(response, self._size)
        self._waiting = np.zeros((CHANNELS, self._before))
        self._squares = np.zeros(0)
        self._bins: list[float] = []

    def add(self, block: Any) -> None:
        """Take frames that follow those before."""
        import numpy as np

        self._waiting = np.concatenate([self._waiting, block.T], axis=1)
        while self._waiting.shape[1] >= self._size:
            self._filter(self._waiting[:, : self._size], self._hop)
            self._waiting = self._waiting[:, self._hop :]

    @property
    def powers(self) -> Any:
        """The mean square of each tenth of a second so far. Nothing is added after it."""
        import numpy as np

        left = self._waiting.shape[1] - self._before
        rest = np.zeros((CHANNELS, self._size))
        rest[:, : self._waiting.shape[1]] = self._waiting
        self._filter(rest, left)
        self._waiting = self._waiting[:, left:]
        return np.array(self._bins) / self._bin

    @property
    def lufs(self) -> float:
        """The loudness so far; -inf for silence, and below 0.4 s. Nothing is added after it."""
        return integrated_lufs(self.powers)

    def _filter(self, channels: Any, count: int) -> None:
        """Weight `count` frames, after those that the filters still remember."""
        import numpy as np

        weighted = np.fft.irfft(np.fft.rfft(channels) * self._response, self._size)
        weighted = weighted[:, self._before : self._before + count]
        squares = np.concatenate([self._squares, (weighted**2).sum(axis=0)])
        whole = len(squares) // self._bin
        self._bins += squares[: whole * self._bin].reshape(whole, self._bin).sum(axis=1).tolist()
        self._squares = squares[whole * self._bin :]


def integrated_lufs(powers: Any) -> float:
    """The gated loudness of weighted mean squares, one for each tenth of a second."""
    if len(powers) < 4:
        return -inf
    blocks = (powers[:-3] + powers[1:-2] + powers[2:-1] + powers[3:]) / 4
    loud = blocks[blocks >= _power(ABSOLUTE_GATE_LUFS)]
    if not len(loud):
        return -inf
    loud = loud[loud >= loud.mean() * 10 ** (RELATIVE_GATE_LU / 10)]
    return loudness_of(float(loud.mean()))


def loudness_of(power: float) -> float:
    """A weighted mean square, summed over the channels, in LUFS."""
    return 10 * log10(power) - 0.691


class Peak:
    """The highest of the oversampled signal, of the frames given."""

    def __init__(self, rate: int) -> None:
        self._phases = interpolator(4 if rate < 96000 else 2)

    def highest(self, frames: Any, start: int) -> float:
        """From frame `start` on; of what is before it, `LONGEST` frames at most have influence."""
        import numpy as np

        frames = np.concatenate([np.zeros((LONGEST, CHANNELS), "f4"), frames])
        return float(self.of_each(frames[:, None], start + LONGEST)[0])

    def of_each(self, windows: Any, start: int) -> Any:
        """The same of windows at once, frames by windows by two; `LONGEST` are before `start`."""
        import numpy as np

        tail, end = windows[start:], len(windows)
        most = np.abs(tail).max(axis=0)
        for taps in self._phases:
            between = np.zeros_like(tail)
            for back, tap in enumerate(taps):
                if abs(tap) > 1e-9:
                    between += np.float32(tap) * windows[start - back : end - back]
            np.maximum(most, np.abs(between, out=between).max(axis=0), out=most)
        return most.max(axis=1)


def interpolator(factor: int) -> list[list[float]]:
    """The taps of each place between two samples."""
    middle = (TAPS - 1) / 2
    phases: list[list[float]] = [[] for _ in range(factor)]
    for tap in range(TAPS):
        angle = (tap - middle) * pi / factor
        sinc = sin(angle) / angle if angle else 1.0
        phases[tap % factor].append(sinc * 0.5 * (1 - cos(2 * pi * tap / (TAPS - 1))))
    return phases


def weighting(rate: int, length: int) -> Any:
    """The response of the two filters to one sample of 1.0, `length` samples long."""
    import numpy as np

    response = [1.0] + [0.0] * (length - 1)
    for above, below in (_shelf(rate), _high_pass(rate)):
        x1 = x2 = y1 = y2 = 0.0
        for index, x in enumerate(response):
            y = above[0] * x + above[1] * x1 + above[2] * x2 - below[0] * y1 - below[1] * y2
            x1, x2, y1, y2 = x, x1, y, y1
            response[index] = y
    return np.array(response)


def _shelf(rate: int) -> tuple[Taps, Taps]:
    k, q, high = (
        tan(pi * 1681.974450955533 / rate),
        0.7071752369554196,
        10 ** (3.999843853973347 / 20),
    )
    middle = high**0.4996667741545416
    under = 1 + k / q + k * k
    above = (high + middle * k / q + k * k, 2 * (k * k - high), high - middle * k / q + k * k)
    return [value / under for value in above], _poles(k, q)


def _high_pass(rate: int) -> tuple[Taps, Taps]:
    return (1.0, -2.0, 1.0), _poles(tan(pi * 38.13547087602444 / rate), 0.5003270373238773)


def _poles(k: float, q: float) -> Taps:
    under = 1 + k / q + k * k
    return 2 * (k * k - 1) / under, (1 - k / q + k * k) / under


def _power(lufs: float) -> float:
    return float(10 ** ((lufs + 0.691) / 10))
