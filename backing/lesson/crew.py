"""Several workers at once: tasks handed out in order, answers taken as they come.

A thread for each worker waits for it. A worker that breaks down (a library's fault, or the
system's want of memory) costs its task, and another takes its place.
"""

from __future__ import annotations

import pickle
import subprocess
import threading
from collections.abc import Iterator, Sequence
from contextlib import suppress
from itertools import count
from pathlib import Path
from queue import SimpleQueue
from types import TracebackType
from typing import IO

from backing.child import command
from backing.errors import BackingError
from backing.lesson.worker import Answer, Task


class Crew:
    """Workers for a list of tasks; at the block's end all of them are gone.

    Args:
        jobs: how many at once.
        folder: where what they print goes, for when one breaks down.
    """

    def __init__(self, jobs: int, folder: Path) -> None:
        self.jobs, self.folder = jobs, folder
        self.hired = count(1)
        self.lock = threading.Lock()
        self.workers: set[_Worker] = set()
        self.threads: list[threading.Thread] = []
        self.ended = False

    def __enter__(self) -> Crew:
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
                worker.process.kill()
        for thread in self.threads:
            thread.join()

    def answers(self, tasks: Sequence[Task]) -> Iterator[tuple[Task, Answer]]:
        """Every task with its answer, as soon as it is there."""
        waiting = iter(tasks)
        answered: SimpleQueue[tuple[Task, Answer] | BaseException] = SimpleQueue()

        def serve() -> None:
            worker: _Worker | None = None
            try:
                while (task := self._next(waiting)) is not None:
                    worker = worker or self._hired()
                    answer = worker.ask(task)
                    if answer is None:
                        answer = Answer(error=f"{task.name}: {worker.last_words()}")
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
            worker = _Worker(self.folder / f"said-{next(self.hired)}")
            self.workers.add(worker)
            if self.ended:
                worker.process.kill()
        return worker

    def _dismissed(self, worker: _Worker | None) -> None:
        if worker is not None:
            with self.lock:
                self.workers.discard(worker)
            worker.end()


class _Worker:
    """One process, and the pipes to it."""

    def __init__(self, words: Path) -> None:
        try:
            self.said: IO[bytes] = open(words, "w+b")  # noqa: SIM115 - as long as the process
            self.process = subprocess.Popen(
                command("backing.lesson.worker"),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self.said,
            )
        except OSError as error:
            raise BackingError(f"No process can be started ({error.strerror or error}).") from None

    def ask(self, task: Task) -> Answer | None:
        """The answer to a task; None where the worker broke down on it."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        try:
            pickle.dump(task, self.process.stdin, protocol=pickle.HIGHEST_PROTOCOL)
            self.process.stdin.flush()
            answer: Answer = pickle.load(self.process.stdout)
        except (OSError, EOFError, pickle.UnpicklingError):
            return None
        return answer

    def last_words(self) -> str:
        """What a worker that broke down said of it, as half a sentence's end."""
        code = self.process.wait()
        if code < 0:
            return f"its process was ended by the system (signal {-code})."
        self.said.seek(0)
        lines = self.said.read().decode("utf-8", "replace").strip().splitlines()
        return f"its process broke down ({lines[-1] if lines else f'exit code {code}'})."

    def end(self) -> None:
        """End the process, amid whatever it does; its own children see that it is gone."""
        self.process.kill()
        self.process.wait()
        for file in (self.process.stdin, self.process.stdout, self.said):
            if file is not None:
                with suppress(OSError):  # words that were never read
                    file.close()
