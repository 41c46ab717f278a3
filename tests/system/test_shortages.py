"""Too little memory, disk, files or processes: named as that, with the file and the way out."""

from __future__ import annotations

import errno
import os
import pickle
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from lesson.songs import song

import backing
from backing.audio.engines import available
from backing.audio.job import Job
from backing.audio.render import _crash
from backing.audio.soundfonts import Soundfont, choose
from backing.errors import BackingError, FormError, ShortageError, naming, read_error, write_error
from backing.system import record
from backing.system.place import write_file
from backing.system.shortages import (
    BY_ERRNO,
    BY_TEXT,
    KILLED,
    MEMORY,
    PROCESSES,
    Shortage,
    in_temporary_folder,
    shortage_in,
    shortage_of,
)
from backing.system.workers import ProcessError, Worker

BLAMING = ("soundfont", "damaged", "Choose another.", "install", "form")
WAYS_OUT = ("Close other programs", "choose a folder", "Choose a folder")
DISK_NUMBERS = sorted(number for number, found in BY_ERRNO.items() if found.of_disk)
OTHER_NUMBERS = sorted(number for number, found in BY_ERRNO.items() if not found.of_disk)


def failed(number: int) -> OSError:
    return OSError(number, os.strerror(number))


def raising(error: BaseException) -> Callable[..., object]:
    def fail(*args: object, **named: object) -> object:
        raise error

    return fail


def told(text: str, name: str) -> None:
    """The sentences name the file, give the way out, and blame nothing else."""
    assert text.startswith(f"{name}: can't be ")
    assert text.endswith(".")
    assert text.count("\n") == 0
    assert any(
        way in text for way in ("Close other programs", "choose a folder", "Choose a folder")
    )
    assert not any(word in text for word in BLAMING)


@pytest.mark.parametrize("number", [*DISK_NUMBERS, *OTHER_NUMBERS])
def test_what_cannot_be_written_names_the_file_and_the_way_out(number: int) -> None:
    told(str(write_error("a.mid", failed(number))), "a.mid")


@pytest.mark.parametrize("number", OTHER_NUMBERS)
def test_a_file_that_cannot_be_read_for_a_shortage_is_not_called_missing(number: int) -> None:
    told(str(read_error("a.wav", failed(number), "Give an audio file.")), "a.wav")


@pytest.mark.parametrize(
    "error",
    [
        MemoryError(),
        RuntimeError("can't start new thread"),
        ImportError("libx.so: failed to map segment from shared object"),
        OSError("libx.so: cannot allocate memory in static TLS block"),
        SystemError("error while loading: Too many open files"),
        BlockingIOError(errno.EAGAIN, "Resource temporarily unavailable"),
        type("PanicException", (BaseException,), {})("ThreadPoolBuildError: unavailable"),
    ],
    ids=lambda error: f"{type(error).__name__} {error}",
)
def test_each_kind_of_error_is_known_for_what_it_is(error: BaseException) -> None:
    found = shortage_of(error)
    assert found is not None
    told(str(ShortageError(found, "a.wav")), "a.wav")


@pytest.mark.parametrize(
    "error", [ValueError("x"), KeyError("x"), failed(errno.ENOENT), ModuleNotFoundError("typst")]
)
def test_other_errors_are_no_shortage(error: Exception) -> None:
    assert shortage_of(error) is None


def test_an_error_that_hides_a_shortage_is_known_by_what_led_to_it() -> None:
    hiding = ValueError("could not save")
    hiding.__context__ = failed(errno.ENOSPC)
    assert shortage_of(hiding) == BY_ERRNO[errno.ENOSPC]


def test_the_limit_is_named_only_where_one_is_set() -> None:
    resource = pytest.importorskip("resource")
    limited = resource.getrlimit(resource.RLIMIT_AS)[0] != resource.RLIM_INFINITY
    assert ("ulimit -v" in MEMORY.advice) == limited


def test_a_name_that_is_known_is_kept_and_a_missing_one_is_added() -> None:
    with pytest.raises(ShortageError, match=r"^inner\.wav: ") as inner, naming("outer.wav"):
        raise ShortageError(MEMORY, "inner.wav")
    assert str(inner.value).count(".wav") == 1
    with pytest.raises(ShortageError, match=r"^outer\.wav: "), naming("outer.wav"):
        raise ShortageError(MEMORY)
    with pytest.raises(ValueError, match="x"), naming("outer.wav"):
        raise ValueError("x")


def test_it_survives_a_pipe_and_a_change_of_name() -> None:
    error = ShortageError(MEMORY, "work/a.wav", "can't be written")
    there = pickle.loads(pickle.dumps(error))
    assert (str(there), there.name) == (str(error), error.name)
    assert str(there.with_text("work", "out")).startswith("out/a.wav: can't be written: ")


def test_a_full_temporary_folder_is_told_apart_from_the_disk_of_the_file() -> None:
    text = str(ShortageError(in_temporary_folder(BY_ERRNO[errno.ENOSPC]), "p.html"))
    assert "TMPDIR" in text
    assert in_temporary_folder(MEMORY) == MEMORY


# What is made.


@pytest.mark.parametrize("number", DISK_NUMBERS)
@pytest.mark.parametrize("step", ["fsync", "replace", "mkdir"])
def test_whatever_step_fails_the_older_file_stays_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, number: int
) -> None:
    path = tmp_path / "a.mid"
    write_file(path, b"old")
    with monkeypatch.context() as patch:
        patch.setattr(os, step, raising(failed(number)))
        with pytest.raises(ShortageError) as found:
            write_file(path, b"new")
    assert "can't be written" in str(found.value)
    assert path.read_bytes() == b"old"
    assert sorted(os.listdir(tmp_path)) == [record.NAME, "a.mid"]
    write_file(path, b"new")
    assert path.read_bytes() == b"new"


def test_our_files_are_not_taken_for_others_when_the_record_cannot_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_file(tmp_path / "a.mid", b"old")
    monkeypatch.setattr("builtins.open", raising(failed(errno.EMFILE)))
    with pytest.raises(ShortageError, match="too many files"):
        record.read(tmp_path)


@pytest.mark.parametrize("error", [failed(errno.EMFILE), failed(errno.ENOMEM), MemoryError()])
def test_no_soundfont_is_passed_over_for_a_shortage(
    monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    monkeypatch.setattr("backing.audio.soundfonts._read", raising(error))
    with pytest.raises(ShortageError) as found:
        choose()
    assert "damaged" not in str(found.value)


@pytest.mark.parametrize(
    "error", [failed(errno.EMFILE), OSError("libfluidsynth.so: failed to map segment")]
)
def test_no_engine_is_called_missing_for_a_shortage(
    monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    monkeypatch.setattr("backing.audio.engines.find_spec", lambda name: True)
    monkeypatch.setattr("backing.audio.engines.load_fluidsynth", raising(error))
    with pytest.raises(ShortageError):
        available()


# What other processes run into.


@pytest.mark.parametrize("printed", list(BY_TEXT))
def test_what_a_crashed_process_printed_tells_why(printed: str) -> None:
    found = shortage_in(f"Traceback\nterminate called: {printed.upper()}: 12 bytes\n")
    assert found in (BY_TEXT[printed], MEMORY, PROCESSES)
    assert shortage_in("segmentation fault") is None


@pytest.mark.parametrize("shortage", [MEMORY, KILLED, PROCESSES])
def test_a_crash_for_a_shortage_does_not_blame_the_soundfont(shortage: Shortage) -> None:
    job = Job.__new__(Job, *[()] * len(Job._fields))
    soundfont = Soundfont(Path("good.sf2"), "", "Good")
    error = _crash(ProcessError("its process crashed.", 9, shortage), job, soundfont)
    assert isinstance(error, ShortageError)
    assert not any(word in str(error) for word in BLAMING)
    crash = _crash(ProcessError("its process crashed.", 11), job, soundfont)
    assert "crashed on this soundfont (signal 11)" in str(crash)


def test_a_process_that_the_system_kills_is_short_of_memory() -> None:
    worker = Worker("backing.audio.render_worker")
    worker.process.kill()
    ended = worker.ask(None, lambda share: None)
    worker.end()
    assert isinstance(ended, ProcessError)
    told(str(ended.named("a.wav")), "a.wav")
    assert "signal 9" in str(ended.named("a.wav"))


def test_a_process_that_cannot_be_started_is_a_shortage(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(subprocess, "Popen", raising(failed(errno.EAGAIN)))
    with pytest.raises(ShortageError) as found:
        Worker("backing.audio.render_worker")
    assert found.value.shortage == PROCESSES


# Real limits. Python itself starts with about 20 MB and 6 files.


def run(folder: Path, limit: str, value: int, *words: str) -> subprocess.CompletedProcess[str]:
    program = (
        f"import resource; resource.setrlimit(resource.{limit}, ({value}, {value}))\n"
        "from backing.cli import main; main(prog_name='backing')"
    )
    root = str(Path(backing.__file__).parents[1])
    return subprocess.run(
        [sys.executable, "-c", program, *words],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": root},
        capture_output=True,
        text=True,
        timeout=120,
    )


@pytest.mark.skipif(sys.platform != "linux", reason="limits work differently elsewhere")
@pytest.mark.parametrize(
    ("limit", "value", "words"),
    [
        ("RLIMIT_AS", 27 << 20, ["build", "a.yaml", "--out", "made"]),
        ("RLIMIT_AS", 60 << 20, ["chart", "a.yaml", "--out", "made/a.pdf"]),
        ("RLIMIT_FSIZE", 300, ["build", "a.yaml", "--out", "made"]),
        ("RLIMIT_FSIZE", 300, ["schema", "--out", "made/a.json"]),
        ("RLIMIT_NOFILE", 5, ["build", "a.yaml", "--out", "made"]),
    ],
)
def test_a_real_limit_gives_one_sentence_and_leaves_nothing(
    tmp_path: Path, limit: str, value: int, words: list[str]
) -> None:
    (tmp_path / "a.yaml").write_text(song())
    ended = run(tmp_path, limit, value, *words)
    assert ended.returncode == 2, ended.stderr
    assert "Traceback" not in ended.stderr
    assert any(found.reason in ended.stderr for found in BY_ERRNO.values())
    assert "a.yaml" in ended.stderr or "made" in ended.stderr
    assert os.listdir(tmp_path) == ["a.yaml"]


def test_errors_of_forms_stay_what_they_are() -> None:
    with pytest.raises(FormError), naming("a.yaml"):
        raise FormError("a.yaml", [])
    with pytest.raises(BackingError, match=r"^x\.$"), naming("a.yaml"):
        raise BackingError("x.")
