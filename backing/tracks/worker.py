"""A child process that makes files from forms, one task after another (see `system.child`).

When it is told to end, it first removes its unfinished files. When its input closes, its parent
has been killed, and it ends at once.
"""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable
from typing import NamedTuple

from backing.system.child import serve
from backing.tracks.one import Built, Piece, save


class Task(NamedTuple):
    """A piece with its number, and how many cores it may use at once."""

    number: int
    piece: Piece
    cores: int


def main() -> None:
    """Answer the tasks on the standard input."""
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(1))
    serve(_answer)


def _answer(task: Task, report: Callable[[float], None]) -> Built:
    return save(task.piece, report, task.cores)
