"""Hidden folders for unfinished files: gone at the end, and only ours are ever cleared."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import backing
from backing.errors import BackingError
from backing.system.files import whole
from backing.system.work import NOTE, made_folder, work_folder

ROOT = Path(__file__).resolve().parents[2]
HOLD = """
import sys, time
from pathlib import Path
from backing.system.work import work_folder
with work_folder(Path(sys.argv[1])) as work:
    (work / "half").write_bytes(b"x" * 1000)
    (work / "below").mkdir()
    print(work.name, flush=True)
    time.sleep(60)
"""


def holder(folder: Path) -> tuple[subprocess.Popen[str], str]:
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(folder)], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    return process, process.stdout.readline().strip()


def test_it_is_gone_at_the_end_with_all_that_is_in_it(tmp_path: Path) -> None:
    with work_folder(tmp_path) as work, work_folder(work) as inner:
        (inner / "a").mkdir()
        (inner / "a" / "b").write_bytes(b"x")
        assert work != inner
    assert os.listdir(tmp_path) == []


def test_new_folders_go_again_if_nothing_was_put_there(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError), work_folder(tmp_path / "a" / "b"):
        raise RuntimeError
    assert os.listdir(tmp_path) == []
    with made_folder(tmp_path / "a" / "b"):
        (tmp_path / "a" / "mine").write_bytes(b"")
    assert os.listdir(tmp_path / "a") == ["mine"]


def test_what_a_killed_run_left_is_removed_but_not_what_a_running_one_has(tmp_path: Path) -> None:
    process, name = holder(tmp_path)
    try:
        with work_folder(tmp_path):
            assert (tmp_path / name / "half").exists()
        process.send_signal(signal.SIGKILL)
        process.wait(10)
        assert (tmp_path / name).is_dir()
        with work_folder(tmp_path) as work:
            assert os.listdir(tmp_path) == [work.name]
    finally:
        process.kill()
        process.communicate()


def test_what_a_killed_run_still_held_at_the_start_is_removed_at_the_end(tmp_path: Path) -> None:
    """A killed command's own children end a moment after it."""
    process, name = holder(tmp_path)
    try:
        with work_folder(tmp_path) as work:
            process.kill()
            process.wait(10)
            assert sorted(os.listdir(tmp_path)) == sorted([name, work.name])
        assert os.listdir(tmp_path) == []
    finally:
        process.kill()
        process.communicate()


@pytest.mark.parametrize("process", [os.getpid(), os.getppid(), 1], ids=["ours", "parent", "first"])
def test_a_number_of_a_process_that_is_in_use_again_holds_nothing(
    tmp_path: Path, process: int
) -> None:
    left = tmp_path / f".backing-work-{process}-1"
    (left / "made").mkdir(parents=True)
    (left / NOTE).touch()
    (left / "made" / "mix.raw").write_bytes(b"half")
    for path in (left / "made" / "mix.raw", left / "made", left):
        os.utime(path, (4e9, 4e9))  # and written by a clock that has been set back since
    with work_folder(tmp_path) as work:
        assert os.listdir(tmp_path) == [work.name]
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize(
    "name",
    [".backing-work-old", ".backing-work-1", ".backing-work-1-1-1", ".backing-lesson-4711",
     ".backing-sound.4711.1", ".backing-sound.notes", "backing-work-1-1", ".backing-work-x-1"],
)  # fmt: skip
@pytest.mark.parametrize("noted", [False, True])
def test_folders_of_other_names_stay(tmp_path: Path, name: str, noted: bool) -> None:
    (tmp_path / name).mkdir()
    (tmp_path / name / "recording.wav").write_bytes(b"mine")
    if noted:
        (tmp_path / name / NOTE).touch()
    with work_folder(tmp_path):
        pass
    assert (tmp_path / name / "recording.wav").read_bytes() == b"mine"


def test_a_folder_of_such_a_name_without_our_note_stays(tmp_path: Path) -> None:
    mine = tmp_path / ".backing-work-4711-1"
    mine.mkdir()
    (mine / "recording.wav").write_bytes(b"mine")
    with work_folder(tmp_path):
        pass
    assert (mine / "recording.wav").read_bytes() == b"mine"


def test_a_link_of_such_a_name_is_not_followed(tmp_path: Path) -> None:
    mine, out = tmp_path / "mine", tmp_path / "out"
    mine.mkdir()
    out.mkdir()
    for name in (NOTE, "recording.wav"):
        (mine / name).write_bytes(b"")
    (out / ".backing-work-4711-1").symlink_to(mine)
    (out / ".backing-work-4711-2").mkdir()
    (out / ".backing-work-4711-2" / NOTE).touch()
    (out / ".backing-work-4711-2" / "link").symlink_to(mine)
    with work_folder(out):
        pass
    assert sorted(os.listdir(mine)) == ["recording.wav", NOTE]
    assert os.listdir(out) == [".backing-work-4711-1"]


def test_a_file_that_is_being_written_is_in_a_hidden_folder_too(tmp_path: Path) -> None:
    with whole(tmp_path / "song.mid") as part:
        part.write_bytes(b"x")
        (work,) = os.listdir(tmp_path)
        assert re.fullmatch(r"\.backing-work-\d+-\d+", work)
        assert part.parent == tmp_path / work
    assert os.listdir(tmp_path) == ["song.mid"]
    with pytest.raises(RuntimeError), whole(tmp_path / "new" / "song.mid"):
        raise RuntimeError
    assert os.listdir(tmp_path) == ["song.mid"]


def test_hidden_names_are_decided_in_one_module() -> None:
    """So that one module can remove whatever a killed run left."""
    package = Path(backing.__file__).parent
    naming = {
        path.relative_to(package).as_posix()
        for path in package.rglob("*.py")
        if re.search(r"getpid|mkdtemp|mkstemp|NamedTemporary|\"\.backing-", path.read_text("utf-8"))
    }
    assert naming == {"system/work.py"}


def test_a_file_where_the_folder_should_be_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    with (
        pytest.raises(BackingError, match="can't be written"),
        work_folder(tmp_path / "file" / "a"),
    ):
        pass
