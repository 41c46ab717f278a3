"""How files get their names: only where nothing stands that belongs to somebody else.

A file may be replaced where the folder's record shows that we wrote it and that nobody has
changed it since. Any other file is left as it is and named. `force` replaces it all the same,
but never a form.

The record is written before a file gets its name, and keeps the hash of the file that the new
one replaces until then. So whenever a run is cut short, what stands under a name is recorded.
"""

from __future__ import annotations

import os
import re
from codecs import BOM_UTF8
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from backing.errors import BackingError
from backing.system.lock import holding
from backing.system.record import NOT_A_FILE, Entry, digest, held, read, write, write_synced
from backing.system.work import work_folder, writing

_FORM_KEYS = tuple(
    re.compile(rb"(?:^|[{,\n\r])[ \t]*[\"']?" + key + rb"[\"']?[ \t]*:")
    for key in (b"sections", b"form")
)
_MOST_FORM_BYTES = 1 << 20


class Made(NamedTuple):
    """A whole file on its way to its name; `about` and `digest` are as in `record.Entry`."""

    path: Path
    about: Mapping[str, Any] = {}
    digest: str = ""


class Left(NamedTuple):
    """A file that was left as it was, and why."""

    path: Path
    why: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.path}: {self.why}, so it was left as it is. {self.remedy}"


def place(
    folder: Path, work: Path, made: Mapping[str, Made], force: bool = False
) -> tuple[Left, ...]:
    """Give files their names in a folder, and enter them in its record.

    Args:
        folder: made where it is missing.
        work: a folder on the same disk, where a new record may become whole.
        made: the files, by the names that they are to have.
        force: whether files that are not ours, or have been changed, are replaced too.

    Returns:
        What was left as it was. The new files of those names then stay where they are.

    Raises:
        BackingError: something can't be written.
    """
    with writing(folder):
        folder.mkdir(parents=True, exist_ok=True)
    with holding(folder):
        record = read(folder)
        during, after = dict(record), dict(record)
        left: list[Left] = []
        free: list[str] = []
        for name, one in made.items():
            with writing(folder / name):
                new, old = one.digest or digest(one.path), held(folder / name)
                stands = None if old == new else refused(folder / name, record.get(name), force)
            if stands is not None:
                left.append(stands)
                continue
            free.append(name)
            after[name] = Entry((new,), one.about)
            during[name] = Entry((old, new) if old and old != new else (new,), one.about)
        write(folder, work, during)
        for name in free:
            with writing(folder / name):
                os.replace(made[name].path, folder / name)
        write(folder, work, after)
    return tuple(left)


def put(path: Path, data: bytes, force: bool = False) -> None:
    """Write one file, whole or not at all; `force` is as in `place`.

    Raises:
        BackingError: another file was left as it is, or this one can't be written.
    """
    with work_folder(path.parent) as work:
        whole = work / "whole"
        with writing(path):
            write_synced(whole, data)
        for left in place(path.parent, work, {path.name: Made(whole)}, force):
            raise BackingError(str(left))


def refused(path: Path, entry: Entry | None, force: bool = False) -> Left | None:
    """Why what is at a path may not be replaced; None where it may, or nothing is there.

    Raises:
        OSError: it can't be read.
    """
    old = held(path)
    if old is None or (entry is not None and old in entry.digests):
        return None
    if not (path.is_file() or path.is_symlink()):
        what = "this is a folder" if path.is_dir() else "this is not a plain file"
        return Left(path, what, "Choose another name.")
    if old != NOT_A_FILE and _looks_like_a_form(path):
        return Left(path, "this is a form, and forms are never replaced", "Choose another name.")
    if force:
        return None
    what = "this file is not one that backing made here"
    if entry is not None:
        what = "this file has been changed since backing made it"
    return Left(path, what, "Move it away, or use --force to replace it.")


def _looks_like_a_form(path: Path) -> bool:
    """Whether a text has the keys that every form has; a web page or our schema is none."""
    with open(path, "rb") as file:
        data = file.read(_MOST_FORM_BYTES + 1).replace(b"\0", b"").removeprefix(BOM_UTF8)
    if len(data) > _MOST_FORM_BYTES or data.lstrip().startswith(b"<") or b'"$schema"' in data:
        return False
    return all(key.search(data) for key in _FORM_KEYS)
