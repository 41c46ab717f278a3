"""The parent's side: several child processes at work, with tasks handed out in order.

`child` has the protocol. A worker runs the `main` of a module in a process. One thread waits
for each worker. If a worker crashes (a library's bug, or too little memory), only its current
task is lost, and a new worker takes over.
"""

from __future__ import annotations

import pickle
import subprocess
import tempfile
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from functools import partial
from queue import SimpleQueue
from types import TracebackType
from typing import IO, Any, Generic, TypeVar

from backing.errors import BackingError, ShortageError, raise_shortage, reason
from backing.system.child import Share, command
from backing.system.shortages import KILLED, Shortage, shortage_in, shortage_now

Task = TypeVar("Task")
#: How long a worker may take to clean up after it is told to end, in seconds.
ENDING_S = 5.0
#: What `pickle.load` may raise where a process died in the middle of a message.
_CUT_SHORT = (OSError, EOFError, pickle.UnpicklingError, AttributeError, ImportError, IndexError)


class ProcessError(BackingError):
    """A worker ended without an answer; `signal` is the one that ended it, or 0.

    `shortage` is what it ran out of, if that is why. The text is meant to follow a name and a
    colon.
    """

    def __init__(self, text: str, signal: int = 0, shortage: Shortage | None = None) -> None:
        super().__init__(text)
        self.signal, self.shortage = signal, shortage

    def named(self, name: str) -> BackingError:
        """The error for the file that was being made."""
        if self.shortage is not None:
            return ShortageError(self.shortage, name)
        return BackingError(f"{name}: {self}")


class Workers(Generic[Task]):
    """Workers for a list of tasks; when the block ends, all of them have ended.

    Args:
        module: whose `main` each worker runs.
        jobs: how many workers at once.
        on_share: called with a task and the share of it that is done, 0 to 1, from several
            threads.
    """

    def __init__(
        self,
        module: str,
        jobs: int,
        on_share: Callable[[Task, float], None] = lambda task, share: None,
    ) -> None:
        self.module, self.jobs, self.on_share = module, jobs, on_share
        self.lock = threading.Lock()
        self.workers: set[Worker] = set()
        self.threads: list[threading.Thread] = []
        self.ended = False

    def __enter__(self) -> Workers[Task]:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        with self.lock:
            self.ended = True
            for worker in self.workers:
                worker.process.terminate()
        for thread in self.threads:
            thread.join()

    def answers(self, tasks: Sequence[Task]) -> Iterator[tuple[Task, Any]]:
        """Each task with its answer, or with its BackingError, as soon as it is there.

        A worker that ended without an answer gives a `ProcessError`. If there isn't enough memory
        to start one, its task gives a `ShortageError`.
        """
        waiting = iter(tasks)
        results: SimpleQueue[tuple[Task, Any] | BaseException] = SimpleQueue()
        for _ in range(min(self.jobs, len(tasks))):
            thread = threading.Thread(target=self._work, args=(waiting, results), daemon=True)
            thread.start()
            self.threads.append(thread)
        for _ in tasks:
            result = results.get()
            if isinstance(result, BaseException):
                raise result
            yield result

    def _work(
        self, waiting: Iterator[Task], results: SimpleQueue[tuple[Task, Any] | BaseException]
    ) -> None:
        """Give one worker task after task; a new one replaces it if it ends early."""
        worker: Worker | None = None
        try:
            while (task := self._next(waiting)) is not None:
                try:
                    worker = worker or self._start()
                except ShortageError as error:
                    results.put((task, error))
                    continue
                answer = worker.ask(task, partial(self.on_share, task))
                if isinstance(answer, ProcessError):
                    self._end(worker)
                    worker = None
                results.put((task, answer))
        except BaseException as error:
            results.put(error)
        finally:
            if worker is not None:
                self._end(worker)

    def _next(self, waiting: Iterator[Task]) -> Task | None:
        with self.lock:
            return None if self.ended else next(waiting, None)

    def _start(self) -> Worker:
        with self.lock:
            worker = Worker(self.module)
            self.workers.add(worker)
            if self.ended:
                worker.process.terminate()
        return worker

    def _end(self, worker: Worker) -> None:
        with self.lock:
            self.workers.discard(worker)
        worker.end()


class Worker:
    """One child process and the pipes to it; raises BackingError where it can't be started."""

    def __init__(self, module: str) -> None:
        self.printed: IO[bytes] | None = None
        with suppress(OSError):  # a full disk: then what it prints is lost
            self.printed = tempfile.TemporaryFile()  # noqa: SIM115 - as long as the process
        try:
            self.process = subprocess.Popen(
                command(module),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self.printed or subprocess.DEVNULL,
            )
        except Exception as error:
            if self.printed is not None:
                self.printed.close()
            raise_shortage(error)
            if not isinstance(error, OSError):
                raise
            raise BackingError(f"Can't start another process: {reason(error)}.") from None

    def ask(self, task: Any, on_share: Callable[[float], None]) -> Any:
        """The answer to a task, the BackingError it ended with, or a ProcessError.

        What `on_share` raises comes through.
        """
        assert self.process.stdin is not None
        try:
            pickle.dump(task, self.process.stdin, protocol=pickle.HIGHEST_PROTOCOL)
            self.process.stdin.flush()
        except OSError:
            return self._failure()
        while isinstance(message := self._message(), Share):
            on_share(message.done)
        return message

    def _message(self) -> Any:
        assert self.process.stdout is not None
        try:
            return pickle.load(self.process.stdout)
        except _CUT_SHORT:
            return self._failure()

    def _failure(self) -> ProcessError:
        try:
            code = self.process.wait(ENDING_S)
        except subprocess.TimeoutExpired:  # it runs on, but no longer makes sense
            self.process.kill()
            code = self.process.wait()
        printed = ""
        if self.printed is not None:
            self.printed.seek(0)
            printed = self.printed.read().decode("utf-8", "replace").strip()
        shortage = KILLED if code == -9 else shortage_in(printed) or shortage_now()
        if code < 0:
            text = f"its process was ended by the system (signal {-code})."
            return ProcessError(text, -code, shortage)
        why = printed.splitlines()[-1] if printed else f"exit code {code}"
        return ProcessError(f"its process crashed ({why}).", shortage=shortage)

    def end(self, patience_s: float = ENDING_S) -> None:
        """End the process, whatever it is doing; its own children notice that it has ended.

        Args:
            patience_s: how long it may take to clean up, in seconds.
        """
        self.process.terminate()
        try:
            self.process.wait(patience_s)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        for file in (self.process.stdin, self.process.stdout, self.printed):
            if file is not None:
                with suppress(OSError):  # what was never read
                    file.close()
