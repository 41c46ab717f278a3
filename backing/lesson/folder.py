"""One song's folder: what is in it, what must be made, and how finished files get into it.

Only this module names and removes files of a lesson and writes their records.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from hashlib import sha256
from pathlib import Path
from typing import NamedTuple

from backing.errors import BackingError
from backing.form import Form
from backing.lesson import contents, course
from backing.lesson.identity import key_of, library, program, song_text
from backing.lesson.made_files import Entry, read
from backing.lesson.makers import FORMATS
from backing.lesson.pack import pack
from backing.lesson.plan import Item, items
from backing.lesson.tasks import Answer, Task
from backing.practice.exercise_notes import exercise_notes
from backing.practice.versions import canonical
from backing.system import record
from backing.system.place import LeftAlone, NewFile, place, why_left_alone
from backing.system.work import writing

_PAGES = (contents.HTML, contents.TEXT)


class File(NamedTuple):
    """A file that belongs in the folder, its exercise (None: of the whole song), and its key."""

    name: str
    format: str
    item: int | None
    key: str


class Folder:
    """A song's folder and what its form puts into it.

    Args:
        path: the folder, whether it exists or not.
        form: the song; `source` is its file as the user named it, `data` its bytes.
        formats: names of `FORMATS`.
        sound: gives the key of what sound depends on.

    Raises:
        BackingError: the folder is a link, or sound isn't possible.
    """

    def __init__(
        self,
        path: Path,
        form: Form,
        source: str,
        data: bytes,
        formats: tuple[str, ...],
        sound: Callable[[], str],
    ) -> None:
        course.checked(path)
        self.path, self.source, self.data = path, source, data
        #: For the contents; what the exercises need from the song is in `data`.
        self.form = form._replace(sections={}, shapes={}, strums={}, picks={}, riffs={})
        self.items = items(form)
        self.files = tuple(_files(form, self.items, formats, sound))
        self.record = read(path)
        #: Files that were written, and those that are as they should be, by name.
        self.made: set[str] = set()
        self.done: list[str] = []
        #: Other people's files that stand where ours should, by name.
        self.left: dict[str, LeftAlone] = {}
        #: What went wrong, by exercise.
        self.errors: dict[int, BackingError] = {}

    @property
    def error(self) -> BackingError | None:
        """What went wrong with the first exercise that failed; None if none did."""
        return self.errors[min(self.errors)] if self.errors else None

    def lacking(
        self, force: bool, each: Callable[..., Iterable[bool]] = map
    ) -> list[tuple[int | None, tuple[str, ...]]]:
        """The exercises to make, with the formats of each; `each` maps as `map` does."""
        settled = [False] * len(self.files) if force else each(self._is_settled, self.files)
        found: dict[int | None, tuple[str, ...]] = {}
        for file, is_ in zip(self.files, settled, strict=True):
            if not is_:
                found[file.item] = (*found.get(file.item, ()), file.format)
        return list(found.items())

    def _is_settled(self, file: File) -> bool:
        """Whether a file is up to date, or was made by us and has been changed since."""
        entry, path = self.record.get(file.name), self.path / file.name
        try:
            return entry is not None and (
                self._is_current(path, entry, file.key) or self._is_left(path, entry)
            )
        except OSError:  # a disk that fails will fail again when the file gets its name
            return False

    def _is_current(self, path: Path, entry: Entry, key: str) -> bool:
        return entry.key == key and record.digest_at(path) == entry.digests[-1]

    def _is_left(self, path: Path, entry: Entry) -> bool:
        left = why_left_alone(path, entry.in_folder)
        if left is not None:
            self.left[path.name] = left
        return left is not None

    def task(
        self,
        song: int,
        item: int | None,
        formats: tuple[str, ...],
        soundfont: str | None,
        folder: Path,
    ) -> Task:
        """What a worker must make, and in which folder."""
        name, version = ("", None) if item is None else self.items[item][:2]
        number = -1 if item is None else item
        where = str(folder / f"{song}-{number}")
        return Task(song, number, self.source, self.data, name, version, formats, soundfont, where)

    def take(self, task: Task, answer: Answer, work: Path, force: bool) -> None:
        """Give a task's files their names; raises BackingError."""
        item = None if task.version is None else task.item
        of = {file.format: file for file in self.files if file.item == item}
        facts = (answer.ms, answer.bpm, answer.notes)
        whole = {
            of[made.format].name: (
                Path(made.path), Entry(of[made.format].key, (made.digest,), *facts)
            )
            for made in answer.made
        }  # fmt: skip
        self._place(whole, work, force)

    def finish(self, archive: bool, work: Path, force: bool) -> None:
        """Bring the rest up to date: the contents and the archive; remove files of older lists.

        Raises:
            BackingError: something can't be written or removed.
        """
        course.checked(self.path)
        names = [*(file.name for file in self.files), *_PAGES]
        older = {name: entry for name, entry in self.record.items() if name not in names}
        for name, entry in older.items():
            record.remove(self.path / name, entry.in_folder)
            del self.record[name]
        # If a run was cut short, the record may still have two hashes for a file that has its name.
        self.record |= {
            name: entry._replace(digests=entry.digests[-1:])
            for name, entry in self.record.items()
            if name not in self.left
        }
        settled = {name: entry.in_folder for name, entry in self.record.items()}
        if settled or older:
            record.change(self.path, work, settled, older)
            course.enter(self.path, self.source, work)
        for name, page in self._pages().items():
            data = page.encode("utf-8")
            entry = Entry(key_of(page), (sha256(data).hexdigest(),))
            before = self.record.get(name)
            if before is None or not self._is_current(self.path / name, before, entry.key):
                with writing(self.path / name):
                    record.write_synced(work / name, data)
                self._place({name: (work / name, entry)}, work, force)
        self.done = [name for name in names if name not in self.left]
        self._archive(archive, work, force)

    def _place(self, whole: Mapping[str, tuple[Path, Entry]], work: Path, force: bool) -> None:
        """Give files their names in this folder, unless another person's file stands there."""
        made = {
            name: NewFile(path, entry.about, entry.digests[-1])
            for name, (path, entry) in whole.items()
        }
        self._check_and_enter(work)
        left = {one.path.name: one for one in place(self.path, work, made, force)}
        self.left |= left
        for name in made.keys() - left.keys():
            self.record[name] = whole[name][1]
            self.made.add(name)

    def _check_and_enter(self, work: Path) -> None:
        """Before the first file gets its name, so that a run cut short leaves no unknown folder."""
        course.checked(self.path)
        course.enter(self.path, self.source, work)

    def _archive(self, archive: bool, work: Path, force: bool) -> None:
        """Make the archive beside the folder, leave it as it is, or remove ours."""
        path = self.path.with_name(f"{self.path.name}{course.ARCHIVE}")
        before = read(path.parent).get(path.name)
        if not archive:
            if before is not None:
                record.remove(path, before.in_folder)
                record.change(path.parent, work, {}, [path.name])
            return
        inside = sorted((name, self.record[name].digests[-1]) for name in self.done)
        key = key_of(self.path.name, *(word for pair in inside for word in pair))
        if before is not None and self._is_current(path, before, key):
            settled = before._replace(digests=before.digests[-1:]).in_folder
            record.change(path.parent, work, {path.name: settled})
        elif before is not None and not force and self._is_left(path, before):
            return
        else:
            with writing(path):
                pack(work / path.name, self.path, self.done, self.path.name)
            made = {path.name: NewFile(work / path.name, Entry(key, ()).about)}
            if left := place(path.parent, work, made, force):
                self.left[path.name] = left[0]
                return
            self.made.add(path.name)
        self.done.append(path.name)

    def _pages(self) -> Mapping[str, str]:
        rows = []
        for index, item in enumerate(self.items):
            of = [f.name for f in self.files if f.item == index and f.name not in self.left]
            if of:
                entry = self.record[of[0]]
                sentence = " ".join(
                    [contents.advice(item.version, self.form.instrument), *entry.notes]
                )
                rows.append(contents.Row(tuple(of), sentence, entry.ms, entry.bpm, item.note))
        rows += [
            contents.Row((file.name,), contents.ONCE[file.format])
            for file in self.files
            if file.item is None and file.name not in self.left
        ]
        sounds = frozenset(of.ending for of in FORMATS.values() if of.sound and not of.once)
        page, text = contents.html(self.form, rows, sounds), contents.text(self.form, rows)
        return dict(zip(_PAGES, (page, text), strict=True))


def _files(
    form: Form, of: tuple[Item, ...], formats: tuple[str, ...], sound: Callable[[], str]
) -> Iterator[File]:
    """Every file, exercise by exercise, then those of the whole song."""
    song = song_text(form)

    def key(format_: str, *more: str) -> str:
        of = FORMATS[format_]
        playing = (sound(),) if of.sound else ()
        return key_of(program(), format_, song, *playing, *map(library, of.libraries), *more)

    for index, item in enumerate(of):
        for format_ in formats:
            if not FORMATS[format_].once:
                name = f"{item.name}{FORMATS[format_].ending}"
                yield File(name, format_, index, key(format_, canonical(item.version)))
    for format_ in formats:
        if FORMATS[format_].once:
            name = f"{FORMATS[format_].once}{FORMATS[format_].ending}"
            yield File(name, format_, None, key(format_, form.student, *exercise_notes(form)))
