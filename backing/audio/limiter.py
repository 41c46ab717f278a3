"""A look-ahead limiter: loud moments are turned down smoothly before they come, then let go.

What each short window's true peak is over the ceiling is looked for 4 ms ahead, held, let go at
60 dB a second, and smoothed: so the gain is down when the peak comes, and moves without a click.
Nothing is delayed, and where no peak is over the ceiling nothing is changed. Frames are float32,
frames by two; both channels get the same gain, so nothing moves from side to side.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

from backing.audio.loudness import REACH, WINDOW, WindowPeaks

if TYPE_CHECKING:
    from backing.audio.loudness import Block

LOOK_AHEAD_S = 0.004
RELEASE_DB_S = 60.0
#: How far under the ceiling peaks are brought: the gain moves a little between two samples, and a
#: meter that looks between four times as many may miss 0.1 dB.
MARGIN_DB = 0.15


class Limiter:
    """Limits blocks that follow one another; `most_db` is the most that it turned down so far."""

    def __init__(self, rate: int, ceiling_db: float) -> None:
        import numpy as np

        self.most_db = 0.0
        self._ceiling = 10 ** ((ceiling_db - MARGIN_DB) / 20)
        self._smoothed = int(LOOK_AHEAD_S * rate)
        #: The meter finds a peak a few frames late, so the hold is that much longer.
        self._ahead = self._smoothed + REACH
        self._fall = RELEASE_DB_S / rate
        self._peaks = WindowPeaks(rate)
        window = np.hanning(self._smoothed + 3)[1:-1]
        self._window = window / window.sum()
        self._waiting = np.zeros((0, 2), "f4")
        self._over = np.zeros(0)
        self._held = 0.0
        #: What was held in the frames that are still smoothed; None before the first frame.
        self._before: Any = None

    def limited(self, blocks: Iterable[Block]) -> Iterator[Block]:
        """All frames of the blocks, limited, in blocks of other sizes.

        Each block but the last has a multiple of `WINDOW` frames.
        """
        import numpy as np

        left = 0
        for block in blocks:
            left += len(block)
            out = self._next(block)
            left -= len(out)
            yield out
        missing = -len(self._waiting) % WINDOW
        room = np.zeros((missing + -(-self._ahead // WINDOW) * WINDOW, 2), "f4")
        yield self._next(room)[:left]

    def _next(self, block: Block) -> Block:
        """Take frames; returns those whose gain is known now."""
        import numpy as np

        self._waiting = np.concatenate([self._waiting, block])
        self._over = np.concatenate([self._over, self._over_db(block)])
        count = max(0, len(self._waiting) - self._ahead)
        out, self._waiting = self._waiting[:count], self._waiting[count:]
        over, self._over = self._over[: count + self._ahead], self._over[count:]
        if self._before is None and count:
            # What a peak at the very start needs is held before the start, too.
            self._before = np.full(self._smoothed, over[: self._ahead + 1].max())
        if not count or not (over.any() or self._held or self._before.any()):
            return out
        reduction = self._reduction(over, count)
        self.most_db = max(self.most_db, float(reduction.max()))
        factors = np.power(10.0, reduction / -20).astype("f4")
        return np.asarray(out * factors[:, None], "f4")

    def _over_db(self, block: Block) -> Any:
        """By how many dB each frame's window is over the ceiling."""
        import numpy as np

        over = np.zeros((-(-len(block) // WINDOW), WINDOW))
        loud, peaks = self._peaks.over(self._ceiling, block)
        over[loud] = 20 * np.log10(np.maximum(peaks / self._ceiling, 1.0))[:, None]
        return over.reshape(-1)[: len(block)]

    def _reduction(self, over: Any, count: int) -> Any:
        """The reduction of the next `count` frames in dB: held, let go and smoothed."""
        import numpy as np

        highest = _highest_ahead(over, self._ahead)[:count]
        slope = self._fall * np.arange(1, count + 1)
        risen = np.concatenate([[self._held], highest + slope])
        held = np.maximum(np.maximum.accumulate(risen)[1:] - slope, 0.0)
        self._held = float(held[-1])
        together = np.concatenate([self._before, held])
        self._before = together[count:]
        return np.convolve(together, self._window, "valid")


def _highest_ahead(values: Any, ahead: int) -> Any:
    """The highest of each value and the `ahead` values after it, where all of them are there."""
    import numpy as np

    # Each pass doubles how far a place looks ahead.
    found, reach = values, 0
    while reach < ahead:
        step = min(reach + 1, ahead - reach)
        found = np.maximum(found[: len(found) - step], found[step:])
        reach += step
    return found
