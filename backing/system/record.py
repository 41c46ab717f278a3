"""What was written into a folder: a hidden record of file names with hashes of their contents.

It shows which files are ours, and whether they have been changed since (see `place`).
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

from backing.errors import BackingError, naming, reason
from backing.system.lock import holding
from backing.system.shortages import shortage_of
from backing.system.work import writing

NAME = ".backing.json"
#: Of the record's layout. A record with a higher one is neither used nor replaced.
VERSION = 1
#: Instead of a hash, for what has no bytes to compare: a folder, a link, a file we can't read.
NOT_A_FILE = ""
_MOST_BYTES = 16 << 20
_BLOCK = 1 << 20


class Entry(NamedTuple):
    """A file that we wrote: the SHA-256 of its contents (while it is being replaced, also of the
    contents before), and what its maker wants to remember about it, as JSON has it.
    """

    digests: tuple[str, ...]
    about: Mapping[str, Any] = {}


Record = dict[str, Entry]


def read(folder: Path) -> Record:
    """A folder's record; empty if there is none, or a damaged one.

    Raises:
        BackingError: a later version of this program wrote it, or it can't be read now; without
            it, our own files would look like other people's.
    """
    import json

    path = folder / NAME
    with naming(path, "can't be read"):
        try:
            if not _is_file(path):
                return {}
            with open(path, "rb") as file:
                found = json.loads(file.read(min(_MOST_BYTES, os.fstat(file.fileno()).st_size)))
            version, files = found.get("version"), found["files"]
            if isinstance(version, int) and version > VERSION:
                raise BackingError(
                    f"{path}: a later version of backing wrote this list of the folder's files. "
                    "Update backing, or choose another folder."
                )
            return {name: _entry(entry) for name, entry in files.items() if _is_plain(name)}
        except OSError as error:
            if shortage_of(error):
                raise
            return {}
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
            return {}


def write(folder: Path, work: Path, record: Mapping[str, Entry]) -> None:
    """Write a record if it has changed; one without files is removed.

    Args:
        work: a folder on the same disk, in which it is written first.

    Raises:
        BackingError: it can't be written, or something other than a file has its name. A record
            that belongs to another user is left alone.
    """
    import json

    path, made = folder / NAME, work / NAME
    files = {name: record[name]._asdict() for name in sorted(record)}
    data = json.dumps({"version": VERSION, "files": files}, indent=1).encode() + b"\n"
    with writing(path), suppress(PermissionError):
        if os.path.lexists(path) and not _is_file(path):
            if not files:
                return
            raise BackingError(
                f"{path}: this is not an ordinary file, so the list of the folder's files can't "
                "be kept under this name. Move it away."
            )
        if not files:
            path.unlink(missing_ok=True)
        elif not _has(path, data):
            write_synced(made, data)
            os.replace(made, path)


def change(
    folder: Path, work: Path, entries: Mapping[str, Entry], gone: Iterable[str] = ()
) -> None:
    """Add files, and drop those that are `gone`; arguments and errors as in `write`."""
    gone = frozenset(gone)
    with holding(folder):
        kept = {name: entry for name, entry in read(folder).items() if name not in gone}
        write(folder, work, {**kept, **entries})


def remove(path: Path, entry: Entry) -> None:
    """Remove a file of ours if it is unchanged. Raises BackingError if that fails."""
    if not has_our_bytes(path, entry):
        return
    try:
        path.unlink()
    except OSError as error:
        raise BackingError(f"{path}: can't be removed: {reason(error)}.") from None


def remove_folder(folder: Path) -> None:
    """Remove a folder that has nothing in it but its record. Raises BackingError if that fails."""
    with writing(folder):
        (folder / NAME).unlink(missing_ok=True)
        folder.rmdir()


def has_our_bytes(path: Path, entry: Entry) -> bool:
    """Whether a file is there with the bytes that we wrote; False if it can't be read."""
    try:
        return digest_at(path) in entry.digests
    except OSError:
        return False


def digest_at(path: Path) -> str | None:
    """The hash of what is at a path, or `NOT_A_FILE`; None if nothing is there.

    Raises:
        OSError: the disk fails.
    """
    try:
        return digest(path) if stat.S_ISREG(path.lstat().st_mode) else NOT_A_FILE
    except (FileNotFoundError, NotADirectoryError):
        return None
    except PermissionError:
        return NOT_A_FILE


def digest(path: Path) -> str:
    """The SHA-256 of a file's contents, in hexadecimal. Raises OSError."""
    import hashlib

    found = hashlib.sha256()
    with open(path, "rb") as file:
        while block := file.read(_BLOCK):
            found.update(block)
    return found.hexdigest()


def write_synced(path: Path, data: bytes) -> None:
    """Write a file and wait until it is on the disk. Raises OSError."""
    with open(path, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _is_plain(name: str) -> bool:
    """Whether a name can be that of a visible file in the folder; a record could hold anything."""
    return bool(name) and not name.startswith(".") and not {"/", "\\", "\0"} & set(name)


def _is_file(path: Path) -> bool:
    """Whether an ordinary file is there: not a link, and nothing that reading could wait for."""
    try:
        return stat.S_ISREG(path.lstat().st_mode)
    except (FileNotFoundError, NotADirectoryError):
        return False


def _entry(found: Mapping[str, Any]) -> Entry:
    digests, about = found["digests"], found["about"]
    if not isinstance(digests, list) or not isinstance(about, dict):
        raise TypeError
    return Entry(tuple(filter(None, map(str, digests))), about)


def _has(path: Path, data: bytes) -> bool:
    try:
        return path.read_bytes() == data
    except OSError:
        return False
