"""The songs' folders in one output folder: what they are called, and those that are out of date.

The output folder's record has an entry for each song's folder, with the path of the form that it
was last made from. A folder is out of date in two cases:

- its form is among those of this run and now makes another folder, because its title changed;
- its form is gone, while the folder that the form was in is still there.

A run for some of the songs therefore never counts the other songs' folders as out of date: their
forms still exist. Neither does it count what it knows too little of: forms on a disk that isn't
there, a form that can't be read now, a folder that the user copied, renamed or replaced by a link.
`tidy` removes from folders that are out of date only what a lesson made and nobody changed.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

from backing.errors import BackingError
from backing.lesson import made_files
from backing.system import record
from backing.system.files import distinct_names, file_name, name_with_form, same_on_some_disks
from backing.system.lock import holding
from backing.system.place import LeftAlone, is_link
from backing.system.work import work_folder, writing
from backing.text.lists import ITEM, names

ARCHIVE = ".zip"
_FORM = "form"


class Tidied(NamedTuple):
    """Folders that were removed, and an error for each thing that was left."""

    removed: tuple[Path, ...] = ()
    errors: tuple[BackingError, ...] = ()


def folder_names(out: Path, songs: Sequence[tuple[str, str]]) -> list[str]:
    """A name for each song's folder, given as (title, form's path), in their order.

    No name is that of another song's folder or archive. A song keeps a folder that has the form's
    name in it, although no other song with its title is in this run.

    Raises:
        BackingError: a later version of this program wrote the record of `out`.
    """
    names = distinct_names([(_title(title), path) for title, path in songs])
    taken = set(map(same_on_some_disks, names))
    made_from = _forms(record.read(out))
    for at, (name, (_, path)) in enumerate(zip(names, songs, strict=True)):
        kept, form = name_with_form(name, path), form_key(out, path)
        is_kept = form and made_from.get(kept) == form != made_from.get(name)
        if is_kept and same_on_some_disks(kept) not in taken and (out / kept).is_dir():
            taken.add(same_on_some_disks(kept))
            names[at] = kept
    return names


def _title(title: str) -> str:
    """A title whose folder can't have the name of an archive."""
    name = file_name(title)
    return f"{name[: -len(ARCHIVE)]} zip" if name.lower().endswith(ARCHIVE) else name


def form_key(out: Path, form: str) -> str:
    """A form's path as the record has it: relative to the output folder if possible.

    Empty for what isn't a file, such as a pipe, which isn't there next time.
    """
    if not os.path.isfile(form):
        return ""
    path = Path(os.path.realpath(Path(form).parent), Path(form).name)
    with suppress(ValueError):  # another drive
        path = Path(os.path.relpath(path, os.path.realpath(out)))
    return path.as_posix()


def enter(folder: Path, form: str, work: Path) -> None:
    """Enter a song's folder in the record of the folder that holds it; raises BackingError."""
    out = folder.parent
    entry = record.Entry((), {_FORM: form_key(out, form)})
    record.change(out, work, {folder.name: entry})


def _forms(entries: Mapping[str, record.Entry]) -> dict[str, str]:
    """The songs' folders in a record, each with its form."""
    forms = {name: entry.about.get(_FORM) for name, entry in entries.items()}
    return {name: form for name, form in forms.items() if isinstance(form, str)}


def out_of_date(out: Path, folders: Mapping[str, Path], finished: Iterable[str]) -> list[Path]:
    """The songs' folders that no form of this run or of another makes any more, by name.

    Args:
        folders: the folder that each form of this run makes.
        finished: those of these forms whose folder is complete.

    Raises:
        BackingError: a later version of this program wrote the record of `out`.
    """
    in_use = set(_identities(folders.values()))
    given = {form_key(out, form) for form in folders}
    complete = {form_key(out, form) for form in finished}
    found = []
    for name, form in sorted(_forms(record.read(out)).items()):
        path = out / name
        if not form or is_link(path) or not path.is_dir() or in_use & set(_identities([path])):
            continue
        if form in complete or (form not in given and _is_gone(out, form)):
            found.append(path)
    return found


def _identities(paths: Iterable[Path]) -> Iterator[tuple[int, int]]:
    """Which folders these are: a disk that ignores case has one under several names."""
    for path in paths:
        with suppress(OSError):
            found = path.stat()
            yield found.st_dev, found.st_ino


def _is_gone(out: Path, form: str) -> bool:
    path = Path(os.path.realpath(out)) / form
    try:
        path.lstat()
    except FileNotFoundError:
        return path.parent.is_dir()
    except OSError:
        return False
    return False


def about_old(old: Sequence[Path]) -> list[str]:
    """What to print about folders that are out of date, line by line."""
    if len(old) == 1:
        return [
            f"{old[0]}: this song was renamed or its form is gone, so the folder is out of date. "
            "To remove it, add --tidy."
        ]
    says = "these songs were renamed or their forms are gone, so the folders are out of date."
    listed = names(map(str, old))
    if not listed.startswith(ITEM):
        return [f"{listed}: {says} To remove them, add --tidy."]
    return [f"{says[0].upper()}{says[1:]} To remove them, add --tidy:", *listed.split("\n")[1:]]


def tidy(out: Path, old: Sequence[Path]) -> Tidied:
    """Remove from folders that are out of date, and their archives, what a lesson made there.

    What was changed since, and what a lesson didn't make, stays, and so does its folder: from then
    on it is the user's, and no run names it again.

    Raises:
        BackingError: the output folder can't be written, or another run is at work in it.
    """
    removed: list[Path] = []
    errors: list[BackingError] = []
    with work_folder(out) as work, holding(out):
        for folder in old:
            try:
                left = [*_emptied(folder, work), *_without_archive(folder, work)]
                record.change(out, work, {}, [folder.name])
            except BackingError as error:
                errors.append(error)
                continue
            errors += [BackingError(str(one)) for one in left]
            if not folder.exists():
                removed.append(folder)
    return Tidied(tuple(removed), tuple(errors))


def _emptied(folder: Path, work: Path) -> list[LeftAlone]:
    """Remove a folder with what a lesson made in it; what was left if that isn't everything."""
    with holding(folder):
        made = made_files.read(folder)
        for name, entry in made.items():
            record.remove(folder / name, entry.in_folder)
        with writing(folder):
            there = sorted(path.name for path in folder.iterdir() if path.name != record.NAME)
        if made:
            record.change(folder, work, {}, made.keys() - set(there))
        recorded = record.read(folder)
    if there:
        return [_left(folder / name, name in made, name in recorded) for name in there]
    record.remove_folder(folder)
    return []


def _without_archive(folder: Path, work: Path) -> list[LeftAlone]:
    path = folder.with_name(f"{folder.name}{ARCHIVE}")
    entry = record.read(path.parent).get(path.name)
    if entry is None:
        return []
    record.remove(path, entry)
    record.change(path.parent, work, {}, [path.name])
    return [_left(path, True, True)] if os.path.lexists(path) else []


def _left(path: Path, by_lesson: bool, recorded: bool) -> LeftAlone:
    why = "this was not made here by backing"
    if by_lesson:
        why = "this has been changed since backing made it"
    elif recorded:
        why = "this was made by another command than lesson"
    return LeftAlone(path, why, "Move it away, or remove it yourself.")


def checked(folder: Path) -> None:
    """Refuse a song's folder that is a link, which could lead out of the output folder.

    Raises:
        BackingError: it is one.
    """
    if is_link(folder):
        raise BackingError(
            f"{folder}: this is a link where the song's folder belongs, so nothing was written "
            "through it. Move it away, or choose another folder with --out."
        )
