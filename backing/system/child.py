"""The child's side of the protocol between a parent and its child processes.

The parent (`system.workers`) writes pickled tasks to the child's standard input. For each task
the child writes pickled messages to what was its standard output: a `Share` whenever it has
news, then the answer, or the BackingError that the task ended with.
"""

from __future__ import annotations

import os
import pickle
import signal
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from queue import SimpleQueue
from typing import Any, NamedTuple, NoReturn

from backing.errors import BackingError, ShortageError
from backing.system.shortages import shortage_of


class Share(NamedTuple):
    """How much of the current task is done, 0 to 1."""

    done: float


def command(module: str) -> list[str]:
    """The command that runs a module's `main` in a new process, whatever the current folder."""
    root = str(Path(__file__).resolve().parents[2])
    program = f"import sys; sys.path[0] = {root!r}; from {module} import main; main()"
    return [sys.executable, "-c", program]


def serve(answer: Callable[[Any, Callable[[float], None]], Any]) -> NoReturn:
    """Answer tasks, one after another, until the parent ends.

    When the input closes, the parent has ended, and this process ends too, whatever it is doing.
    Ctrl-C is left to the parent, which then ends this process.

    Args:
        answer: takes a task and a function to report the share done (0 to 1; any thread may call
            it), and returns the answer. A BackingError that it raises goes to the parent, and
            so does a shortage, as a ShortageError.
    """
    messages = os.fdopen(_take_output(), "wb")
    tasks: SimpleQueue[Any] = SimpleQueue()
    threading.Thread(target=_read_tasks, args=(tasks,), daemon=True).start()
    lock = threading.Lock()

    def send(message: Any) -> None:
        data = pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)
        with lock:
            messages.write(data)
            messages.flush()

    while True:
        task = tasks.get()
        send(_result(answer, task, lambda share: send(Share(share))))


def _result(
    answer: Callable[[Any, Callable[[float], None]], Any],
    task: Any,
    report: Callable[[float], None],
) -> Any:
    """What a task came to: its answer, or the error for the parent."""
    try:
        return answer(task, report)
    except BackingError as error:
        return error
    except Exception as error:
        found = shortage_of(error)
        if found is None:
            raise
        return ShortageError(found)


def _take_output() -> int:
    """Reserve the standard output for messages; what a library prints goes to standard error."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    output = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    return output


def _read_tasks(tasks: SimpleQueue[Any]) -> None:
    # A separate descriptor: a thread inside stdin's buffer would abort the shutdown.
    with os.fdopen(os.dup(sys.stdin.fileno()), "rb") as file:
        while True:
            try:
                tasks.put(pickle.load(file))
            except (EOFError, pickle.UnpicklingError):
                os._exit(0)
            except BaseException:  # without this thread, the process would wait forever
                os._exit(_report_crash())


def _report_crash() -> int:
    """Print the current exception for the parent to read; returns the exit code."""
    with suppress(Exception):
        error = sys.exc_info()[1]
        os.write(sys.stderr.fileno(), f"{type(error).__name__}: {error}\n".encode())
    return 1
