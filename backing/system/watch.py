"""A file watched for saves, in whatever way an editor saves.

Some editors write into the file, some write another and rename it over the first, some
delete it in between; some disks tell of none of this. So the folder is watched, and
whatever it tells, or tells not, the file's own stamp decides.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Event

from backing.errors import BackingError, reason

#: How often the stamp is looked at where nothing is told.
EVERY_MS = 500
#: What a save may do within this time is one save.
SETTLE_MS = 100


def on_each_save(path: str | Path, show: Callable[[], None], stop: Event | None = None) -> None:
    """Call `show` now, and again each time that a file is saved, deleted or comes back.

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
    from watchfiles import watch

    seen = _stamp(path)
    yield
    folders = {path.absolute().parent, path.resolve().parent}
    try:
        for _ in watch(
            *folders,
            watch_filter=None,
            recursive=False,
            step=SETTLE_MS,
            rust_timeout=EVERY_MS,
            yield_on_timeout=True,
            stop_event=stop,
        ):
            now = _stamp(path)
            if now != seen:
                seen = now
                yield
    except OSError as error:
        raise BackingError(f"{path}: its folder can't be watched: {reason(error)}.") from None


def _stamp(path: Path) -> tuple[int, ...] | None:
    """What differs once a file is saved; None where there is none."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns
