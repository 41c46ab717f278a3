"""Several functions in threads: all of them finish, or the first error is raised."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_EXCEPTION, ThreadPoolExecutor, wait
from threading import Event
from typing import TypeVar

Made = TypeVar("Made")


class Ended(BaseException):
    """Raised in a thread to end its work; code that catches errors doesn't catch it."""


class Stop:
    """Ends work in other threads, which call `check` regularly."""

    def __init__(self) -> None:
        self._event = Event()

    def set(self) -> None:
        """Make every later `check` raise."""
        self._event.set()

    def check(self) -> None:
        """Raise Ended if `set` has been called."""
        if self._event.is_set():
            raise Ended


def side_by_side(
    works: Sequence[Callable[[], Made]],
    jobs: int,
    stop: Stop,
) -> list[Made]:
    """What the functions return, in their order; `jobs` of them run at a time.

    Args:
        stop: set if one fails, or at Ctrl-C, so that the others end. All have ended when this
            returns or raises; those that have not started by then never start.
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
