"""A meter of ITU-R BS.1770 loudness and true peak by numpy alone, in a stream.

It measures where no library's meter can be installed, and gives what that gives: loudness
in blocks of 0.4 s every 0.1 s, gated at -70 LUFS and at 10 LU below the mean of what is
left; the true peak of the signal at 4 times its rate (2 times from 96 kHz on), by a sinc of 49
taps under a Hann window. The two filters before it, a shelf and a high pass, are given in the
standard for 48 kHz alone; their analog forms, from which other rates follow, are those in
common use (G 3.99984 dB, Q 0.70718 at 1681.974 Hz; Q 0.50033 at 38.135 Hz).
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
#: The filters' answer to one sample, as long as it is heard: the lower one is at 38 Hz.
ANSWER_S = 0.2


class Meter:
    """Integrated loudness; frames are added as float32, frames by two."""

    def __init__(self, rate: int) -> None:
        import numpy as np

        self._bin = (rate + 5) // 10
        answer = weighting(rate, int(ANSWER_S * rate))
        self._size = 1 << (4 * len(answer) - 1).bit_length()
        self._hop = self._size - len(answer) + 1
        self._answer = np.fft.rfft(answer, self._size)[:, None]
        self._waiting = np.zeros((len(answer) - 1, CHANNELS))
        self._before = len(answer) - 1
        self._squares = np.zeros(0)
        self._bins: list[float] = []

    def add(self, block: Any) -> None:
        """Hear frames that follow those before."""
        import numpy as np

        self._waiting = np.concatenate([self._waiting, block])
        while len(self._waiting) >= self._size:
            self._filter(self._waiting[: self._size], self._hop)
            self._waiting = self._waiting[self._hop :]

    @property
    def lufs(self) -> float:
        """Of all that was heard; -inf for silence, and below 0.4 s. Nothing is added after it."""
        import numpy as np

        left = len(self._waiting) - self._before
        rest = np.zeros((self._size, CHANNELS))
        rest[: len(self._waiting)] = self._waiting
        self._filter(rest, left)
        bins = np.array(self._bins)
        self._waiting = self._waiting[left:]
        if len(bins) < 4:
            return -inf
        power = (bins[:-3] + bins[1:-2] + bins[2:-1] + bins[3:]) / (4 * self._bin)
        loud = power[power >= _power(ABSOLUTE_GATE_LUFS)]
        if not len(loud):
            return -inf
        loud = loud[loud >= loud.mean() * 10 ** (RELATIVE_GATE_LU / 10)]
        return float(10 * log10(loud.mean()) - 0.691)

    def _filter(self, frames: Any, count: int) -> None:
        """Weigh `count` frames, after those that the filters still remember."""
        import numpy as np

        spectrum = np.fft.rfft(frames, axis=0)
        heard = np.fft.irfft(spectrum * self._answer, self._size, axis=0)
        squares = (heard[self._before : self._before + count] ** 2).sum(axis=1)
        squares = np.concatenate([self._squares, squares])
        whole = len(squares) // self._bin
        self._bins += squares[: whole * self._bin].reshape(whole, self._bin).sum(axis=1).tolist()
        self._squares = squares[whole * self._bin :]


class Peak:
    """The highest of the oversampled signal, of the frames given."""

    def __init__(self, rate: int) -> None:
        self._phases = interpolator(4 if rate < 96000 else 2)

    def highest(self, frames: Any, start: int) -> float:
        """From frame `start` on; what is before it is only remembered, `LONGEST` at most."""
        import numpy as np

        frames = np.concatenate([np.zeros((LONGEST, CHANNELS), "f4"), frames])
        return float(self.of_each(frames[:, None], start + LONGEST)[0])

    def of_each(self, windows: Any, start: int) -> Any:
        """The same of windows at once, frames by windows by two; `LONGEST` are before `start`."""
        import numpy as np

        heard, end = windows[start:], len(windows)
        most = np.abs(heard).max(axis=0)
        for taps in self._phases:
            between = np.zeros_like(heard)
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
    """The first samples of what the two filters make of one sample of 1.0."""
    import numpy as np

    answer = [1.0] + [0.0] * (length - 1)
    for above, below in (_shelf(rate), _high_pass(rate)):
        x1 = x2 = y1 = y2 = 0.0
        for index, x in enumerate(answer):
            y = above[0] * x + above[1] * x1 + above[2] * x2 - below[0] * y1 - below[1] * y2
            x1, x2, y1, y2 = x, x1, y, y1
            answer[index] = y
    return np.array(answer)


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
