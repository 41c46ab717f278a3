"""How far a time in a file may be off: computed from the file's resolution, not chosen.

The sum, in seconds at the form's tempo there, of

* half a tick of ours (960 a quarter): every place was rounded to one, perhaps before another
  program wrote the file again;
* one tick of the file's own, where it doesn't have 960: some programs round, others cut off;
* a microsecond for every quarter so far: a MIDI tempo is a whole number of microseconds a
  quarter, which some programs cut off, too;
* a nanosecond, for floating point.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction

from backing.verify.expected.records import ExpectedTempo

#: Half a tick of the files that we write, in quarters.
OUR_HALF_TICK = 1 / 1920
OUR_TICK = Fraction(1, 960)
TEMPO_S = 1e-6
FLOAT_S = 1e-9


class Tolerance:
    """Called with a time in seconds, how far a file's time for it may be off, in seconds."""

    def __init__(self, tempos: Sequence[ExpectedTempo], tick_quarters: Fraction) -> None:
        theirs = 0.0 if tick_quarters == OUR_TICK else float(tick_quarters)
        ticks = OUR_HALF_TICK + theirs
        self.starts = [float(tempo.start_s) for tempo in tempos]
        #: The tolerance where each tempo starts, and what every second from there adds to it.
        self.lines = [
            (
                ticks * 60 / float(tempo.quarter_bpm)
                + TEMPO_S * float(tempo.start_quarters)
                + FLOAT_S,
                TEMPO_S * float(tempo.quarter_bpm) / 60,
            )
            for tempo in tempos
        ]

    def __call__(self, at_s: float) -> float:
        """How far a file's time for `at_s` may be off, in seconds."""
        index = max(0, bisect_right(self.starts, at_s) - 1)
        start, each = self.lines[index]
        return start + each * (at_s - self.starts[index])
