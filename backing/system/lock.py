"""Folders and files held by one process at a time.

The operating system lets go of them when the process ends, however it ends. Windows and some
network disks have no such locks: there two runs at once are not kept apart.
"""

from __future__ import annotations

import os
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from backing.errors import BackingError

#: How long a short piece of work waits for another run, and how often it asks, in seconds.
PATIENCE_S = 10.0
_ASK_EVERY_S = 0.02

#: In how many nested blocks this process holds a folder, by device and inode.
_held: Counter[tuple[int, int]] = Counter()


@contextmanager
def holding(folder: Path, patience_s: float = PATIENCE_S) -> Iterator[None]:
    """Hold a folder for the length of the block; one process may hold it several times over.

    Raises:
        BackingError: another process still holds it after `patience_s` seconds, or there is no
            such folder.
    """
    try:
        opened = os.open(folder, os.O_RDONLY)
    except OSError as error:
        if os.name == "nt":  # which opens no folders
            yield
            return
        raise BackingError(f"{folder}: can't be written ({error.strerror or error}).") from None
    try:
        about = os.fstat(opened)
        key = (about.st_dev, about.st_ino)
        until = time.monotonic() + patience_s
        while not _held[key] and _lock(opened) is False:
            if time.monotonic() >= until:
                says = "another run is at work in this folder. Wait for it, or choose another."
                raise BackingError(f"{folder}: {says}")
            time.sleep(_ASK_EVERY_S)
        _held[key] += 1
        try:
            yield
        finally:
            _held[key] -= 1
    finally:
        os.close(opened)


def hold_file(path: Path) -> int:
    """Hold a file until its descriptor, which is returned, is closed. Raises OSError."""
    opened = os.open(path, os.O_RDONLY)
    _lock(opened)
    return opened


def is_let_go(path: Path) -> bool:
    """Whether it is certain that no process holds a file any more."""
    try:
        opened = os.open(path, os.O_RDONLY)
    except OSError:
        return False
    try:
        return _lock(opened) is True
    finally:
        os.close(opened)


def _lock(opened: int) -> bool | None:
    """Lock what is open; False where another process has it, None where there are no locks."""
    try:
        import fcntl
    except ImportError:
        return None
    try:
        fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return None
    return True
