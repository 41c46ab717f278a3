"""Work side by side in threads: all of it is done, or what went wrong first is raised."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_EXCEPTION, ThreadPoolExecutor, wait
from threading import Event
from typing import TypeVar

Made = TypeVar("Made")


class Ended(BaseException):
    """Raised in a thread to end its work, past whatever catches errors."""


class Stop:
    """Ends work in other threads, which call `check` again and again."""

    def __init__(self) -> None:
        self._event = Event()

    def set(self) -> None:
        """Let every later `check` raise."""
        self._event.set()

    def check(self) -> None:
        """Raises Ended once `set` was called."""
        if self._event.is_set():
            raise Ended


def side_by_side(
    works: Sequence[Callable[[], Made]],
    jobs: int,
    stop: Stop,
) -> list[Made]:
    """What works return, in their order, `jobs` of them at a time.

    Args:
        stop: set where one fails, or at Ctrl-C, for those at work to end. All have ended
            when this returns or raises; those not begun by then never do.
    """
    if jobs <= 1 or len(works) <= 1:
        return [work() for work in works]
    with ThreadPoolExecutor(jobs) as pool:
        futures = [pool.submit(work) for work in works]
        try:
            done, _ = wait(futures, return_when=FIRST_EXCEPTION)
            failed = [future for future in futures if future in done and future.exception()]
            for future in failed:
                future.result()
        except BaseException:
            stop.set()
            for future in futures:
                future.cancel()
            raise
    return [future.result() for future in futures]
