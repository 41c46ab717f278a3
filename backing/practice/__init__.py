"""Practice versions of a form: slower, part of it, in loops, without a part, in another key.

A `Version` is what to play; `play_version` plays it, and is loaded when it is first used. This
room knows the form, its timeline, the players and their score.
`verify/expected/practice_maths.py` works out what a version comes to with separate arithmetic.
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
