"""Where clicks sound in audio: by a sudden rise, and by their shape.

Signals are one channel of samples; places are sample numbers. Shapes are compared by the
differences between neighboring samples, in which a click's edge stands out above held notes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Signal = NDArray[np.float32]

#: How far from its place a click is looked for.
REACH_S = 0.030
#: How much of a click is compared.
SHAPE_S = 0.020
#: Samples before the edge that belong to the shape.
LEAD = 16
#: An onset is where a window first reaches this share of its peak.
EDGE = 0.2
#: Under music a click is learned from this many windows or more, most of which must hold it.
LEAST_WINDOWS, IN_MOST = 4, 0.6
#: A click starts sharply: within `SHARP_S` it has this share of its energy.
SHARP_S, SHARP = 0.004, 0.1
#: A share of the learned click's energy that is added to every place's, so that a faint echo,
#: such as MP3 leaves in the silence before a click, isn't taken for the click.
SILENCE = 0.05


class Shape(NamedTuple):
    """A click as learned: samples of unit energy with the edge at `LEAD`, and its real energy."""

    samples: Signal
    energy: float


def reach(rate: int) -> int:
    """Samples on either side of an expected place."""
    return round(REACH_S * rate)


def span(rate: int) -> int:
    """Samples of a window in which a click is looked for; it starts `reach` + `LEAD` early."""
    return 2 * reach(rate) + round(SHAPE_S * rate)


def learn(windows: Signal, rate: int) -> Shape | None:
    """A click's shape from windows with one click each, near the middle; None from silence.

    The windows are averaged, lined up with that average, and averaged again.
    """
    import numpy as np

    length = round(SHAPE_S * rate)
    mean = windows.mean(axis=0)
    for _ in range(2):
        start = max(0, edge(mean) - LEAD)
        found = _shape(mean[start : start + length], length)
        if found is None:
            return None
        places, _, _ = match(windows, found)
        starts = np.rint(places).astype(int)
        mean = np.mean([w[at : at + length] for w, at in zip(windows, starts, strict=True)], axis=0)
        mean = np.concatenate([np.zeros(LEAD, np.float32), mean])
    return found


def learn_in_place(windows: Signal, rate: int) -> Shape | None:
    """A click's shape from windows in which music sounds, too, if clicks are just in the middle.

    What starts a little before a click, such as a stroke that is centered on it, is part of the
    music. Most windows must hold what the other ones have in common there, which must start as
    sharply as a click does. None if that isn't so.
    """
    count, length, start = len(windows), round(SHAPE_S * rate), reach(rate)
    if count < LEAST_WINDOWS:
        return None
    total = windows.sum(axis=0)
    in_place = 0
    for window in windows:
        others = _shape((total - window)[start : start + length], length)
        if others is not None:
            places, _, _ = match(window[None], others)
            in_place += abs(float(places[0]) - start) <= 1
    # What the windows have in common: the mean product of two of them.
    shared = (total**2 - (windows**2).sum(axis=0))[start : start + length]
    sharp = shared[: LEAD + round(SHARP_S * rate)].sum()
    if in_place < IN_MOST * count or sharp < SHARP * shared.sum():
        return None
    return _shape(total[start : start + length] / count, length)


def _shape(samples: Signal, length: int) -> Shape | None:
    import numpy as np

    energy = float(np.dot(samples, samples))
    if len(samples) < length or energy <= 0:
        return None
    return Shape((samples / np.sqrt(energy)).astype(np.float32), energy)


def edge(window: Signal) -> int:
    """The first sample that reaches `EDGE` of the window's peak."""
    import numpy as np

    loud = np.abs(window)
    return int(np.argmax(loud >= EDGE * loud.max()))


class Matches(NamedTuple):
    """Where in each window a shape fits best, how well (0 to 1), and how many times the click's
    energy is there.
    """

    places: NDArray[np.float64]
    likes: Signal
    energies: Signal


def match(windows: Signal, shape: Shape, within: tuple[int, int] | None = None) -> Matches:
    """Look for a shape in windows, or in the places from `within[0]` to `within[1]` alone.

    Places lie between samples, too: at the top of a parabola through three of them.
    """
    import numpy as np

    length = len(shape.samples)
    size = 1 << (windows.shape[1] - 1).bit_length()
    spectrum = np.conj(np.fft.rfft(shape.samples, size))
    fits = np.fft.irfft(np.fft.rfft(windows, size, axis=1) * spectrum, size, axis=1)
    fits = fits[:, : windows.shape[1] - length + 1]
    energy = np.zeros((len(windows), windows.shape[1] + 1))
    np.cumsum(windows**2, axis=1, dtype=np.float64, out=energy[:, 1:])
    energy = energy[:, length:] - energy[:, :-length]
    likeness = fits / np.sqrt(energy + SILENCE * shape.energy)
    first, last = within or (0, likeness.shape[1] - 1)
    places = first + np.argmax(likeness[:, first : last + 1], axis=1)
    rows, inner = np.arange(len(places)), np.clip(places, 1, likeness.shape[1] - 2)
    before, top, after = (likeness[rows, inner + step] for step in (-1, 0, 1))
    bow = before - 2 * top + after
    shift = np.where(bow < 0, (before - after) / np.where(bow < 0, 2 * bow, 1), 0.0)
    shift = np.where(inner == places, np.clip(shift, -0.5, 0.5), 0.0)
    likes = likeness[rows, places].astype(np.float32)
    return Matches(places + shift, likes, (energy[rows, places] / shape.energy).astype(np.float32))


def rises(signal: Signal, rate: int, loud: float) -> Sequence[int]:
    """Every sudden onset, to the sample, where clicks sound alone.

    An onset is a millisecond that reaches `loud` and three times the level of the eight before
    it (the one in between is left out: the rise may have begun there). Its place is the first
    sample that reaches the edge. Whatever follows within `reach` is the same onset.
    """
    import numpy as np

    step = max(1, rate // 1000)
    count = len(signal) // step
    peaks = np.abs(signal[: count * step]).reshape(count, step).max(axis=1)
    padded = np.concatenate([np.zeros(9, peaks.dtype), peaks])
    before = np.lib.stride_tricks.sliding_window_view(padded, 8)[:count].max(axis=1)
    starts = np.flatnonzero((peaks >= loud) & (peaks > 3 * before))
    out: list[int] = []
    for at in starts.tolist():
        if out and at * step - out[-1] < reach(rate):
            continue
        window = signal[max(0, at - 1) * step : (at + 4) * step]
        out.append(max(0, at - 1) * step + edge(window))
    return out
