"""The work is done, without a traceback, whatever the standard streams are."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import pytest

SONG = """\
title: "日本 \N{MUSIC SHARP SIGN}"
tempo: 80
sections:
  verse: {bars: "| A | D |"}
form: [verse]
practice: {formats: [midi], set: [60]}
"""


class Streams(NamedTuple):
    """How a shell connects the streams, more environment, and the exit code of what prints.

    `can_tell` is whether an error can still be read on standard error.
    """

    connected: str
    environment: dict[str, str] = {}  # noqa: RUF012 - of a record
    prints: int = 0
    can_tell: bool = True


FULL = pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no /dev/full")
POSIX = {"LC_ALL": "POSIX", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
STREAMS = [
    pytest.param(Streams(">&-"), id="output closed"),
    pytest.param(Streams("2>&-", can_tell=False), id="errors closed"),
    pytest.param(Streams("<&- >&- 2>&-", can_tell=False), id="all closed"),
    pytest.param(Streams(">/dev/full", prints=2), id="output full", marks=FULL),
    pytest.param(Streams("2>/dev/full", can_tell=False), id="errors full", marks=FULL),
    pytest.param(Streams(">/dev/full 2>&1", prints=2, can_tell=False), id="both full", marks=FULL),
    pytest.param(Streams("| true"), id="nobody reads"),
    pytest.param(Streams("| cat", {"PYTHONIOENCODING": "cp1252"}), id="cp1252"),
    pytest.param(Streams("| cat", {"PYTHONIOENCODING": "ascii"}), id="ASCII"),
    pytest.param(Streams("| cat", POSIX), id="POSIX"),
    pytest.param(Streams("| cat", {"PYTHONUNBUFFERED": "1"}), id="unbuffered"),
]
#: Commands that print something, with the file that each makes.
COMMANDS = {
    "check song.yaml": "",
    "check song.yaml --json": "",
    "build song.yaml --out out": "out/日本 \N{MUSIC SHARP SIGN}.mid",
    "lesson song.yaml --out week": "week/日本 \N{MUSIC SHARP SIGN}/01 whole song 60%.mid",
    "schema": "",
}
WRONG = ("check broken.yaml", "lesson song.yaml --out w --audio wav --soundfont 日本.sf2")


@pytest.fixture
def here(tmp_path: Path) -> Path:
    (tmp_path / "song.yaml").write_text(SONG, "utf-8")
    (tmp_path / "broken.yaml").write_text(SONG.replace("tempo", "日本"), "utf-8")
    return tmp_path


def ran(here: Path, arguments: str, streams: Streams) -> subprocess.CompletedProcess[bytes]:
    """Run a command in a shell; its exit code is that of the command, not of what reads it."""
    program = f"{sys.executable} -m backing {arguments}"
    script = f"set -o pipefail; {program} {streams.connected}"
    root = Path(__file__).resolve().parents[1]
    environment = {**os.environ, "PYTHONPATH": str(root), **streams.environment}
    return subprocess.run(
        ["bash", "-c", script], cwd=here, env=environment, capture_output=True, timeout=120
    )


@pytest.mark.parametrize("streams", STREAMS)
def test_the_work_is_done(here: Path, streams: Streams) -> None:
    for arguments, makes in COMMANDS.items():
        done = ran(here, arguments, streams)
        assert b"Traceback" not in done.stdout + done.stderr, done.stderr
        assert done.returncode == streams.prints, (arguments, done.stderr)
        if streams.environment == POSIX:  # file names, too, are in ASCII there
            makes = makes.replace("日本 \N{MUSIC SHARP SIGN}", "song")
        assert not makes or (here / makes).is_file()
        if streams.prints and streams.can_tell:
            assert done.stderr == b"The output can't be written: the disk is full.\n"


@pytest.mark.parametrize("streams", STREAMS)
def test_what_is_wrong_is_still_told_by_the_exit_code(here: Path, streams: Streams) -> None:
    for arguments in WRONG:
        done = ran(here, arguments, streams)
        assert b"Traceback" not in done.stdout + done.stderr, done.stderr
        assert done.returncode == 2
        if streams.can_tell:
            assert done.stderr.strip()


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
@pytest.mark.parametrize("arguments", ["check song.yaml --json", "schema"])
def test_json_says_the_same_in_every_encoding(here: Path, arguments: str, encoding: str) -> None:
    done = ran(here, arguments, Streams("", {"PYTHONIOENCODING": encoding}))
    found = json.loads(done.stdout.decode(encoding))
    assert found == json.loads(ran(here, arguments, Streams("")).stdout)
    assert "?" not in done.stdout.decode(encoding).split("title")[1][:40]


def test_no_file_gets_the_number_of_a_closed_stream(here: Path) -> None:
    """Else what a library prints would land in a user's file."""
    code = (
        "import os, sys\n"
        "from backing.system.streams import safe_streams\n"
        "with safe_streams():\n"
        "    file = os.open('new', os.O_CREAT | os.O_WRONLY)\n"
        "    os.write(1, b'output'); os.write(2, b'errors')\n"
        "    sys.exit(file)\n"
    )
    (here / "run.py").write_text(code)
    root = Path(__file__).resolve().parents[1]
    script = f"{sys.executable} run.py <&- >&- 2>&-"
    environment = {**os.environ, "PYTHONPATH": str(root)}
    done = subprocess.run(["bash", "-c", script], cwd=here, env=environment, timeout=60)
    assert done.returncode > 2
    assert (here / "new").read_bytes() == b""
