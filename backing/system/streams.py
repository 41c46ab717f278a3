"""The standard streams, so that nothing that happens to them stops the work.

A stream that was closed before the program started becomes the null device. Characters that a
stream's encoding lacks are replaced. Once a stream takes no more (a full disk, or a pipe whose
reader has ended), the rest of the output is dropped.
"""

from __future__ import annotations

import errno
import io
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

NAMES = ("stdin", "stdout", "stderr")
#: How often a write is tried again while a stream that doesn't wait is full, in seconds.
_TRY_EVERY_S = 0.01


class Output(io.RawIOBase):
    """A file that takes everything; `error` says why the rest was dropped, once some was."""

    def __init__(self, raw: io.RawIOBase) -> None:
        self.raw = raw
        self.error: OSError | None = None

    def writable(self) -> bool:
        """It is for writing."""
        return True

    def fileno(self) -> int:
        """The file's descriptor."""
        return self.raw.fileno()

    def isatty(self) -> bool:
        """Whether it is a terminal."""
        return self.raw.isatty()

    def write(self, data: Any) -> int:
        """Write some of the data, or drop all of it; returns how many bytes were taken."""
        while self.error is None:
            try:
                taken = self.raw.write(data)
            except OSError as error:
                self.error = error
            else:
                if taken is not None:
                    return taken
                time.sleep(_TRY_EVERY_S)
        return len(data)


class Outputs:
    """The streams that are written to; one that a test or another program put there stays."""

    def __init__(self) -> None:
        self.files = {name: file for name in NAMES[1:] if (file := _output(name))}

    @property
    def why_lost(self) -> OSError | None:
        """Why some of the standard output was dropped; None if a reader just stopped reading."""
        error = self.files["stdout"].error if "stdout" in self.files else None
        ended = (errno.EPIPE, errno.EINVAL) if os.name == "nt" else (errno.EPIPE,)
        return None if error is None or error.errno in ended else error


@contextmanager
def safe_streams() -> Iterator[Outputs]:
    """Make the streams safe for the length of the block."""
    before = {name: getattr(sys, name) for name in NAMES}
    _open_closed_ones()
    outputs = Outputs()
    try:
        yield outputs
    finally:
        for name, stream in before.items():
            if name != "stdin":
                getattr(sys, name).flush()
            setattr(sys, name, stream)


@contextmanager
def without_library_messages() -> Iterator[None]:
    """Drop what libraries written in C print on the standard error, past Python, in the block."""
    try:
        kept = os.dup(2)
    except OSError:  # closed, or no file can be opened
        yield
        return
    sys.stderr.flush()
    try:
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, 2)
        os.close(nothing)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def _open_closed_ones() -> None:
    """Open the null device for each closed stream, so that no file gets a stream's number."""
    for number, name in enumerate(NAMES):
        with suppress(OSError):
            os.fstat(number)
            continue
        os.set_inheritable(os.open(os.devnull, os.O_RDWR), True)
        if getattr(sys, name) is None:
            mode = "w" if number else "r"
            setattr(sys, name, open(number, mode, encoding="utf-8", closefd=False))  # noqa: SIM115


def _output(name: str) -> Output | None:
    """Put an `Output` under a standard stream that is the process's own."""
    stream = getattr(sys, name)
    try:
        number = stream.fileno()
    except (AttributeError, OSError, ValueError):
        return None
    if number != NAMES.index(name):
        return None
    stream.flush()
    file = Output(io.FileIO(number, "w", closefd=False))
    text = io.TextIOWrapper(
        io.BufferedWriter(file), stream.encoding, "replace", line_buffering=stream.line_buffering
    )
    setattr(sys, name, text)
    return file
