"""What a song's folder says of itself: every file that was made for it, by name.

A file's `key` tells what it was made of, its `digest` what it held when it was made; so a
file that was changed by hand is known, and one that is not is made only once. The record
depends on nothing but these, so that two runs that come to the same files leave the same.
It is written before a file takes its name: what has its name was recorded.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, NamedTuple

from backing.errors import BackingError
from backing.lesson.identity import digest

NAME = ".lesson.json"
_MOST_BYTES = 4 << 20


class Entry(NamedTuple):
    """A file: its key, its digest, and of a version its milliseconds, its tempos in bpm, and
    what is worth saying of it, a sentence each.
    """

    key: str
    digest: str
    ms: int = 0
    bpm: tuple[str, ...] = ()
    sayings: tuple[str, ...] = ()


Record = Mapping[str, Entry]


def read(folder: Path) -> dict[str, Entry]:
    """A folder's record; empty where it has none, or one that is damaged."""
    try:
        with open(folder / NAME, "rb") as file:
            said = json.loads(file.read(_MOST_BYTES))
        return {name: _entry(entry) for name, entry in said["files"].items() if _is_plain(name)}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}


def write(folder: Path, record: Record, work: Path) -> None:
    """Write a record, if the folder has another; raises BackingError."""
    files = {name: record[name]._asdict() for name in sorted(record)}
    text = json.dumps({"files": files}, ensure_ascii=False, indent=1, sort_keys=True) + "\n"
    put(folder / NAME, text.encode("utf-8"), work)


def put(path: Path, data: bytes, work: Path) -> bool:
    """Write a file that does not hold this yet; whether it had to be. Raises BackingError.

    It becomes whole in `work`, where a run that is ended may leave things: nobody clears
    what it would leave beside the file.
    """
    with suppress(OSError):
        if path.read_bytes() == data:
            return False
    made = work / path.name
    with writing(path), open(made, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    name(made, path)
    return True


def name(made: Path, path: Path) -> None:
    """Give a file that is whole its name; raises BackingError."""
    with writing(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        os.replace(made, path)


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """What the system says against writing, as a BackingError of the file that was to be."""
    try:
        yield
    except OSError as error:
        raise BackingError(f"{path}: can't be written ({error.strerror or error}).") from None


def holds(path: Path, digest_: str) -> bool:
    """Whether a file is there and holds what it held; one that can't be read does not."""
    try:
        return path.is_file() and not path.is_symlink() and digest(path) == digest_
    except OSError:
        return False


def remove(path: Path, digest_: str) -> None:
    """Remove a file of ours that nobody has changed; raises BackingError where that fails."""
    if not holds(path, digest_):
        return
    try:
        path.unlink()
    except OSError as error:
        raise BackingError(f"{path}: can't be removed ({error.strerror or error}).") from None


def _entry(said: Mapping[str, Any]) -> Entry:
    key, held, ms = said["key"], said["digest"], said["ms"]
    if not isinstance(key, str) or not isinstance(held, str) or not isinstance(ms, int):
        raise TypeError
    return Entry(key, held, ms, tuple(map(str, said["bpm"])), tuple(map(str, said["sayings"])))


def _is_plain(name: str) -> bool:
    """Whether a name is a file's right in its folder: what is read from a disk may say anything."""
    return bool(name) and not name.startswith(".") and not {"/", "\\", "\0"} & set(name)
