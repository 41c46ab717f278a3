"""What took time to work out and is kept for the next run, in the user's cache folder.

The folder is the system's: `XDG_CACHE_HOME` or ~/.cache (XDG Base Directory Specification),
~/Library/Caches on macOS, %LOCALAPPDATA% on Windows. Nothing depends on it: what is missing,
damaged or can't be kept is worked out again, with the same result.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from backing.errors import BackingError
from backing.system.files import whole
from backing.system.lock import take

NAME = "backing"
#: How many results of a kind are kept; the oldest go first.
MOST_KEPT = 500
#: How long a run waits for another one that works out the same, in seconds.
PATIENCE_S = 60.0
_TRY_EVERY_S = 0.05


def cached(kind: str, key: str, make: Callable[[], Any], fits: Callable[[Any], bool]) -> Any:
    """A result from the cache, or made and kept.

    Args:
        kind: the folder of such results.
        key: letters and digits; the same key must mean the same result.
        make: works the result out; it must be what JSON can hold.
        fits: whether something read back is such a result.
    """
    try:
        folder = cache_folder() / kind
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except (OSError, RuntimeError):
        return make()
    path = folder / f"{key}.json"
    found = _read(path, fits)
    if found is not None:
        return found
    release = _locked(folder / f"{key}.lock")
    try:
        found = _read(path, fits)  # another run may have made it meanwhile
        if found is None:
            found = make()
            _keep(path, found)
        return found
    finally:
        release()


def cache_folder() -> Path:
    """This program's folder among the user's caches; raises RuntimeError if there is no home."""
    if sys.platform == "darwin":
        return Path.home() / "Library/Caches" / NAME
    named = os.environ.get("LOCALAPPDATA" if sys.platform == "win32" else "XDG_CACHE_HOME", "")
    folder = Path(named) if os.path.isabs(named) else Path.home() / ".cache"
    return folder / NAME


def _read(path: Path, fits: Callable[[Any], bool]) -> Any:
    """What a file holds; None if there is none that fits."""
    try:
        found = json.loads(path.read_bytes())
    except (OSError, ValueError):
        return None
    return found if fits(found) else None


def _locked(path: Path) -> Callable[[], None]:
    """Wait until no other run works out the same; what is returned lets the next one go on."""
    until = time.monotonic() + PATIENCE_S
    with suppress(OSError):
        path.touch()
        while time.monotonic() < until:
            lock = take(path)
            if lock is not None:
                return lock.release
            time.sleep(_TRY_EVERY_S)
    return _nothing


def _nothing() -> None:
    """Release no lock."""


def _keep(path: Path, found: Any) -> None:
    """Write a result whole, and make room for it."""
    with suppress(OSError, BackingError):
        with whole(path) as part, open(part, "x", encoding="ascii") as file:
            json.dump(found, file)
        _make_room(path.parent)


def _make_room(folder: Path) -> None:
    """Remove the oldest results beyond the number that is kept, and what belongs to none."""
    files = sorted(folder.glob("*.json"), key=lambda file: file.stat().st_mtime, reverse=True)
    for file in files[MOST_KEPT:]:
        with suppress(OSError):
            file.unlink()
            file.with_suffix(".lock").unlink()
