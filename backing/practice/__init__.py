"""Practice versions of a form: slower, part of it, again and again, without a part, moved.

`Version` says what is wanted; `play_version` plays it, and is loaded when it is first asked for.
The room knows the form, its timeline, the players and their score; what a version must come
to is worked out once more, by arithmetic of its own, in `verify/practice_maths.py`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.practice.versions import PLAIN, Stretch, Version, canonical, describe

if TYPE_CHECKING:
    from backing.practice.played import Practiced, play_version

__all__ = ["PLAIN", "Practiced", "Stretch", "Version", "canonical", "describe", "play_version"]


def __getattr__(name: str) -> object:
    if name not in ("Practiced", "play_version"):
        raise AttributeError(f"module 'backing.practice' has no attribute {name!r}")
    from backing.practice import played

    return getattr(played, name)
