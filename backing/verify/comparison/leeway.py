"""What every part's comparison is given, and what it gives back."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from backing.verify.report import Fault


class Leeway(NamedTuple):
    """How far a reader's times may be off.

    `tolerance` is how far a time in the file may be off, in seconds; `human_s` how much further
    a player's time may stray.
    """

    reader: str
    human_s: float
    tolerance: Callable[[float], float]


class PartCheck(NamedTuple):
    """What comparing a part gave: how much was compared, and what is wrong with it.

    `moments` are strokes, notes or chords, as `unit` says in the plural. `worst_s` is the
    largest difference in time beyond what a player may stray.
    """

    part: str
    moments: int
    unit: str
    notes: int
    faults: tuple[Fault, ...] = ()
    worst_s: float = 0.0
