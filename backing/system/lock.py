"""Folders and files that one process at a time may hold.

Where the system has `flock`, it locks the folder or file itself, which leaves nothing behind and
loads nothing. Elsewhere (Windows can't open a folder) the package filelock locks a file: for a
folder a hidden one inside it. Either way the system releases a lock when its process ends,
however it ends. Some network disks have no locks: there two runs at once are not kept apart.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from backing.errors import BackingError, write_error

try:
    import fcntl
except ImportError:
    fcntl = None  # type: ignore[assignment]

#: The hidden file in a folder that filelock locks in place of the folder.
LOCK_FILE = ".backing.lock"
#: How long a short piece of work waits for another run, and how often it tries, in seconds.
PATIENCE_S = 10.0
_TRY_EVERY_S = 0.02


class Lock(NamedTuple):
    """A lock that is held until `release` is called; not `is_real` where the disk has no locks."""

    release: Callable[[], None]
    is_real: bool = True


class _Holding(NamedTuple):
    """How many blocks of this process hold a folder, with one lock for all of them."""

    blocks: int
    lock: Lock


#: The folders that this process holds, by device and inode.
_held: dict[tuple[int, int], _Holding] = {}
_held_guard = threading.Lock()


@contextmanager
def holding(folder: Path, patience_s: float = PATIENCE_S) -> Iterator[None]:
    """Hold a folder for the length of the block; blocks of one process may overlap.

    Args:
        folder: it must exist.
        patience_s: how long to wait for another process, in seconds.

    Raises:
        BackingError: another process still holds it after that time, or it can't be opened.
    """
    try:
        found = folder.stat()
        key = (found.st_dev, found.st_ino)
        until = time.monotonic() + patience_s
        while not _hold(key, folder):
            if time.monotonic() >= until:
                raise BackingError(
                    f"{folder}: another run is at work in this folder. "
                    "Wait until it ends, or choose another folder."
                )
            time.sleep(_TRY_EVERY_S)
    except OSError as error:
        raise write_error(folder, error) from None
    try:
        yield
    finally:
        _release(key)


def _hold(key: tuple[int, int], folder: Path) -> bool:
    with _held_guard:
        holding = _held.get(key)
        lock = take(folder) if holding is None else holding.lock
        if lock is None:
            return False
        _held[key] = _Holding(1 if holding is None else holding.blocks + 1, lock)
        return True


def _release(key: tuple[int, int]) -> None:
    with _held_guard:
        blocks, lock = _held.pop(key)
        if blocks > 1:
            _held[key] = _Holding(blocks - 1, lock)
        else:
            lock.release()


def take(path: Path) -> Lock | None:
    """Lock a file or folder at once; None if another process holds it.

    Raises:
        OSError: it can't be opened.
    """
    return _by_filelock(path) if fcntl is None else _by_flock(path)


def is_abandoned(path: Path) -> bool:
    """Whether it is certain that no process holds a file any more."""
    try:
        lock = take(path)
    except OSError:
        return False
    if lock is None:
        return False
    lock.release()
    return lock.is_real


def _by_flock(path: Path) -> Lock | None:
    opened = os.open(path, os.O_RDONLY)

    def release() -> None:
        os.close(opened)

    try:
        fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(opened)
        return None
    except OSError:
        return Lock(release, is_real=False)
    return Lock(release)


def _by_filelock(path: Path) -> Lock | None:
    from filelock import FileLock, Timeout  # takes a while to load

    path.stat()  # filelock would make what is missing
    lock = FileLock(path / LOCK_FILE if path.is_dir() else path)
    try:
        lock.acquire(timeout=0)
    except Timeout:
        return None
    except NotImplementedError:
        return Lock(lambda: None, is_real=False)
    return Lock(lock.release)
