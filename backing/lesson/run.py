"""Lessons of many songs: planned one after another, made in several processes, finished by song.

Unfinished files are in one hidden folder, on the same disk as the finished ones; a run removes
what earlier runs left when they were killed. Only one run at a time works in a folder.
"""

from __future__ import annotations

import os
import shutil
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import lru_cache, partial
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple

from backing.errors import (
    BackingError,
    FormError,
    ShortageError,
    naming,
    read_error,
    write_error,
)
from backing.form import Form
from backing.form.form_files import FormFile, read_file, split
from backing.lesson.course import Tidied, about_old, folder_names, out_of_date, tidy
from backing.lesson.folder import Folder
from backing.lesson.identity import sound
from backing.lesson.makers import FORMATS
from backing.lesson.tasks import Task
from backing.system.cores import usable_cores
from backing.system.files import FORM_ENDINGS
from backing.system.install import install_command
from backing.system.lock import holding
from backing.system.place import LeftAlone
from backing.system.work import made_folder, work_folder
from backing.system.workers import ProcessError, Workers

#: The format of sound if a form names none, and the one that needs nothing installed.
USUAL, SILENT = "mp3", "midi"
#: What encoding and proving sound imports.
NEEDED = ("numpy", "soundfile", "mutagen")


class Order(NamedTuple):
    """How lessons are made: `audio` (formats of sound) replaces the sound formats of the forms.

    `force` makes every file again, and replaces files that aren't ours or have been changed.
    `jobs` counts processes; 0 uses one for each core.
    """

    audio: tuple[str, ...] = ()
    soundfont: str | None = None
    archive: bool = False
    force: bool = False
    jobs: int = 0


class Outcome(NamedTuple):
    """What a form came to: its folder with the files in it, or an error.

    `made` are files that were written, `unchanged` those that were up to date, and `left` other
    people's files that stand where ours should. `seconds` is the length of all exercises.
    """

    form: str
    title: str = ""
    folder: Path | None = None
    made: tuple[str, ...] = ()
    unchanged: tuple[str, ...] = ()
    seconds: float = 0.0
    error: BackingError | None = None
    left: tuple[LeftAlone, ...] = ()


def lesson(
    forms: Sequence[str | Path],
    out: str | Path,
    order: Order = Order(),  # noqa: B008 - a record
    planned: Callable[[int], None] = lambda files: None,
    step: Callable[[], None] = lambda: None,
    notify: Callable[[str], None] = lambda sentence: None,
) -> list[Outcome]:
    """Bring each song's folder up to what its form lists, without touching what is up to date.

    Args:
        forms: files, or folders of which every .yaml and .yml is used.
        out: where the songs' folders go.
        order: how.
        planned: called with the number of exercises that will be made.
        step: called after each of them.
        notify: called with a sentence for the user.

    Raises:
        BackingError: the folder can't be written, or another run is at work in it. What is
            wrong with one song alone is in its outcome.
    """
    out = Path(out)
    with naming(out):
        return _lesson(forms, out, _checked(order), planned, step, notify)


def _lesson(
    forms: Sequence[str | Path],
    out: Path,
    order: Order,
    planned: Callable[[int], None],
    step: Callable[[], None],
    notify: Callable[[str], None],
) -> list[Outcome]:
    with _at_work(out) as work:
        files = [read_file(one) if isinstance(one, str) else one for one in _expanded(forms)]
        good, _ = split(files)
        names = iter(folder_names(out, [(form.title, path) for path, form in good]))
        usual = lru_cache(partial(_usual_formats, order.soundfont, notify))
        sound_key = lru_cache(partial(sound, order.soundfont))
        folders: list[Folder | Outcome] = [
            Outcome(file.path, error=file.error)
            if file.form is None
            else _folder(file, file.form, out / next(names), order, usual, sound_key)
            for file in files
        ]
        del files, good
        _make([one for one in folders if isinstance(one, Folder)], order, work, planned, step)
        return [one if isinstance(one, Outcome) else _outcome(one) for one in folders]


def tidied(
    out: str | Path, outcomes: Sequence[Outcome], remove: bool, notify: Callable[[str], None]
) -> Tidied:
    """After a run: remove the songs' folders that are out of date (see `course`), or name them.

    Args:
        out: where the songs' folders are.
        outcomes: what the run came to.
        remove: whether to remove them; if not, they are only named.
        notify: called with a sentence for the user.

    Raises:
        BackingError: something can't be removed, or another run is at work there.
    """
    out = Path(out)
    folders = {one.form: one.folder for one in outcomes if one.folder is not None}
    unread = {one.form: out for one in outcomes if one.folder is None}
    finished = [one.form for one in outcomes if one.folder is not None and one.error is None]
    old = out_of_date(out, {**unread, **folders}, finished)
    if old and remove:
        return tidy(out, old)
    if old:
        for line in about_old(old):
            notify(line)
    return Tidied()


def _make(
    folders: Sequence[Folder],
    order: Order,
    work: Path,
    planned: Callable[[int], None],
    step: Callable[[], None],
) -> None:
    """Make what is missing or out of date; each song is finished after its last task."""
    jobs = order.jobs or usable_cores()
    tasks = _tasks(folders, order, work, jobs)
    open_tasks = Counter(task.song for task in tasks)
    planned(len(tasks))
    for song, folder in enumerate(folders):
        if not open_tasks[song]:
            _finish(folder, order, work)
    with Workers[Task]("backing.lesson.tasks", jobs) as workers:
        for task, answer in workers.answers(tasks):
            folder = folders[task.song]
            open_tasks[task.song] -= 1
            if isinstance(answer, ProcessError):
                folder.errors[task.item] = answer.named(_first_file(task))
            elif isinstance(answer, ShortageError) and not answer.name:
                folder.errors[task.item] = ShortageError(answer.shortage, _first_file(task))
            elif isinstance(answer, BackingError):
                folder.errors[task.item] = answer
            else:
                with _errors_kept(folder, task.item):
                    folder.take(task, answer, work, order.force)
            shutil.rmtree(task.folder, ignore_errors=True)
            if not open_tasks[task.song]:
                _finish(folder, order, work)
            step()


def _first_file(task: Task) -> str:
    """The name of the first file that a task makes."""
    of = FORMATS[task.formats[0]]
    return f"{of.once if task.version is None else task.name}{of.ending}"


def _tasks(folders: Sequence[Folder], order: Order, work: Path, jobs: int) -> list[Task]:
    """A task for each exercise that has something to make, song by song."""
    with ThreadPoolExecutor(jobs) as hashing:  # reading files is most of a run that changes none
        tasks = [
            folder.task(song, item, formats, order.soundfont, work)
            for song, folder in enumerate(folders)
            for item, formats in folder.lacking(order.force, hashing.map)
        ]
    cores_each = max(1, jobs // max(1, len(tasks)))
    return [task._replace(cores=cores_each) for task in tasks]


def _finish(folder: Folder, order: Order, work: Path) -> None:
    if folder.error is None:
        with _errors_kept(folder, len(folder.items)):
            folder.finish(order.archive, work, order.force)


@contextmanager
def _errors_kept(folder: Folder, item: int) -> Iterator[None]:
    try:
        with naming(folder.path):
            yield
    except BackingError as error:
        folder.errors[item] = error
    except OSError as error:
        folder.errors[item] = write_error(folder.path, error)


def _checked(order: Order) -> Order:
    for name in order.audio:
        if name not in _sounds():
            raise BackingError(f"{name}: no such format. Write one of {', '.join(_sounds())}.")
    if order.jobs < 0:
        raise BackingError(f"{order.jobs} processes are too few. Write 1 or more.")
    if order.audio or order.soundfont is not None:
        from backing.audio.sound_files import AudioOptions, check

        check(AudioOptions(order.audio[0] if order.audio else USUAL, soundfont=order.soundfont))
    return order


def _sounds() -> list[str]:
    return [name for name, of in FORMATS.items() if of.sound and not of.once]


# Reading


def _expanded(paths: Iterable[str | Path]) -> Iterator[str | FormFile]:
    """The path of every form, each once; a folder stands for the forms in it."""
    seen: set[str] = set()
    for path in paths:
        found: Iterable[str] = [str(path)]
        if os.path.isdir(path):
            try:
                found = _forms_in(Path(path))
            except BackingError as error:
                yield FormFile(str(path), error=error)
                continue
        for one in found:
            real = os.path.realpath(one)
            if real not in seen:
                seen.add(real)
                yield one


def _forms_in(folder: Path) -> list[str]:
    """The forms in a folder, by name; raises BackingError if there are none."""
    try:
        found = sorted(str(one) for one in folder.iterdir() if one.suffix in FORM_ENDINGS)
    except OSError as error:
        raise read_error(folder, error) from None
    if not found:
        raise BackingError(
            f"{folder}: there is no form in this folder. Forms end in {FORM_ENDINGS[0]}."
        )
    return found


def _folder(
    file: FormFile,
    form: Form,
    path: Path,
    order: Order,
    usual: Callable[[], tuple[str, ...]],
    sound_key: Callable[[], str],
) -> Folder | Outcome:
    formats = form.practice.formats
    if order.audio:
        formats = (*order.audio, *(name for name in formats if name not in _sounds()))
    try:
        with naming(path):
            return Folder(path, form, file.path, file.data, formats or usual(), sound_key)
    except BackingError as error:
        return Outcome(file.path, form.title, error=_naming_form(file.path, error))


def _usual_formats(soundfont: str | None, notify: Callable[[str], None]) -> tuple[str, ...]:
    """MP3, the chart and the page if this machine can make them; if not, MIDI, with a notice."""
    from backing.audio.sound_files import AudioOptions, check

    chart = () if find_spec("typst") is None else ("chart",)
    try:
        if lacking := [name for name in NEEDED if find_spec(name) is None]:
            how = install_command("audio")
            raise BackingError(f"{lacking[0]} is missing. To install it: {how}")
        check(AudioOptions(USUAL, soundfont=soundfont))
    except ShortageError:
        raise
    except BackingError as error:
        notify(f"Making MIDI files, because sound isn't possible: {error}")
        return (SILENT, *chart)
    return (USUAL, *chart, "page")


def _outcome(folder: Folder) -> Outcome:
    title, source = folder.form.title, folder.source
    left = tuple(folder.left.values())
    if folder.error is not None:
        error = _naming_form(source, folder.error)
        return Outcome(source, title, folder.path, error=error, left=left)
    of = [file for file in folder.files if file.name not in folder.left]
    ms = sum({file.item: folder.record[file.name].ms for file in of}.values())
    made = tuple(name for name in folder.done if name in folder.made)
    unchanged = tuple(name for name in folder.done if name not in folder.made)
    return Outcome(source, title, folder.path, made, unchanged, ms / 1000, left=left)


def _naming_form(source: str, error: BackingError) -> BackingError:
    """The same error with its form named first."""
    if isinstance(error, FormError) or str(error).startswith(f"{source}:"):
        return error
    if isinstance(error, ShortageError):
        return ShortageError(error.shortage, f"{source}: {error.name}", error.what)
    return type(error)(f"{source}: {error}")


# The output folder


@contextmanager
def _at_work(out: Path) -> Iterator[Path]:
    """Hold the output folder for this run, with a hidden folder in it for unfinished files."""
    with made_folder(out), holding(out, patience_s=0), work_folder(out) as work:
        yield work
