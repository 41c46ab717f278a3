"""A child process that makes files for the lesson, one task after another (see `system.child`).

When its input closes, the command has ended, and this process ends at once. What it leaves is in
the hidden folder that the next run removes.
"""

from __future__ import annotations

import os
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from backing.errors import BackingError, raise_shortage, reason
from backing.practice.versions import Version
from backing.system.child import serve

if TYPE_CHECKING:
    from backing.form import Form


class Task(NamedTuple):
    """What to make: formats of a version or, if `version` is None, of the song as a whole.

    `path` is the form's file, for messages, and `data` its bytes, so that everything in a run is
    made from the same ones. The files are made in `folder`, which is made too, on `cores` cores.
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
    """A finished file, in its task's folder."""

    format: str
    path: str
    digest: str


class Answer(NamedTuple):
    """A task's files and, of a version, what `made_files.Entry` keeps about it."""

    made: tuple[Made, ...] = ()
    ms: int = 0
    bpm: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def main() -> None:
    """Answer the tasks on the standard input."""
    serve(lambda task, report: answer(task))


def answer(task: Task) -> Answer:
    """Do a task.

    Raises:
        BackingError: it can't be done; the task's hidden folder is not in the text. Of a shortage,
            the parent knows better which file it is.
    """
    folder = Path(task.folder)
    try:
        folder.mkdir()
        return _make(task, folder)
    except BackingError as error:
        raise error.with_text(f"{folder}{os.sep}", "") from None
    except OSError as error:
        raise_shortage(error)
        raise BackingError(f"{task.name}: can't be made: {reason(error)}.") from None


def _make(task: Task, folder: Path) -> Answer:
    from backing.lesson.makers import make_once, make_version
    from backing.system.record import digest
    from backing.text.percent import decimal

    form = _form(task.data, task.path)
    ms, bpm, notes = 0, tuple[str, ...](), tuple[str, ...]()
    if task.version is None:
        paths = [make_once(form, format_, task.soundfont, folder) for format_ in task.formats]
    else:
        paths, played = make_version(
            form, task.version, task.name, task.formats, task.soundfont, folder, task.cores
        )
        assert form.settings.tempo is not None
        beat = form.settings.tempo.beat_whole
        assert beat is not None
        ms, notes = round(played.seconds * 1000), played.notes
        bpm = tuple(decimal(quarters / (4 * beat)) for quarters in played.quarter_bpms)
    made = zip(task.formats, paths, strict=True)
    files = tuple(Made(name, str(path), digest(path)) for name, path in made)
    return Answer(files, ms, bpm, notes)


@lru_cache(maxsize=4)
def _form(data: bytes, path: str) -> Form:
    from backing.form.reader import read_form_bytes

    return read_form_bytes(data, path)
