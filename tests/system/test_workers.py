"""Workers: a crash costs one task, errors come back as themselves, and no worker is left over."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from lesson.songs import song

from backing.errors import BackingError, FormError
from backing.form import read_form_text
from backing.lesson.plan import items
from backing.lesson.tasks import Answer, Task, answer
from backing.system.workers import ProcessError, Worker, Workers

MODULE = "backing.lesson.tasks"


def tasks(folder: Path, count: int = 4) -> list[Task]:
    data = song().encode()
    version = items(read_form_text(song()))[0].version
    return [
        Task(0, n, "song.yaml", data, f"{n}", version, ("midi",), None, str(folder / str(n)))
        for n in range(count)
    ]


def test_every_task_is_answered_once(tmp_path: Path) -> None:
    with Workers[Task](MODULE, 3) as workers:
        answered = list(workers.answers(tasks(tmp_path)))
    assert sorted(task.item for task, _ in answered) == [0, 1, 2, 3]
    assert all(Path(given.made[0].path).is_file() for _, given in answered)


def test_a_worker_that_is_killed_costs_only_its_task(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started = []

    class Doomed(Worker):
        def __init__(self, module: str) -> None:
            super().__init__(module)
            started.append(self)
            if len(started) == 1:
                self.process.kill()

    monkeypatch.setattr("backing.system.workers.Worker", Doomed)
    with Workers[Task](MODULE, 1) as workers:
        killed, *others = [given for _, given in workers.answers(tasks(tmp_path))]
    assert isinstance(killed, ProcessError)
    assert str(killed) == "its process was ended by the system (signal 9)."
    assert killed.signal == 9
    assert [type(given) for given in others] == [Answer] * 3
    assert len(started) == 2
    assert all(worker.process.poll() is not None for worker in started)


def test_a_worker_that_crashes_reports_why(tmp_path: Path) -> None:
    bad = tasks(tmp_path, 1)[0]._replace(version=0)  # type: ignore[arg-type]
    with Workers[Task](MODULE, 1) as workers:
        ((_, given),) = workers.answers([bad])
    assert isinstance(given, ProcessError)
    assert str(given).startswith("its process crashed (AttributeError: ")
    assert given.signal == 0


def test_an_error_of_a_task_comes_back_as_itself(tmp_path: Path) -> None:
    first, second = tasks(tmp_path, 2)
    bad_form = first._replace(data=song().replace("  chorus:", "  other:").encode())
    (tmp_path / "taken").write_text("")
    blocked = second._replace(folder=str(tmp_path / "taken" / "0"))
    with pytest.raises(FormError) as here:
        answer(bad_form)
    (tmp_path / "0").rmdir()
    with Workers[Task](MODULE, 1) as workers:
        given = {task.item: error for task, error in workers.answers([bad_form, blocked])}
    assert type(given[0]) is FormError
    assert str(given[0]) == str(here.value)
    assert given[0].problems == here.value.problems
    assert type(given[1]) is BackingError
    assert str(given[1]) == "1: can't be made: part of this path is a file, not a folder."


def test_shares_arrive_in_order_before_the_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PYTHONPATH", str(tmp_path), prepend=os.pathsep)
    (tmp_path / "counting.py").write_text(
        "from backing.system.child import serve\n"
        "def main():\n    serve(count)\n"
        "def count(task, report):\n"
        "    print('not part of the protocol', flush=True)\n"
        "    for number in range(task):\n        report(number / task)\n"
        "    return task\n"
    )
    shares: list[tuple[int, float]] = []
    with Workers[int]("counting", 1, lambda task, share: shares.append((task, share))) as workers:
        assert list(workers.answers([2, 4])) == [(2, 2), (4, 4)]
    assert shares == [(2, 0.0), (2, 0.5), (4, 0.0), (4, 0.25), (4, 0.5), (4, 0.75)]


def test_leaving_early_ends_the_workers(tmp_path: Path) -> None:
    with Workers[Task](MODULE, 2) as workers:
        next(workers.answers(tasks(tmp_path, 50)))
        running = list(workers.workers)
    assert running
    assert all(worker.process.poll() is not None for worker in running)


def children(of: int) -> set[int]:
    """The processes below one, as Linux tells them."""
    below: set[int] = set()
    parents = {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            output = path.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if output[0] != "Z":
            parents[int(path.parent.name)] = int(output[1])
    found = {of}
    while found:
        found = {pid for pid, parent in parents.items() if parent in found}
        below |= found
    return below


@pytest.mark.parametrize("sign", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_no_worker_outlives_its_command(tmp_path: Path, sign: signal.Signals) -> None:
    long = song().replace("[verse, chorus]", "[verse x900, chorus]")
    (tmp_path / "song.yaml").write_text(long)
    command = [sys.executable, "-m", "backing", "lesson", "song.yaml", "--out", "week"]
    running = subprocess.Popen(
        [*command, "--jobs", "2"],
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        # Tests that run in the background would hand on that SIGINT is ignored.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    until = time.monotonic() + 30
    while len(workers := children(running.pid)) < 2 and time.monotonic() < until:
        time.sleep(0.02)
    assert len(workers) == 2
    os.kill(running.pid, sign)
    _, printed = running.communicate(timeout=30)
    assert running.returncode == (130 if sign == signal.SIGINT else -sign)
    assert b"Traceback" not in printed
    while any(Path(f"/proc/{pid}").exists() for pid in workers) and time.monotonic() < until:
        time.sleep(0.02)
    left = [pid for pid in workers if Path(f"/proc/{pid}/exe").exists()]
    assert left == []
    if sign == signal.SIGINT:
        assert b"run the same command again" in printed
        assert list((tmp_path / "week").glob(".*")) == []
