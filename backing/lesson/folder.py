"""One song's folder: what is in it, what is to be made, and how what was made is taken in.

Only this module gives files of a lesson their names, takes names away and writes records.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from backing.form import Form
from backing.lesson import contents, record
from backing.lesson.identity import digest, key_of, library, program, song_text
from backing.lesson.makers import FORMATS
from backing.lesson.pack import pack
from backing.lesson.plan import Item, items
from backing.lesson.record import Entry
from backing.lesson.worker import Answer, Task
from backing.practice.versions import canonical

_PAGES = (contents.HTML, contents.TEXT)


class File(NamedTuple):
    """A file that the folder is to hold: of which exercise (None: a file a song), and its key."""

    name: str
    format: str
    item: int | None
    key: str


class Folder:
    """A song's folder and what its form wants in it.

    Args:
        path: the folder, there or not.
        form: the song; `source` is its file as the user named it, `data` its bytes.
        formats: names of `FORMATS`.
        sound: what sound depends on, a key of its own.
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
        self.path, self.source, self.data = path, source, data
        #: For the contents; what the exercises need of the song is in `data`.
        self.form = form._replace(sections={}, shapes={}, strums={}, picks={}, riffs={})
        self.items = items(form)
        self.files = tuple(_files(form, self.items, formats, sound))
        self.record = record.read(path)
        self.made: set[str] = set()
        #: What went wrong, by exercise.
        self.errors: dict[int, str] = {}

    @property
    def error(self) -> str:
        """What went wrong with the first exercise that failed; empty where none did."""
        return self.errors[min(self.errors)] if self.errors else ""

    def lacking(
        self, force: bool, each: Callable[..., Iterable[bool]] = map
    ) -> list[tuple[int | None, tuple[str, ...]]]:
        """The exercises to make, with the formats of each; `each` maps as `map` does."""

        def is_there(file: File) -> bool:
            entry = self.record.get(file.name)
            there = entry is not None and entry.key == file.key
            return there and record.holds(self.path / file.name, entry.digest)  # type: ignore[union-attr]

        there = [False] * len(self.files) if force else each(is_there, self.files)
        found: dict[int | None, tuple[str, ...]] = {}
        for file, is_ in zip(self.files, there, strict=True):
            if not is_:
                found[file.item] = (*found.get(file.item, ()), file.format)
        return list(found.items())

    def task(
        self,
        song: int,
        item: int | None,
        formats: tuple[str, ...],
        soundfont: str | None,
        folder: Path,
    ) -> Task:
        """What a worker is to make in a folder."""
        name, version = ("", None) if item is None else self.items[item]
        number = -1 if item is None else item
        where = str(folder / f"{song}-{number}")
        return Task(song, number, self.source, self.data, name, version, formats, soundfont, where)

    def take(self, task: Task, answer: Answer, work: Path) -> None:
        """Give a task's files their names, once they are recorded; raises BackingError."""
        item = None if task.version is None else task.item
        of = {file.format: file for file in self.files if file.item == item}
        for made in answer.made:
            file = of[made.format]
            self.record[file.name] = Entry(
                file.key, made.digest, answer.ms, answer.bpm, answer.sayings
            )
        record.write(self.path, self.record, work)
        for made in answer.made:
            name = of[made.format].name
            record.name(Path(made.path), self.path / name)
            self.made.add(name)

    def finish(self, archive: bool, work: Path) -> None:
        """Bring the rest to what it must be: the contents, the archive, nothing of older sets.

        Raises:
            BackingError: something can't be written or removed.
        """
        wanted = {file.name: self.record[file.name] for file in self.files}
        pages = self._pages()
        written = {
            name: Entry(key_of(page), key_of_bytes(page.encode("utf-8")))
            for name, page in pages.items()
        }
        zipped = f"{self.path.name}.zip"
        for name in sorted(set(self.record) - set(wanted) - set(written) - {zipped}):
            record.remove(self.path / name, self.record[name].digest)
        kept = {zipped: self.record[zipped]} if zipped in self.record else {}
        record.write(self.path, {**wanted, **written, **kept}, work)
        for name, page in pages.items():
            if record.put(self.path / name, page.encode("utf-8"), work):
                self.made.add(name)
        self.record = {**wanted, **written}
        beside = self.path.with_name(zipped)
        if archive:
            self._pack(beside, kept.get(zipped), work)
        elif kept:
            record.remove(beside, kept[zipped].digest)
        record.write(self.path, self.record, work)

    def _pack(self, beside: Path, before: Entry | None, work: Path) -> None:
        said = sorted((name, entry.digest) for name, entry in self.record.items())
        key = key_of(self.path.name, *(word for pair in said for word in pair))
        if before is None or before.key != key or not record.holds(beside, before.digest):
            made = work / beside.name
            with record.writing(beside):
                pack(made, self.path, self.record, self.path.name)
            before = Entry(key, digest(made))
            record.write(self.path, {**self.record, beside.name: before}, work)
            record.name(made, beside)
            self.made.add(beside.name)
        self.record = {**self.record, beside.name: before}

    def _pages(self) -> Mapping[str, str]:
        rows = []
        for index, item in enumerate(self.items):
            of = [file for file in self.files if file.item == index]
            if of:
                entry = self.record[of[0].name]
                names = tuple(file.name for file in of)
                says = " ".join([contents.advice(item.version), *entry.sayings])
                rows.append(contents.Row(names, says, entry.ms, entry.bpm))
        rows += [
            contents.Row((file.name,), contents.ONCE[file.format])
            for file in self.files
            if file.item is None
        ]
        sounds = frozenset(of.ending for of in FORMATS.values() if of.sound and not of.once)
        page, text = contents.html(self.form, rows, sounds), contents.text(self.form, rows)
        return dict(zip(_PAGES, (page, text), strict=True))


def key_of_bytes(data: bytes) -> str:
    """The digest of a file that holds this."""
    import hashlib

    return hashlib.sha256(data).hexdigest()


def _files(
    form: Form, of: tuple[Item, ...], formats: tuple[str, ...], sound: Callable[[], str]
) -> Iterator[File]:
    """Every file, exercise by exercise, then those that a song has one of."""
    song = song_text(form)

    def key(format_: str, *more: str) -> str:
        of = FORMATS[format_]
        heard = (sound(),) if of.sound else ()
        return key_of(program(), format_, song, *heard, *map(library, of.libraries), *more)

    for index, item in enumerate(of):
        for format_ in formats:
            if not FORMATS[format_].once:
                name = f"{item.name}{FORMATS[format_].ending}"
                yield File(name, format_, index, key(format_, canonical(item.version)))
    for format_ in formats:
        if FORMATS[format_].once:
            name = f"{FORMATS[format_].once}{FORMATS[format_].ending}"
            yield File(name, format_, None, key(format_))
