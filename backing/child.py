"""A process that works for another one: how it is started, and where it may speak."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path


def command(module: str) -> list[str]:
    """What starts a process that runs a module's `main`, whatever folder it is started in."""
    root = str(Path(__file__).resolve().parents[1])
    program = f"import sys; sys.path[0] = {root!r}; from {module} import main; main()"
    return [sys.executable, "-c", program]


def words() -> int:
    """In such a process, first of all: the descriptor on which its parent listens.

    What a library prints goes to the error stream from here on, so that it is no word of
    ours; Ctrl-C is the parent's, which then ends this process.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    ours = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    return ours
