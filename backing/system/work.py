"""Hidden folders for unfinished files, on the same disk as what they become.

This module alone decides how such folders are named, and removes them. A folder goes when its
block ends. What a killed run left behind is removed by the next run in the same place, at its
start or, if the killed run's own child processes were still ending then, at its end: only
folders that have our note in them, and only if no process holds that note any more.
"""

from __future__ import annotations

import errno
import os
import re
import time
from collections.abc import Container, Iterator
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path

from backing.errors import BackingError, ShortageError, naming, write_error
from backing.system.lock import Lock, holding, is_abandoned, take
from backing.system.shortages import DISK, in_temporary_folder, shortage_of

#: Kept free, so that a run that ends because memory ran out can remove its folder.
_RESERVED_BYTES = 2 << 20
_NAME = ".backing-work-{process}-{number}"
_PATTERN = re.compile(r"\.backing-work-\d+-\d+")
#: The empty file that marks a folder as ours. Its run holds it, and it is removed last.
NOTE = "unfinished-files-of-backing"
#: How long, and how often, a run tries to remove a folder that a dying process may still write to.
_REMOVING_S = 3.0
_TRY_EVERY_S = 0.02

_numbers = count(1)


@contextmanager
def work_folder(parent: Path) -> Iterator[Path]:
    """A new hidden folder in `parent`, which is made as in `made_folder`.

    Raises:
        BackingError: `parent` can't be written to, or another run holds it.
    """
    with made_folder(parent):
        with holding(parent), writing(parent):
            reserve = bytearray(_RESERVED_BYTES)
            abandoned = list(_abandoned(parent))
            for old in abandoned:
                _remove(old)
            work, lock = _new(parent)
        try:
            yield work
        finally:
            del reserve
            if lock is not None:
                lock.release()
            _remove(work)
            _clear_late(parent, abandoned)


def remove_abandoned(parent: Path) -> None:
    """Remove what a process left in a folder when it was killed. Raises BackingError."""
    with holding(parent), writing(parent):
        for old in _abandoned(parent):
            _remove(old)


@contextmanager
def temporary_folder() -> Iterator[Path]:
    """A folder among the system's temporary files; errors about its disk name that disk."""
    from tempfile import TemporaryDirectory, gettempdir

    try:
        with TemporaryDirectory() as folder:
            yield Path(folder)
    except ShortageError as error:
        raise ShortageError(in_temporary_folder(error.shortage), error.name) from None
    except OSError as error:
        found = DISK if error.errno == errno.ENOENT else shortage_of(error)
        if found is None:
            raise write_error(gettempdir(), error) from None
        raise ShortageError(in_temporary_folder(found)) from None


@contextmanager
def made_folder(path: Path) -> Iterator[None]:
    """Make a folder and its parents. Those that were missing are removed again if they stay empty.

    Raises:
        BackingError: it can't be made.
    """
    new = [one for one in (path, *path.parents) if not os.path.lexists(one)]
    try:
        with writing(path):
            path.mkdir(parents=True, exist_ok=True)
        yield
    finally:
        for one in new:
            with suppress(OSError, MemoryError):
                one.rmdir()


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """Turn the system's errors into a BackingError that names `path`."""
    with naming(path, "can't be written"):
        try:
            yield
        except OSError as error:
            raise write_error(path, error) from None


def _new(parent: Path) -> tuple[Path, Lock | None]:
    """A folder with its note, and the lock on the note."""
    while True:
        work = parent / _NAME.format(process=os.getpid(), number=next(_numbers))
        try:
            work.mkdir()
        except FileExistsError:
            continue
        try:
            (work / NOTE).touch(exist_ok=False)
            return work, take(work / NOTE)
        except OSError:
            _remove(work)
            raise


def _clear_late(parent: Path, tried: Container[Path]) -> None:
    """Remove what processes of a killed run held when this run started, but no longer do."""
    with suppress(OSError, BackingError), holding(parent, patience_s=0):
        for old in _abandoned(parent):
            if old not in tried:
                _remove(old)


def _abandoned(parent: Path) -> Iterator[Path]:
    for path in list(parent.iterdir()):
        if _PATTERN.fullmatch(path.name) and path.is_dir() and not path.is_symlink():
            names = os.listdir(path)
            if not names or (NOTE in names and is_abandoned(path / NOTE)):
                yield path


def _remove(work: Path) -> None:
    """Remove a work folder, its note last. A process that is ending may still write into it.

    It loads nothing and opens one folder at a time, since there may be no memory or files left.
    """
    until = time.monotonic() + _REMOVING_S
    while True:
        with suppress(OSError, MemoryError):
            _remove_all_in(work, but=NOTE)
        with suppress(OSError, MemoryError):
            if os.listdir(work) == [NOTE]:
                (work / NOTE).unlink()
        with suppress(OSError, MemoryError):
            work.rmdir()
        if not work.exists() or time.monotonic() > until:
            return
        time.sleep(_TRY_EVERY_S)


def _remove_all_in(folder: Path, but: str = "") -> None:
    """Remove what is in a folder as far as possible, except for a file named `but`."""
    for path in [folder / name for name in os.listdir(folder) if name != but]:
        with suppress(OSError):
            if path.is_dir() and not path.is_symlink():
                _remove_all_in(path)
                path.rmdir()
            else:
                path.unlink()
