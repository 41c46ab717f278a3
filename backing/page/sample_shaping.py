"""Rendered samples made ready for the page: trimmed, looped, and their releases measured.

Samples are arrays of floats in one channel.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from backing.page.limits import RELEASE_CONSTANTS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from backing.page.notes import SampleKey

#: How long a note rings after its end is measured for each instrument, within these bounds, as
#: the seconds in which it falls by 26 dB; an open hi-hat that is closed is silent at once.
RELEASE_S, LEAST_RELEASE_S, MOST_RELEASE_S, CLOSED_HAT_S = 0.2, 0.08, 0.8, 0.06
#: What counts as sound where an ending is measured, of full scale.
AUDIBLE = 0.0003
#: A sample ends where it stays below this share of its peak.
FLOOR = 0.003
FADE_S = 0.25
#: Of two channels' power their sum keeps at least so much, or they cancel each other; of two that
#: have nothing in common it keeps half.
LEAST_KEPT = 0.25
#: Held sounds: where the loop starts, the shortest and longest loop, and how long it runs over.
LOOP_AT_S, LOOP_S, LOOP_MOST_S, OVER_S = 1.0, 1.6, 2.4, 0.25
#: What is kept after a loop.
AFTER_LOOP_S = 0.06


def one_channel(stereo: Any) -> Any:
    """The shares of two channels in one that has the mean of their powers.

    It is their sum or, where they cancel each other, their difference.
    """
    import numpy as np

    left, right = stereo.T.astype("f8")
    of_two = float(np.mean(left**2) + np.mean(right**2)) / 2
    of_sum = float(np.mean((left + right) ** 2)) / 4
    if of_sum >= LEAST_KEPT * of_two:
        kept = of_sum / of_two if of_two else 1.0
        return np.array((0.5, 0.5), "f4") / np.float32(np.sqrt(kept))
    kept = 1 - of_sum / of_two
    return np.array((0.5, -0.5), "f4") / np.float32(np.sqrt(kept))


class Looped(NamedTuple):
    """A held sample, the first frame of its loop, and the one after the loop's last."""

    samples: Any
    start: int
    end: int


def trimmed(samples: Any, rate: int) -> Any:
    """A sample without the silence at its end, faded where it is cut."""
    import numpy as np

    loud = np.nonzero(np.abs(samples) >= FLOOR * np.abs(samples).max(initial=0.0))[0]
    kept = samples[: int(loud[-1]) + 1 if len(loud) else 0].copy()
    fade = min(len(kept), int(FADE_S * rate))
    kept[len(kept) - fade :] *= np.linspace(1, 0, fade, dtype="f4")
    return kept


def looped(samples: Any, rate: int) -> Looped:
    """A held sample with a loop in it.

    The end is put where what leads up to it is most like what leads up to the start; there the
    one is faded into the other, with the sum's power kept as their likeness asks. After the loop
    comes its beginning again, so that the encoder meets no edge.
    """
    import numpy as np

    start, over = int(LOOP_AT_S * rate), int(OVER_S * rate)
    first, last = start + int(LOOP_S * rate), start + int(LOOP_MOST_S * rate)
    before = samples[start - over : start]
    likeness = _likeness(samples[first - over : last], before)
    best = int(np.argmax(likeness))
    end = first + best
    rise = np.linspace(0, 1, over, dtype="f4")
    alike = max(float(likeness[best]), 0.0)
    power = np.sqrt(rise**2 + (1 - rise) ** 2 + 2 * alike * rise * (1 - rise))
    faded = (samples[end - over : end] * (1 - rise) + before * rise) / power
    after = samples[start : start + int(AFTER_LOOP_S * rate)]
    return Looped(np.concatenate([samples[: end - over], faded, after]), start, end)


def _likeness(span: Any, piece: Any) -> Any:
    """How like a piece each stretch of its length in a span is, from -1 to 1 (correlation)."""
    import numpy as np

    size = 1 << (len(span) + len(piece)).bit_length()
    products = np.fft.irfft(np.fft.rfft(span, size) * np.conj(np.fft.rfft(piece, size)), size)
    count = len(span) - len(piece) + 1
    squares = np.concatenate([[0.0], np.cumsum(span.astype("f8") ** 2)])
    own = float(np.sum(piece.astype("f8") ** 2))
    norms = np.sqrt((squares[len(piece) :] - squares[:count]) * own)
    return products[:count] / np.maximum(norms, 1e-12)


def releases(
    frames: Any, ends: Mapping[SampleKey, int], ending_s: float, rate: int
) -> dict[int | None, float]:
    """By program, how many seconds its notes ring after their ends: the median of its samples.

    Sound that falls evenly by 26 dB in that time falls by 8.7 dB, one time constant, in a third
    of it; that is what is looked for, in hundredths of a second.

    Args:
        frames: all samples, one after another.
        ends: where each sample's note ends.
        ending_s: how long the sound is left to end after each note.
        rate: in Hz.
    """
    import numpy as np

    step = rate // 100
    found: dict[int | None, list[float]] = {}
    for sample, end in ends.items():
        of_program = found.setdefault(sample.program, [])
        ending = frames[end - 5 * step : end + int(ending_s * rate)]
        blocks = ending[: len(ending) // step * step].reshape(-1, step)
        loudness = np.sqrt(np.mean(np.square(blocks), axis=1))
        before = float(loudness[:5].mean())
        fallen = np.nonzero(loudness[5:] < before / np.e)[0]
        if before > AUDIBLE and len(fallen):
            of_program.append(RELEASE_CONSTANTS * (int(fallen[0]) + 1) / 100)
    medians = {program: np.median(times or [RELEASE_S]) for program, times in found.items()}
    return {
        program: CLOSED_HAT_S
        if program is None
        else round(float(np.clip(median, LEAST_RELEASE_S, MOST_RELEASE_S)), 3)
        for program, median in medians.items()
    }
