"""Watching a form: each save is seen, however the editor saves, and Ctrl-C ends it quietly."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import Empty, Queue
from select import select
from threading import Event, Thread

import pytest
from click.testing import CliRunner

from backing.cli import main
from backing.errors import BackingError
from backing.system.watch import on_each_save

SOON_S = 20.0
FORM = """\
title: First
tempo: 120
sections: {verse: {bars: "| A | D |"}}
form: [verse]
"""


class Watched:
    """A watch in a thread of its own, and what it has shown."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.shown: Queue[str] = Queue()
        self.stop = Event()
        self.thread = Thread(target=on_each_save, args=(path, self.show, self.stop), daemon=True)
        self.thread.start()

    def show(self) -> None:
        try:
            self.shown.put(self.path.read_text())
        except OSError:
            self.shown.put("gone")

    def until(self, text: str) -> None:
        """Wait for a text to be shown."""
        seen = []
        try:
            while (one := self.shown.get(timeout=SOON_S)) != text:
                seen.append(one)
        except Empty:
            raise AssertionError(f"{text!r} was never shown, only {seen}") from None

    def end(self) -> None:
        self.stop.set()
        self.thread.join(SOON_S)
        assert not self.thread.is_alive()


@pytest.fixture
def watched(tmp_path: Path) -> Iterator[Callable[[Path], Watched]]:
    watches: list[Watched] = []

    def start(path: Path) -> Watched:
        watches.append(Watched(path))
        return watches[-1]

    yield start
    for one in watches:
        one.end()


def renamed_over(path: Path, text: str) -> None:
    part = path.with_name(f".{path.name}.new")
    part.write_text(text)
    os.replace(part, path)


def moved_away_and_written(path: Path, text: str) -> None:
    os.replace(path, path.with_name(f"{path.name}~"))
    path.write_text(text)


@pytest.mark.parametrize(
    "save",
    [lambda path, text: path.write_text(text), renamed_over, moved_away_and_written],
    ids=["written into", "renamed over", "moved away and written"],
)
def test_each_save_is_seen(
    save: Callable[[Path, str], object], tmp_path: Path, watched: Callable[[Path], Watched]
) -> None:
    path = tmp_path / "song.yaml"
    path.write_text("one")
    watch = watched(path)
    watch.until("one")
    for text in ("two", "three"):
        save(path, text)
        watch.until(text)


def test_saves_are_seen_beside_files_whose_names_are_not_text(
    tmp_path: Path, watched: Callable[[Path], Watched]
) -> None:
    path, other = tmp_path / "song.yaml", Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff"))
    path.write_text("one")
    watch = watched(path)
    watch.until("one")
    for text in ("two", "three"):
        other.write_text(text)
        time.sleep(0.3)
        path.write_text(text)
        watch.until(text)


def test_a_file_may_be_missing_come_go_and_come_back(
    tmp_path: Path, watched: Callable[[Path], Watched]
) -> None:
    path = tmp_path / "song.yaml"
    watch = watched(path)
    watch.until("gone")
    path.write_text("one")
    watch.until("one")
    path.unlink()
    watch.until("gone")
    path.write_text("two")
    watch.until("two")


def test_what_a_link_leads_to_is_watched(
    tmp_path: Path, watched: Callable[[Path], Watched]
) -> None:
    (tmp_path / "songs").mkdir()
    target = tmp_path / "songs" / "song.yaml"
    target.write_text("one")
    link = tmp_path / "link.yaml"
    link.symlink_to(target)
    watch = watched(link)
    watch.until("one")
    renamed_over(target, "two")
    watch.until("two")


def test_a_neighbor_is_not_a_save(tmp_path: Path, watched: Callable[[Path], Watched]) -> None:
    path = tmp_path / "song.yaml"
    path.write_text("one")
    watch = watched(path)
    watch.until("one")
    (tmp_path / "other.yaml").write_text("x")
    time.sleep(0.8)  # longer than a look at the stamp and a save's settling
    assert watch.shown.empty()


def test_a_save_between_the_showing_and_the_watching_is_seen(tmp_path: Path) -> None:
    path = tmp_path / "song.yaml"
    path.write_text("one")
    shown: list[str] = []
    stop = Event()

    def show() -> None:
        shown.append(path.read_text())
        if len(shown) == 1:
            path.write_text("changed while shown")
        else:
            stop.set()

    on_each_save(path, show, stop)
    assert shown == ["one", "changed while shown"]


def test_an_interrupt_while_showing_ends_it(tmp_path: Path) -> None:
    def show() -> None:
        raise KeyboardInterrupt

    on_each_save(tmp_path / "song.yaml", show)


def test_a_folder_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(BackingError, match="can't be watched"):
        on_each_save(tmp_path / "none" / "song.yaml", lambda: None)


@pytest.mark.parametrize("more", [["--json"], ["second.yaml"]])
def test_watching_takes_one_form_and_prints_no_json(more: list[str], tmp_path: Path) -> None:
    path = tmp_path / "song.yaml"
    path.write_text(FORM)
    result = CliRunner().invoke(main, ["check", "--watch", str(path), *more])
    assert result.exit_code == 2
    assert "--watch takes one form" in result.output


def test_the_command_shows_each_save_and_its_errors_and_ends_quietly(tmp_path: Path) -> None:
    path = tmp_path / "song.yaml"
    path.write_text(FORM)
    printed = tmp_path / "printed"
    with open(printed, "wb") as out:
        process = subprocess.Popen(
            [sys.executable, "-u", "-m", "backing", "check", "--watch", str(path)],
            stdout=out,
            stderr=subprocess.STDOUT,
            # a shell's background job ignores interrupts; a user's does not
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
        )
        try:
            until(printed, "2 bars, 0:04.000")
            renamed_over(path, FORM.replace("tempo", "tepmo"))
            until(printed, f"{path}:2:1: ")
            path.unlink()
            until(printed, "there is no such file")
            path.write_text(FORM.replace("First", "Second").replace("120", "60"))
            until(printed, "2 bars, 0:08.000")
            process.send_signal(signal.SIGINT)
            assert process.wait(SOON_S) == 0
        finally:
            process.kill()
            process.wait()
    text = printed.read_text("utf-8")
    assert text.index("First") < text.index("tepmo") < text.index("Second")
    assert "Traceback" not in text
    assert "\x1b" not in text  # the screen of a terminal is cleared; a file is none
    assert text.rstrip().endswith("of count-in (0:04.000)")


def test_on_a_terminal_the_screen_is_cleared_and_says_how_to_end(tmp_path: Path) -> None:
    path = tmp_path / "song.yaml"
    path.write_text(FORM)
    ours, theirs = os.openpty()
    environment = {**os.environ, "TERM": "xterm", "NO_COLOR": ""}
    process = subprocess.Popen(
        [sys.executable, "-m", "backing", "check", "--watch", str(path)],
        stdout=theirs,
        stderr=theirs,
        env=environment,
    )
    printed = b""
    try:
        while b"Press Ctrl-C to stop." not in printed:
            ready, _, _ = select([ours], [], [], SOON_S)
            assert ready, printed
            printed += os.read(ours, 4096)
    finally:
        process.kill()
        process.wait()
        os.close(ours)
        os.close(theirs)
    cleared, title = printed.index(b"\x1b[2J"), printed.index(b"\x1b[1mFirst")
    assert cleared < title < printed.index(b"Watching ")


def until(path: Path, text: str) -> None:
    """Wait for a text in a file."""
    end = time.monotonic() + SOON_S
    while text not in path.read_text("utf-8"):
        assert time.monotonic() < end, f"{text!r} never came: {path.read_text('utf-8')}"
        time.sleep(0.05)
