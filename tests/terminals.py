"""Commands run on a terminal, a real one to them: the near end of a pseudo-terminal."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[1]


class Shown(NamedTuple):
    """The bytes that a terminal got from a program, and its exit code."""

    data: bytes
    exit_code: int


def shown(arguments: Sequence[str], folder: Path) -> Shown:
    """Run `backing` with its output and errors on a terminal."""
    return run([sys.executable, "-m", "backing", *arguments], folder)


def run(command: Sequence[str], folder: Path) -> Shown:
    """Run a program with its output and errors on a terminal."""
    near, far = pty.openpty()
    packages = os.pathsep.join((str(ROOT), str(ROOT / "tests")))
    environment = {**os.environ, "PYTHONPATH": packages, "TERM": "xterm-256color"}
    environment.pop("NO_COLOR", None)
    with subprocess.Popen(
        command, cwd=folder, env=environment, stdin=far, stdout=far, stderr=far
    ) as child:
        os.close(far)
        data = b""
        with suppress(OSError):  # how Linux says that the last writer is gone
            while piece := os.read(near, 1 << 16):
                data += piece
        os.close(near)
        return Shown(data, child.wait())
