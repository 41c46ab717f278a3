"""A process that makes files for the lesson, one task after another, until its parent is gone.

It reads pickled `Task`s from its standard input and answers each with a pickled `Answer` on
what was its standard output; what a library prints goes to the error stream. When its input
ends, the command has ended, however it did, and this process ends at once, amid whatever it
does; what it leaves is in the folder that the next run clears.
"""

from __future__ import annotations

import os
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from backing.errors import BackingError
from backing.practice.versions import Version
from backing.system.child import serve

if TYPE_CHECKING:
    from backing.form import Form


class Task(NamedTuple):
    """What to make: formats of a version, or (`version` is None) a song's one file of each.

    `path` is the form's, for messages, `data` its bytes, so that all of a run is made of the
    same. Files are made in `folder`, which is made too, with `cores` at work at once.
    """

    song: int
    item: int
    path: str
    data: bytes
    name: str
    version: Version | None
    formats: tuple[str, ...]
    soundfont: str | None
    folder: str
    cores: int = 1


class Made(NamedTuple):
    """A file that is whole, in its task's folder."""

    format: str
    path: str
    digest: str


class Answer(NamedTuple):
    """The files of a task, and of a version what `record.Entry` has of it; or an error in words."""

    made: tuple[Made, ...] = ()
    ms: int = 0
    bpm: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    error: str = ""


def main() -> None:
    """Answer the tasks on the standard input."""
    serve(lambda task, say: answer(task))


def answer(task: Task) -> Answer:
    """Do a task; what a user can mend comes back in words."""
    folder = Path(task.folder)
    try:
        folder.mkdir()
        return _made(task, folder)
    except BackingError as error:
        return Answer(error=str(error).replace(f"{folder}{os.sep}", ""))
    except OSError as error:
        return Answer(error=f"{task.name}: can't be made ({error.strerror or error}).")


def _made(task: Task, folder: Path) -> Answer:
    from backing.lesson.makers import make_once, make_version
    from backing.system.record import digest
    from backing.text.percent import decimal

    form = _form(task.data, task.path)
    ms, bpm, notes = 0, tuple[str, ...](), tuple[str, ...]()
    if task.version is None:
        paths = [make_once(form, format_, task.soundfont, folder) for format_ in task.formats]
    else:
        paths, take = make_version(
            form, task.version, task.name, task.formats, task.soundfont, folder, task.cores
        )
        assert form.settings.tempo is not None
        beat = form.settings.tempo.beat_whole
        assert beat is not None
        ms, notes = round(take.seconds * 1000), take.notes
        bpm = tuple(decimal(quarters / (4 * beat)) for quarters in take.quarter_bpms)
    made = zip(task.formats, paths, strict=True)
    files = tuple(Made(name, str(path), digest(path)) for name, path in made)
    return Answer(files, ms, bpm, notes)


@lru_cache(maxsize=4)
def _form(data: bytes, path: str) -> Form:
    from backing.form.reader import read_form_bytes

    return read_form_bytes(data, path)
