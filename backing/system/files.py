"""Files written whole or not at all, and names that are safe on every system."""

from __future__ import annotations

import os
import re
import sys
import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from backing.errors import BackingError
from backing.system.record import write_synced
from backing.system.work import work_folder, writing

FORM_ENDINGS = (".yaml", ".yml")
MAX_NAME_BYTES = 180
MAX_STEM_BYTES = 60  # of a form's file name, where it is added to a title

_UNSAFE = re.compile(r'[<>:"/\\|?*\x00-\x1f\x7f]')
#: Letters that look like a blank.
_BLANK = "\u115f\u1160\u3164\uffa0\u2800"
_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])", re.IGNORECASE)


def file_name(title: str) -> str:
    """A file name for a title, without an ending; letters of any script are kept.

    Path separators, characters that some systems forbid or this one can't write, invisible ones,
    and leading and trailing dots and spaces are removed; device names that Windows reserves
    (Microsoft, "Naming Files, Paths, and Namespaces") are changed. At most 180 bytes of UTF-8.
    """
    text = unicodedata.normalize("NFC", title)
    text = _UNSAFE.sub(" ", text)
    encoding = sys.getfilesystemencoding()
    text = text.encode(encoding, "ignore").decode(encoding)
    text = "".join(char for char in text if char == " " or _is_visible(char))
    text = unicodedata.normalize(
        "NFC", " ".join(text.split())
    )  # what was removed kept letters apart
    text = _cut(text, MAX_NAME_BYTES)
    if _RESERVED.fullmatch(text.split(".")[0].strip()):
        text = f"{text} song" if "." not in text else " ".join(text.replace(".", " ", 1).split())
        text = text if not _RESERVED.fullmatch(text.split(".")[0].strip()) else f"song {text}"
    return text or "song"


def distinct_names(songs: Iterable[tuple[str, str]]) -> list[str]:
    """File names for songs, given as (title, form's path), in their order.

    Songs with the same title get the form's file name too. Names that are the same on some disks
    (see `same_on_some_disks`) count as the same. No name is longer than `file_name` makes it.
    """
    pairs = [(file_name(title), path) for title, path in songs]
    keys = [same_on_some_disks(name) for name, _ in pairs]
    names: list[str] = []
    taken: set[str] = set()
    for (name, path), key in zip(pairs, keys, strict=True):
        base = chosen = name_with_form(name, path) if keys.count(key) > 1 else name
        count = 2
        while same_on_some_disks(chosen) in taken:
            chosen, count = f"{base} {count}", count + 1
        taken.add(same_on_some_disks(chosen))
        names.append(chosen)
    return names


def name_with_form(name: str, path: str) -> str:
    """A song's file name with the name of its form's file, for songs with the same title."""
    stem = _cut(file_name(Path(path).stem), MAX_STEM_BYTES)
    return f"{_cut(name, MAX_NAME_BYTES - MAX_STEM_BYTES - 8)} ({stem})"


def same_on_some_disks(name: str) -> str:
    """The same text for names that a disk may take for one file.

    Many disks ignore case, and some the form in which an accented letter is stored. This is the
    canonical caseless match of the Unicode Standard (section 3.13, D145).
    """
    folded = unicodedata.normalize("NFD", name).casefold()
    return unicodedata.normalize("NFD", folded)


def joined_name(name: str, words: str) -> str:
    """A file name with words after it, no longer than `file_name` makes one; "" adds nothing.

    If both are long, both are shortened.
    """
    if not words:
        return name
    words = _cut(file_name(words), MAX_NAME_BYTES * 2 // 3)
    room = MAX_NAME_BYTES - len(words.encode("utf-8")) - len(" - ")
    return f"{_cut(name, room)} - {words}"


@contextmanager
def removed_on_failure(path: str | Path | None) -> Iterator[None]:
    """Remove a new file again if the block fails, so that it doesn't stand in the way next time."""
    try:
        yield
    except BaseException:
        if path is not None:
            Path(path).unlink(missing_ok=True)
        raise


def write_whole(path: Path, data: bytes, over: bool = True) -> None:
    """Write a file whole or not at all; parents are made.

    Args:
        path: where to.
        data: the whole content.
        over: whether a file that is already there may be replaced.

    Raises:
        BackingError: the folder or the file can't be written, or there is already a file; then
            nothing is left behind.
    """
    with whole(path, over) as part, open(part, "xb") as file:
        file.write(data)


def write_in_work_folder(path: Path, data: bytes) -> None:
    """Write a file directly under its name, which only a hidden work folder allows.

    Parents are made; a file of that name is replaced. Raises BackingError.
    """
    with writing(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_synced(path, data)


@contextmanager
def whole(path: Path, over: bool = True) -> Iterator[Path]:
    """A path in a hidden folder beside `path`; what is written there gets the name `path`.

    Parents are made. If the block raises, nothing is left behind.

    Raises:
        BackingError: the folder or the file can't be written, or there is already a file.
    """
    with work_folder(path.parent) as work, writing(path):
        part = work / "whole"
        yield part
        with open(part, "r+b") as file:
            os.fsync(file.fileno())
        _give_name(part, path, over)


def _give_name(part: Path, path: Path, over: bool) -> None:
    """Give a written file its name in one step; raises BackingError if the name is taken."""
    if not over:
        with suppress(OSError):  # a disk without hard links, or a name that is taken
            os.link(part, path)
            return
        if os.path.lexists(path):
            raise BackingError(
                f"{path}: there is already a file with this name, and it is not replaced. "
                "Choose another name, or move the file away."
            )
    os.replace(part, path)


def _cut(text: str, most_bytes: int) -> str:
    """A name of at most `most_bytes` bytes of UTF-8, cut between letters."""
    return text.encode("utf-8")[:most_bytes].decode("utf-8", "ignore").strip(". ")


def _is_visible(char: str) -> bool:
    return unicodedata.category(char)[0] != "C" and char not in _BLANK
