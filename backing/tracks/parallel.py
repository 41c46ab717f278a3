"""Several files of forms at once: with sound, a process a core; without, one after another.

The sound of one file is made on as many cores as there are to spare, so with many files each
is made on one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import ExitStack
from threading import Lock

from backing.errors import BackingError
from backing.system.work import made_folder
from backing.tracks.one import Built, Piece, save


def make_all(
    pieces: Sequence[Piece],
    progress: Callable[[float], None] = lambda share: None,
    cores: int | None = None,
) -> list[Built | BackingError]:
    """Make every piece, each proven; what came of each, in their order.

    A piece that fails is passed over, and its error returned. At Ctrl-C every process is
    ended and every unfinished file taken away before the interrupt goes on.

    Args:
        pieces: their stems must differ.
        progress: hears the share of all that is done, 0 to 1; never in two threads at once.
        cores: how many may be used at once; None is all that this process may use.
    """
    shares, lock = [0.0] * len(pieces), Lock()

    def heard(number: int, share: float) -> None:
        with lock:
            if share > shares[number]:
                shares[number] = share
                progress(sum(shares) / len(shares))

    if len(pieces) > 1 and pieces[0].audio is not None:
        from backing.system.cores import usable_cores

        cores = cores or usable_cores()
        if cores > 1:
            return _side_by_side(pieces, cores, heard)
    return [_alone(number, piece, cores, heard) for number, piece in enumerate(pieces)]


def _alone(
    number: int, piece: Piece, cores: int | None, heard: Callable[[int, float], None]
) -> Built | BackingError:
    try:
        return save(piece, lambda share: heard(number, share), cores)
    except BackingError as error:
        return error
    finally:
        heard(number, 1.0)


def _side_by_side(
    pieces: Sequence[Piece], cores: int, heard: Callable[[int, float], None]
) -> list[Built | BackingError]:
    from backing.system.workers import Broken, Crew
    from backing.tracks.worker import Task

    spare = max(1, cores // len(pieces))
    tasks = [Task(number, piece, spare) for number, piece in enumerate(pieces)]
    made: dict[int, Built | BackingError] = {}

    def says(task: Task, share: float) -> None:
        heard(task.number, share)

    with ExitStack() as stack:
        for out in {piece.stem.parent for piece in pieces}:
            stack.enter_context(made_folder(out))
        crew = stack.enter_context(Crew[Task]("backing.tracks.worker", cores, says))
        for task, answer in crew.answers(tasks):
            if isinstance(answer, Broken):
                answer = BackingError(f"{task.piece.stem.name}: {answer.says}")
            made[task.number] = answer
            heard(task.number, 1.0)
    return [made[number] for number in range(len(pieces))]
