"""A process that makes files of forms, one task after another, until it is told to end.

It reads pickled `Task`s from its standard input and answers each as `crew` has it: with what
was built, or the error that a user can mend. Told to end, it first takes away what is not
whole; when its input ends, its parent was killed, and it ends at once.
"""

from __future__ import annotations

import os
import pickle
import signal
import sys
import threading
from queue import SimpleQueue
from typing import NamedTuple

from backing.child import words
from backing.errors import BackingError
from backing.making import Built, Piece, make


class Task(NamedTuple):
    """A piece by its number, and how many cores may be used for it at once."""

    number: int
    piece: Piece
    cores: int


def main() -> None:
    """Answer the tasks on the standard input."""
    said = os.fdopen(words(), "wb")
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(1))
    tasks: SimpleQueue[Task] = SimpleQueue()
    threading.Thread(target=_listen, args=(tasks,), daemon=True).start()

    def say(answer: float | Built | BackingError) -> None:
        pickle.dump(answer, said, protocol=pickle.HIGHEST_PROTOCOL)
        said.flush()

    while True:
        task = tasks.get()
        try:
            say(make(*task.piece, progress=say, cores=task.cores))
        except BackingError as error:
            say(error)


def _listen(tasks: SimpleQueue[Task]) -> None:
    # A descriptor of its own: a thread inside stdin's buffer would abort the shutdown.
    with os.fdopen(os.dup(sys.stdin.fileno()), "rb") as said:
        while True:
            try:
                tasks.put(pickle.load(said))
            except (EOFError, pickle.UnpicklingError):
                os._exit(0)
