"""Limits of processor time as multiples of a fixed piece of work: machines differ in speed."""

from __future__ import annotations

import time

#: What the piece of work takes on a machine at the speed that the limits were chosen for, in
#: seconds; on a slower machine they grow with it.
USUAL_S = 0.035


def limit_s(seconds: float) -> float:
    """A limit in seconds of processor time on this machine, now."""
    return seconds * max(1.0, _work_s() / USUAL_S)


def _work_s() -> float:
    start = time.process_time()
    total = 0
    for number in range(1_000_000):
        total += number
    assert total
    return time.process_time() - start
