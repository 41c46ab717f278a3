"""Lessons of many songs: planned one after another, made side by side, finished song by song.

What is being made stands in one hidden folder, on the same disk as what it becomes; a run
clears those of runs that were ended. A folder is one run's at a time.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import lru_cache, partial
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple

from backing.errors import BackingError
from backing.form import Form
from backing.form.reader import read_form_bytes
from backing.form.source import MAX_BYTES
from backing.lesson.folder import Folder
from backing.lesson.identity import sound
from backing.lesson.makers import FORMATS
from backing.lesson.tasks import Task
from backing.system.cores import usable_cores
from backing.system.files import FORM_ENDINGS, distinct_names
from backing.system.install import install_command
from backing.system.lock import holding
from backing.system.place import Left
from backing.system.work import made_folder, work_folder
from backing.system.workers import Broken, Crew

#: The format of sound where a form names none, and the one that needs nothing installed.
USUAL, SILENT = "mp3", "midi"
#: What encoding and proving sound imports.
NEEDED = ("numpy", "soundfile", "mutagen")


class Order(NamedTuple):
    """How lessons are made: `audio` (formats of sound) displaces those of the forms.

    `force` makes every file again, and replaces files that aren't ours or have been changed.
    `jobs` counts processes; 0 takes one for each core.
    """

    audio: tuple[str, ...] = ()
    soundfont: str | None = None
    archive: bool = False
    force: bool = False
    jobs: int = 0


class Outcome(NamedTuple):
    """What became of one form: its folder with the files in it, or an error in words.

    `made` are files that were written, `unchanged` those that were up to date, `left` those of
    somebody else that stand where ours should. `seconds` are those of all exercises together.
    """

    form: str
    title: str = ""
    folder: Path | None = None
    made: tuple[str, ...] = ()
    unchanged: tuple[str, ...] = ()
    seconds: float = 0.0
    error: str = ""
    left: tuple[Left, ...] = ()


class _Read(NamedTuple):
    source: str
    data: bytes
    form: Form


def lesson(
    forms: Sequence[str | Path],
    out: str | Path,
    order: Order = Order(),  # noqa: B008 - a record
    planned: Callable[[int], None] = lambda files: None,
    step: Callable[[], None] = lambda: None,
    remark: Callable[[str], None] = lambda says: None,
) -> list[Outcome]:
    """Bring a folder a song to what its form wants, and leave what is there already untouched.

    Args:
        forms: files, or folders of which every .yaml and .yml is taken.
        out: where the songs' folders go.
        order: how.
        planned: hears how many exercises are to be made.
        step: hears of each that is.
        remark: hears a sentence for the user.

    Raises:
        BackingError: the folder can't be written, or another run is at work in it. What is
            wrong with one song alone is in its outcome.
    """
    out = Path(out)
    order = _checked(order)
    with _at_work(out) as work:
        said = [_read(path) for path in _expanded(forms)]
        good = [one for one in said if isinstance(one, _Read)]
        names = iter(distinct_names([(one.form.title, one.source) for one in good]))
        usual = lru_cache(partial(_usual_formats, order.soundfont, remark))
        heard = lru_cache(partial(sound, order.soundfont))
        folders: list[Folder | Outcome] = [
            one
            if isinstance(one, Outcome)
            else _folder(one, out / next(names), order, usual, heard)
            for one in said
        ]
        del said, good
        _make([one for one in folders if isinstance(one, Folder)], order, work, planned, step)
        return [one if isinstance(one, Outcome) else _outcome(one) for one in folders]


def _make(
    folders: Sequence[Folder],
    order: Order,
    work: Path,
    planned: Callable[[int], None],
    step: Callable[[], None],
) -> None:
    tasks: list[Task] = []
    left = [0] * len(folders)
    jobs = order.jobs or usable_cores()
    with ThreadPoolExecutor(jobs) as hashing:  # reading files is most of a run that changes none
        for song, folder in enumerate(folders):
            for item, formats in folder.lacking(order.force, hashing.map):
                tasks.append(folder.task(song, item, formats, order.soundfont, work))
                left[song] += 1
    planned(len(tasks))
    spare = max(1, jobs // max(1, len(tasks)))
    tasks = [task._replace(cores=spare) for task in tasks]
    for song, folder in enumerate(folders):
        if not left[song]:
            _finish(folder, order, work)
    with Crew[Task]("backing.lesson.tasks", jobs) as crew:
        for task, answer in crew.answers(tasks):
            folder = folders[task.song]
            left[task.song] -= 1
            if isinstance(answer, Broken):
                folder.errors[task.item] = f"{task.name}: {answer.says}"
            elif answer.error:
                folder.errors[task.item] = answer.error
            else:
                with _blamed(folder, task.item):
                    folder.take(task, answer, work, order.force)
            shutil.rmtree(task.folder, ignore_errors=True)
            if not left[task.song]:
                _finish(folder, order, work)
            step()


def _finish(folder: Folder, order: Order, work: Path) -> None:
    if not folder.error:
        with _blamed(folder, len(folder.items)):
            folder.finish(order.archive, work, order.force)


@contextmanager
def _blamed(folder: Folder, item: int) -> Iterator[None]:
    try:
        yield
    except BackingError as error:
        folder.errors[item] = str(error)
    except OSError as error:
        folder.errors[item] = f"{folder.path}: {error.strerror or error}."


def _checked(order: Order) -> Order:
    for name in order.audio:
        if name not in _sounds():
            raise BackingError(f"{name}: no such format. It is one of {', '.join(_sounds())}.")
    if order.jobs < 0:
        raise BackingError(f"{order.jobs} processes can't be. Write 1 or more.")
    if order.audio or order.soundfont is not None:
        from backing.audio.sound_files import AudioOptions, check

        check(AudioOptions(order.audio[0] if order.audio else USUAL, soundfont=order.soundfont))
    return order


def _sounds() -> list[str]:
    return [name for name, of in FORMATS.items() if of.sound and not of.once]


# Reading


def _expanded(paths: Iterable[str | Path]) -> Iterator[str | Outcome]:
    """Every form once; a folder stands for those in it."""
    seen: set[str] = set()
    for path in paths:
        found: Iterable[str] = [str(path)]
        if os.path.isdir(path):
            try:
                found = sorted(
                    str(one) for one in Path(path).iterdir() if one.suffix in FORM_ENDINGS
                )
            except OSError as error:
                yield Outcome(str(path), error=f"{path}: can't be read ({error.strerror}).")
                continue
            if not found:
                says = f"{path}: there is no form in this folder. Forms end in {FORM_ENDINGS[0]}."
                yield Outcome(str(path), error=says)
        for one in found:
            real = os.path.realpath(one)
            if real not in seen:
                seen.add(real)
                yield one


def _read(source: str | Outcome) -> _Read | Outcome:
    if isinstance(source, Outcome):
        return source
    try:
        with open(source, "rb") as file:
            data = file.read(MAX_BYTES + 1)
        return _Read(source, data, read_form_bytes(data, source))
    except OSError as error:
        says = f"{source}: can't be read ({error.strerror or error}). Give a form's file."
        return Outcome(source, error=says)
    except BackingError as error:
        return Outcome(source, error=str(error))


def _folder(
    one: _Read,
    path: Path,
    order: Order,
    usual: Callable[[], tuple[str, ...]],
    heard: Callable[[], str],
) -> Folder | Outcome:
    formats = one.form.practice.formats
    if order.audio:
        formats = (*order.audio, *(name for name in formats if name not in _sounds()))
    try:
        return Folder(path, one.form, one.source, one.data, formats or usual(), heard)
    except BackingError as error:
        return Outcome(one.source, one.form.title, error=_of_form(one.source, str(error)))


def _usual_formats(soundfont: str | None, remark: Callable[[str], None]) -> tuple[str, ...]:
    """MP3, the chart and the page where this machine can make them; else MIDI, which is said."""
    from backing.audio.sound_files import AudioOptions, check

    chart = () if find_spec("typst") is None else ("chart",)
    try:
        if lacking := [name for name in NEEDED if find_spec(name) is None]:
            how = install_command("audio")
            raise BackingError(f"{lacking[0]} is missing. To install it: {how}")
        check(AudioOptions(USUAL, soundfont=soundfont))
    except BackingError as error:
        remark(f"MIDI files are made, since sound can't be: {error}")
        return (SILENT, *chart)
    return (USUAL, *chart, "page")


def _outcome(folder: Folder) -> Outcome:
    title, source = folder.form.title, folder.source
    left = tuple(folder.left.values())
    if folder.error:
        error = _of_form(source, folder.error)
        return Outcome(source, title, folder.path, error=error, left=left)
    of = [file for file in folder.files if file.name not in folder.left]
    ms = sum({file.item: folder.record[file.name].ms for file in of}.values())
    made = tuple(name for name in folder.done if name in folder.made)
    unchanged = tuple(name for name in folder.done if name not in folder.made)
    return Outcome(source, title, folder.path, made, unchanged, ms / 1000, left=left)


def _of_form(source: str, says: str) -> str:
    """An error with its form named first."""
    return says if says.startswith(f"{source}:") else f"{source}: {says}"


# The folder that is worked in


@contextmanager
def _at_work(out: Path) -> Iterator[Path]:
    """Hold the output folder for this run, with a hidden folder in it for unfinished files."""
    with made_folder(out), holding(out, patience_s=0), work_folder(out) as work:
        yield work
