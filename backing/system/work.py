"""Hidden folders for files that are not whole yet, on the same disk as what they become.

The folder goes when its block ends. What a killed run left behind, the next run in the same
place removes: only folders that carry our note, and only once their run has ended.
"""

from __future__ import annotations

import os
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from itertools import count
from pathlib import Path

from backing.errors import BackingError
from backing.system.lock import hold_file, holding, is_let_go

_NAME = ".backing-work-{process}-{number}"
_PATTERN = re.compile(r"\.backing-work-\d+-\d+")
#: The empty file that shows whose folder it is. Its run holds it, and it goes last.
NOTE = "unfinished-files-of-backing"
#: How long, and how often, a run tries to clear a folder that a dying process may still write to.
_CLEARING_S = 3.0
_TRY_EVERY_S = 0.02

_numbers = count(1)


@contextmanager
def work_folder(parent: Path) -> Iterator[Path]:
    """A new hidden folder in `parent`, which is as in `made_folder`.

    Raises:
        BackingError: `parent` can't be written to, or another run holds it.
    """
    with made_folder(parent):
        with holding(parent), writing(parent):
            for old in _abandoned(parent):
                _remove(old)
            work, held = _opened(parent)
        try:
            yield work
        finally:
            os.close(held)
            _remove(work)


@contextmanager
def made_folder(path: Path) -> Iterator[None]:
    """Make a folder, and its parents. Those that were missing go again if they stay empty.

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
            with suppress(OSError):
                one.rmdir()


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """Turn what the system says against writing into a BackingError that names `path`."""
    try:
        yield
    except OSError as error:
        raise BackingError(f"{path}: can't be written ({error.strerror or error}).") from None


def _opened(parent: Path) -> tuple[Path, int]:
    """A folder with its note, and the note held."""
    while True:
        work = parent / _NAME.format(process=os.getpid(), number=next(_numbers))
        try:
            work.mkdir()
        except FileExistsError:
            continue
        try:
            (work / NOTE).touch(exist_ok=False)
            return work, hold_file(work / NOTE)
        except OSError:
            _remove(work)
            raise


def _abandoned(parent: Path) -> Iterator[Path]:
    for path in list(parent.iterdir()):
        if _PATTERN.fullmatch(path.name) and path.is_dir() and not path.is_symlink():
            names = os.listdir(path)
            if not names or (NOTE in names and is_let_go(path / NOTE)):
                yield path


def _remove(work: Path) -> None:
    """Remove a work folder, its note last. A process that is just ending may yet write into it."""
    import shutil  # takes a while to load

    until = time.monotonic() + _CLEARING_S
    while True:
        for path in [path for path in _listed(work) if path.name != NOTE]:
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path, ignore_errors=True)
            else:
                with suppress(OSError):
                    path.unlink()
        with suppress(OSError):
            if os.listdir(work) == [NOTE]:
                (work / NOTE).unlink()
            work.rmdir()
        if not work.exists() or time.monotonic() > until:
            return
        time.sleep(_TRY_EVERY_S)


def _listed(work: Path) -> list[Path]:
    with suppress(OSError):
        return list(work.iterdir())
    return []
