"""Several processes at work: tasks handed out in order, answers taken as they come.

A worker is a module's `main` in a process of its own (`child`). It reads pickled tasks from
its standard input and answers each with a pickled answer, before which it may say floats, the
shares done; when its input ends, its parent is gone. A thread for each worker waits for it. A
worker that breaks down (a library's fault, or the system's want of memory) costs its task, and
another takes its place.
"""

from __future__ import annotations

import pickle
import subprocess
import tempfile
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from queue import SimpleQueue
from types import TracebackType
from typing import IO, Any, Generic, NamedTuple, TypeVar

from backing.errors import BackingError
from backing.system.child import command

Task = TypeVar("Task")
#: How long a worker that is told to end may take to clear up, in seconds.
ENDING_S = 5.0


class Broken(NamedTuple):
    """In place of an answer: how a worker came to its end, as half a sentence."""

    says: str


class Crew(Generic[Task]):
    """Workers for a list of tasks; at the block's end all of them are gone.

    Args:
        module: whose `main` a worker runs.
        jobs: how many at once.
        heard: hears of each task the shares done, 0 to 1; in several threads.
    """

    def __init__(
        self,
        module: str,
        jobs: int,
        heard: Callable[[Task, float], None] = lambda task, share: None,
    ) -> None:
        self.module, self.jobs, self.heard = module, jobs, heard
        self.lock = threading.Lock()
        self.workers: set[_Worker] = set()
        self.threads: list[threading.Thread] = []
        self.ended = False

    def __enter__(self) -> Crew[Task]:
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
        """Every task with its answer, or `Broken`, as soon as it is there."""
        waiting = iter(tasks)
        answered: SimpleQueue[tuple[Task, Any] | BaseException] = SimpleQueue()

        def serve() -> None:
            worker: _Worker | None = None
            try:
                while (task := self._next(waiting)) is not None:
                    worker = worker or self._hired()
                    answer = worker.ask(task, self.heard)
                    if isinstance(answer, Broken):
                        self._dismissed(worker)
                        worker = None
                    answered.put((task, answer))
            except BaseException as error:
                answered.put(error)
            finally:
                self._dismissed(worker)

        for _ in range(min(self.jobs, len(tasks))):
            self.threads.append(threading.Thread(target=serve, daemon=True))
            self.threads[-1].start()
        for _ in tasks:
            said = answered.get()
            if isinstance(said, BaseException):
                raise said
            yield said

    def _next(self, waiting: Iterator[Task]) -> Task | None:
        with self.lock:
            return None if self.ended else next(waiting, None)

    def _hired(self) -> _Worker:
        with self.lock:
            worker = _Worker(self.module)
            self.workers.add(worker)
            if self.ended:
                worker.process.terminate()
        return worker

    def _dismissed(self, worker: _Worker | None) -> None:
        if worker is not None:
            with self.lock:
                self.workers.discard(worker)
            worker.end()


class _Worker:
    """One process, and the pipes to it."""

    def __init__(self, module: str) -> None:
        self.said: IO[bytes] | None = None
        with suppress(OSError):  # a full disk: then what it prints is lost
            self.said = tempfile.TemporaryFile()  # noqa: SIM115 - as long as the process
        try:
            self.process = subprocess.Popen(
                command(module),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self.said or subprocess.DEVNULL,
            )
        except OSError as error:
            raise BackingError(f"No process can be started ({error.strerror or error}).") from None

    def ask(self, task: Task, heard: Callable[[Task, float], None]) -> Any:
        """The answer to a task, or `Broken` where the worker broke down on it."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        try:
            pickle.dump(task, self.process.stdin, protocol=pickle.HIGHEST_PROTOCOL)
            self.process.stdin.flush()
            while isinstance(answer := pickle.load(self.process.stdout), float):
                heard(task, answer)
        except (OSError, EOFError, pickle.UnpicklingError):
            return Broken(self._last_words())
        return answer

    def _last_words(self) -> str:
        code = self.process.wait()
        if code < 0:
            return f"its process was ended by the system (signal {-code})."
        lines: list[str] = []
        if self.said is not None:
            self.said.seek(0)
            lines = self.said.read().decode("utf-8", "replace").strip().splitlines()
        return f"its process broke down ({lines[-1] if lines else f'exit code {code}'})."

    def end(self) -> None:
        """End the process, amid whatever it does; its own children see that it is gone."""
        self.process.terminate()
        try:
            self.process.wait(ENDING_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        for file in (self.process.stdin, self.process.stdout, self.said):
            if file is not None:
                with suppress(OSError):  # words that were never read
                    file.close()
