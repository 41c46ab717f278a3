"""How finished files get their names, without replacing what belongs to somebody else.

A file is replaced only if the folder's record shows that we wrote it and that it has not been
changed since. Any other file is left as it is, and the user is told. `force` replaces it anyway,
but never a form.

The record is written before a file gets its name, and until then also keeps the hash of the file
that the new one replaces. So wherever a run is cut short, every file that has a name is recorded.
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
from backing.system.record import NOT_A_FILE, Entry, digest, digest_at, read, write, write_synced
from backing.system.work import work_folder, writing

_FORM_KEYS = tuple(
    re.compile(rb"(?:^|[{,\n\r])[ \t]*[\"']?" + key + rb"[\"']?[ \t]*:")
    for key in (b"sections", b"form")
)
_MOST_FORM_BYTES = 1 << 20


class NewFile(NamedTuple):
    """A finished file that has no name yet; `about` and `digest` are as in `record.Entry`."""

    path: Path
    about: Mapping[str, Any] = {}
    digest: str = ""


class LeftAlone(NamedTuple):
    """A file that was left as it was, and why."""

    path: Path
    why: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.path}: {self.why}, so it was left as it is. {self.remedy}"


def is_link(path: Path) -> bool:
    """Whether a path is a link, or what Windows has for folders in place of one."""
    return path.is_symlink() or getattr(os.path, "isjunction", lambda path: False)(path)


def place(
    folder: Path, work: Path, made: Mapping[str, NewFile], force: bool = False
) -> tuple[LeftAlone, ...]:
    """Give files their names in a folder, and enter them in its record.

    Args:
        folder: made if it is missing.
        work: a folder on the same disk, in which a new record is written first.
        made: the files, by the names that they get.
        force: whether files that are not ours, or have been changed, are replaced too.

    Returns:
        What was left as it was. The new files for those names stay where they are.

    Raises:
        BackingError: something can't be written.
    """
    with writing(folder):
        folder.mkdir(parents=True, exist_ok=True)
    with holding(folder):
        record = read(folder)
        during, after = dict(record), dict(record)
        left: list[LeftAlone] = []
        free: list[str] = []
        for name, one in made.items():
            with writing(folder / name):
                new, old = one.digest or digest(one.path), digest_at(folder / name)
                kept = (
                    None if old == new else why_left_alone(folder / name, record.get(name), force)
                )
            if kept is not None:
                left.append(kept)
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


def write_file(path: Path, data: bytes, force: bool = False) -> None:
    """Write one file whole or not at all; `force` is as in `place`.

    Raises:
        BackingError: another file was left as it is, or this one can't be written.
    """
    with work_folder(path.parent) as work:
        whole = work / "whole"
        with writing(path):
            write_synced(whole, data)
        for left in place(path.parent, work, {path.name: NewFile(whole)}, force):
            raise BackingError(str(left))


def why_left_alone(path: Path, entry: Entry | None, force: bool = False) -> LeftAlone | None:
    """Why what is at a path may not be replaced; None if it may, or if nothing is there.

    Raises:
        OSError: what is there can't be read.
    """
    old = digest_at(path)
    if old is None or (entry is not None and old in entry.digests):
        return None
    if not (path.is_file() or path.is_symlink()):
        what = "this is a folder" if path.is_dir() else "this is not an ordinary file"
        return LeftAlone(path, what, "Choose another name.")
    if old != NOT_A_FILE and _looks_like_a_form(path):
        return LeftAlone(
            path, "this is a form, and forms are never replaced", "Choose another name."
        )
    if force:
        return None
    what = "this file was not made here by backing"
    if entry is not None:
        what = "this file has been changed since backing made it"
    return LeftAlone(path, what, "Move it away, or use --force to replace it.")


def _looks_like_a_form(path: Path) -> bool:
    """Whether a text has the keys that every form has; a web page or our schema is none."""
    with open(path, "rb") as file:
        data = file.read(_MOST_FORM_BYTES + 1).replace(b"\0", b"").removeprefix(BOM_UTF8)
    if len(data) > _MOST_FORM_BYTES or data.lstrip().startswith(b"<") or b'"$schema"' in data:
        return False
    return all(key.search(data) for key in _FORM_KEYS)
