"""Workers: one that breaks down costs its task; none outlives its command."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from lesson.songs import song

from backing.form import read_form_text
from backing.lesson.plan import items
from backing.lesson.tasks import Task, answer
from backing.system.workers import Broken, Crew, _Worker

WORKER = "backing.lesson.tasks"


def tasks(folder: Path, count: int = 4) -> list[Task]:
    data = song().encode()
    version = items(read_form_text(song()))[0].version
    return [
        Task(0, n, "song.yaml", data, f"{n}", version, ("midi",), None, str(folder / str(n)))
        for n in range(count)
    ]


def test_every_task_is_answered_once(tmp_path: Path) -> None:
    with Crew[Task](WORKER, 3) as crew:
        answered = list(crew.answers(tasks(tmp_path)))
    assert sorted(task.item for task, _ in answered) == [0, 1, 2, 3]
    assert all(not said.error and Path(said.made[0].path).is_file() for _, said in answered)


def test_a_worker_that_is_ended_costs_its_task_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hired = []

    class Doomed(_Worker):
        def __init__(self, module: str) -> None:
            super().__init__(module)
            hired.append(self)
            if len(hired) == 1:
                self.process.kill()

    monkeypatch.setattr("backing.system.workers._Worker", Doomed)
    with Crew[Task](WORKER, 1) as crew:
        broken, *others = [said for _, said in crew.answers(tasks(tmp_path))]
    assert broken == Broken("its process was ended by the system (signal 9).")
    assert [said.error for said in others] == ["", "", ""]
    assert len(hired) == 2
    assert all(worker.process.poll() is not None for worker in hired)


def test_a_worker_that_breaks_down_says_why(tmp_path: Path) -> None:
    bad = tasks(tmp_path, 1)[0]._replace(version=0)  # type: ignore[arg-type]
    with Crew[Task](WORKER, 1) as crew:
        ((_, said),) = crew.answers([bad])
    assert said.says.startswith("its process broke down (AttributeError: ")


def test_what_a_user_can_mend_comes_back_in_words(tmp_path: Path) -> None:
    task = tasks(tmp_path, 1)[0]
    assert (
        "no section 'chorus'"
        in answer(task._replace(data=song().replace("  chorus:", "  other:").encode())).error
    )
    (tmp_path / "taken").write_text("")
    blocked = task._replace(folder=str(tmp_path / "taken" / "0"))
    assert answer(blocked).error == "0: can't be made (Not a directory)."


def test_leaving_early_ends_the_workers(tmp_path: Path) -> None:
    with Crew[Task](WORKER, 2) as crew:
        next(crew.answers(tasks(tmp_path, 50)))
        workers = list(crew.workers)
    assert workers
    assert all(worker.process.poll() is not None for worker in workers)


def children(of: int) -> set[int]:
    """The processes below one, as Linux tells them."""
    below: set[int] = set()
    parents = {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            said = path.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if said[0] != "Z":
            parents[int(path.parent.name)] = int(said[1])
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
    _, says = running.communicate(timeout=30)
    assert running.returncode == (130 if sign == signal.SIGINT else -sign)
    assert b"Traceback" not in says
    while any(Path(f"/proc/{pid}").exists() for pid in workers) and time.monotonic() < until:
        time.sleep(0.02)
    left = [pid for pid in workers if Path(f"/proc/{pid}/exe").exists()]
    assert left == []
    if sign == signal.SIGINT:
        assert b"the same command goes on from there" in says
        assert list((tmp_path / "week").glob(".*")) == []
