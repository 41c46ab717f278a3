"""A process that makes files of forms, one task after another, until it is told to end.

It reads pickled `Task`s from its standard input and answers each as `crew` has it: with what
was built, or the error that a user can mend. Told to end, it first takes away what is not
whole; when its input ends, its parent was killed, and it ends at once.
"""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable
from typing import NamedTuple

from backing.errors import BackingError
from backing.system.child import serve
from backing.tracks.one import Built, Piece, save


class Task(NamedTuple):
    """A piece by its number, and how many cores may be used for it at once."""

    number: int
    piece: Piece
    cores: int


def main() -> None:
    """Answer the tasks on the standard input."""
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(1))
    serve(answer)


def answer(task: Task, say: Callable[[float], None]) -> Built | BackingError:
    """Do a task, saying the shares done; what a user can mend comes back as an error."""
    try:
        return save(task.piece, say, task.cores)
    except BackingError as error:
        return error
