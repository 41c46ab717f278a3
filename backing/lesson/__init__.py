"""The week's lesson: a folder for each song, with a file for each exercise and a page of contents.

`plan` decides which files there are. `run` makes those that are missing or out of date, in several
processes, and leaves the rest untouched.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backing.lesson.run import Order, Outcome, lesson, tidied

__all__ = ["Order", "Outcome", "lesson", "tidied"]


def __getattr__(name: str) -> object:
    if name not in __all__:
        raise AttributeError(f"module 'backing.lesson' has no attribute {name!r}")
    from backing.lesson import run

    return getattr(run, name)
