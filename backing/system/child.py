"""A process that works for another one: how it is started, and where it may speak."""

from __future__ import annotations

import os
import pickle
import signal
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from queue import SimpleQueue
from typing import Any, NoReturn


def command(module: str) -> list[str]:
    """What starts a process that runs a module's `main`, whatever folder it is started in."""
    root = str(Path(__file__).resolve().parents[2])
    program = f"import sys; sys.path[0] = {root!r}; from {module} import main; main()"
    return [sys.executable, "-c", program]


def words() -> int:
    """In such a process, first of all: the descriptor on which its parent listens.

    What a library prints goes to the error stream from here on, so that it is no word of
    ours; Ctrl-C is the parent's, which then ends this process.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    ours = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    return ours


def serve(answer: Callable[[Any, Callable[[Any], None]], Any]) -> NoReturn:
    """Answer pickled tasks on the standard input, as `crew` has it, one after another.

    When the input ends, the parent is gone, and so is this process, amid whatever it does.

    Args:
        answer: given a task and a way to say something before its answer.
    """
    said = os.fdopen(words(), "wb")
    tasks: SimpleQueue[Any] = SimpleQueue()
    threading.Thread(target=_listen, args=(tasks,), daemon=True).start()

    def say(what: Any) -> None:
        pickle.dump(what, said, protocol=pickle.HIGHEST_PROTOCOL)
        said.flush()

    while True:
        say(answer(tasks.get(), say))


def _listen(tasks: SimpleQueue[Any]) -> None:
    # A descriptor of its own: a thread inside stdin's buffer would abort the shutdown.
    with os.fdopen(os.dup(sys.stdin.fileno()), "rb") as said:
        while True:
            try:
                tasks.put(pickle.load(said))
            except (EOFError, pickle.UnpicklingError):
                os._exit(0)
