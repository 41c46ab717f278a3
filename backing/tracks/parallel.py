"""Several versions of forms at once: with sound, one process per core; without, one by one.

The sound of one version is made on as many cores as are free, so with many versions each gets one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from threading import Lock

from backing.errors import BackingError, ShortageError
from backing.system.work import made_folder, remove_abandoned
from backing.tracks.one import Built, Piece, save


def make_all(
    pieces: Sequence[Piece],
    progress: Callable[[float], None] = lambda share: None,
    cores: int | None = None,
) -> list[Built | BackingError]:
    """Make every piece, each proven; returns what each came to, in their order.

    A piece that fails is skipped, and its error returned. At Ctrl-C every process is ended and
    every unfinished file removed before the interrupt goes on.

    Args:
        pieces: their stems must differ.
        progress: called with the share of everything that is done, 0 to 1, which never goes
            down; never from two threads at once.
        cores: how many may be used at once; None uses all that this process may use.
    """
    total = _Total(len(pieces), progress)
    if len(pieces) > 1 and pieces[0].audio is not None:
        from backing.system.cores import usable_cores

        cores = cores or usable_cores()
        if cores > 1:
            return _in_processes(pieces, cores, total)
    return [_make_here(number, piece, cores, total) for number, piece in enumerate(pieces)]


class _Total:
    """The share of all pieces that is done; what is reported late or twice never lowers it."""

    def __init__(self, count: int, progress: Callable[[float], None]) -> None:
        self.shares = [0.0] * count
        self.progress = progress
        self.lock = Lock()

    def add(self, number: int, share: float) -> None:
        """Note the share of one piece that is done; any thread may call this."""
        with self.lock:
            if share > self.shares[number]:
                self.shares[number] = share
                self.progress(sum(self.shares) / len(self.shares))


def _make_here(number: int, piece: Piece, cores: int | None, total: _Total) -> Built | BackingError:
    try:
        return save(piece, lambda share: total.add(number, share), cores)
    except BackingError as error:
        return error
    finally:
        total.add(number, 1.0)


def _in_processes(pieces: Sequence[Piece], cores: int, total: _Total) -> list[Built | BackingError]:
    from backing.system.workers import ProcessError, Workers
    from backing.tracks.worker import Task

    cores_each = max(1, cores // len(pieces))
    tasks = [Task(number, piece, cores_each) for number, piece in enumerate(pieces)]
    made: dict[int, Built | BackingError] = {}

    def on_share(task: Task, share: float) -> None:
        total.add(task.number, share)

    with ExitStack() as stack:
        for out in {piece.stem.parent for piece in pieces}:
            stack.enter_context(made_folder(out))
        workers = stack.enter_context(Workers[Task]("backing.tracks.worker", cores, on_share))
        for task, answer in workers.answers(tasks):
            if isinstance(answer, ProcessError):
                answer = answer.named(_first_file(task.piece))
                remove_abandoned(task.piece.stem.parent)
            elif isinstance(answer, ShortageError) and not answer.name:
                answer = ShortageError(answer.shortage, _first_file(task.piece))
            made[task.number] = answer
            total.add(task.number, 1.0)
    return [made[number] for number in range(len(pieces))]


def _first_file(piece: Piece) -> str:
    """The path of the file that a piece is made for."""
    return f"{piece.stem}.{piece.audio.format if piece.audio else 'mid'}"
