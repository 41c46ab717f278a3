"""Watching a file for saves, however an editor saves.

Some editors write into the file, some write another file and rename it, some delete the file in
between; some disks report none of this. So the folder is watched, but whether the file was saved
is decided by its stamp (number, size and time) alone.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from threading import Event

from backing.errors import BackingError, reason

#: How often the stamp is checked when nothing is reported, in milliseconds.
EVERY_MS = 500
#: Changes within this time are one save, in milliseconds.
SETTLE_MS = 100


def on_each_save(path: str | Path, show: Callable[[], None], stop: Event | None = None) -> None:
    """Call `show` now, and again each time a file is saved, deleted or made again.

    Returns when the user interrupts (Ctrl-C), or after `stop` is set.

    Raises:
        BackingError: the file's folder can't be watched.
    """
    try:
        for _ in _saves(Path(path), stop):
            show()
    except KeyboardInterrupt:
        pass


def _saves(path: Path, stop: Event | None) -> Iterator[None]:
    """At once, and after each save. The stamp is taken first, so that no save goes unseen."""
    seen = _stamp(path)
    yield
    folders = {path.absolute().parent, path.resolve().parent}
    try:
        for _ in _reports(folders, stop or Event()):
            now = _stamp(path)
            if now != seen:
                seen = now
                yield
    except OSError as error:
        raise BackingError(f"{path}: its folder can't be watched: {reason(error)}.") from None


def _reports(folders: Iterable[Path], stop: Event) -> Iterator[object]:
    """Each time that something happens in the folders, and twice a second; ends after `stop`."""
    from watchfiles import watch

    while not stop.is_set():
        try:
            yield from watch(
                *folders,
                watch_filter=None,
                recursive=False,
                step=SETTLE_MS,
                rust_timeout=EVERY_MS,
                yield_on_timeout=True,
                stop_event=stop,
            )
        except RuntimeError:  # something happened to a file whose name isn't UTF-8
            yield None
            stop.wait(EVERY_MS / 1000)


def _stamp(path: Path) -> tuple[int, ...] | None:
    """What changes when a file is saved; None if there is no file."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns
