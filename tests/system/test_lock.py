"""Locks: one process at a time, by the system's own lock and by filelock."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from backing.errors import BackingError
from backing.system import lock
from backing.system.lock import LOCK_FILE, holding, is_abandoned, take

ROOT = Path(__file__).resolve().parents[2]
HOLD = """
import sys
from pathlib import Path
from backing.system import lock
if sys.argv[2] == "filelock":
    lock.fcntl = None
with lock.holding(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.readline()
"""


@pytest.fixture(params=["flock", "filelock"])
def kind(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Each kind of lock in turn; Windows has only the second."""
    if request.param == "filelock":
        monkeypatch.setattr(lock, "fcntl", None)
    return str(request.param)


def holder(folder: Path, kind: str) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(folder), kind],
        cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    assert process.stdout.readline() == "held\n"
    return process


def test_a_folder_that_another_process_holds_is_refused_at_once(tmp_path: Path, kind: str) -> None:
    process = holder(tmp_path, kind)
    start = time.monotonic()
    with pytest.raises(BackingError, match="another run is at work in this folder"):
        holding(tmp_path, 0).__enter__()
    assert time.monotonic() - start < 1
    process.communicate("\n")
    with holding(tmp_path, 0), holding(tmp_path, 0):
        pass


def test_a_short_piece_of_work_waits_for_another_process(tmp_path: Path, kind: str) -> None:
    process = holder(tmp_path, kind)
    assert process.stdin is not None
    threading.Timer(0.3, process.communicate, ["\n"]).start()
    with holding(tmp_path, 10):
        assert process.wait(10) == 0


def test_a_killed_process_leaves_no_lock(tmp_path: Path, kind: str) -> None:
    process = holder(tmp_path, kind)
    process.send_signal(signal.SIGKILL)
    process.communicate()
    with holding(tmp_path, 0):
        pass


def test_the_systems_lock_leaves_no_file_and_filelocks_is_hidden(tmp_path: Path, kind: str) -> None:
    with holding(tmp_path):
        pass
    assert os.listdir(tmp_path) == ([] if kind == "flock" else [LOCK_FILE])
    assert LOCK_FILE.startswith(".")


@pytest.mark.usefixtures("kind")
def test_blocks_of_one_process_may_end_in_any_order(tmp_path: Path) -> None:
    """A process outside must not get the folder before the last of them ends."""
    first, second = holding(tmp_path), holding(tmp_path)
    first.__enter__()
    second.__enter__()
    first.__exit__(None, None, None)
    assert take(tmp_path) is None
    second.__exit__(None, None, None)
    last = take(tmp_path)
    assert last is not None
    last.release()


@pytest.mark.usefixtures("kind")
def test_a_file_is_abandoned_once_nobody_holds_it(tmp_path: Path) -> None:
    path = tmp_path / "note"
    assert not is_abandoned(path / "missing")
    path.touch()
    held = take(path)
    assert held is not None
    assert not is_abandoned(path)
    held.release()
    assert is_abandoned(path)


def test_a_folder_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with (
        pytest.raises(BackingError, match="there is no such file or folder"),
        holding(tmp_path / "x"),
    ):
        pass


def test_a_disk_without_locks_lets_a_run_go_on_but_nothing_is_abandoned(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_locks(*_: object) -> None:
        raise OSError(37, "No locks available")

    monkeypatch.setattr("fcntl.flock", no_locks)
    with holding(tmp_path, 0):
        pass
    (tmp_path / "note").touch()
    assert not is_abandoned(tmp_path / "note")
