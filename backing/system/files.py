"""Files written whole or not at all, under names that are safe on every system."""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from backing.errors import BackingError
from backing.system.work import writing

FORM_ENDINGS = (".yaml", ".yml")
MAX_NAME_BYTES = 180
MAX_STEM_BYTES = 60  # of a form's own name, where it is added to a title

_UNSAFE = re.compile(r'[<>:"/\\|?*\x00-\x1f\x7f]')
_RESERVED = re.compile(r"(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])", re.IGNORECASE)


def file_name(title: str) -> str:
    """A title as a file's name without its ending: letters of any script are kept.

    Path separators, characters that some system forbids, and invisible ones go; so do
    leading and trailing dots and spaces, and the device names that Windows reserves
    (Microsoft, "Naming Files, Paths, and Namespaces"). At most 180 bytes of UTF-8.
    """
    text = unicodedata.normalize("NFC", title)
    text = _UNSAFE.sub(" ", text)
    text = "".join(char for char in text if char == " " or _is_visible(char))
    text = " ".join(text.split())
    text = _cut(text, MAX_NAME_BYTES)
    if _RESERVED.fullmatch(text.split(".")[0].strip()):
        text = f"{text} song" if "." not in text else " ".join(text.replace(".", " ", 1).split())
        text = text if not _RESERVED.fullmatch(text.split(".")[0].strip()) else f"song {text}"
    return text or "song"


def distinct_names(wanted: Iterable[tuple[str, str]]) -> list[str]:
    """Names for (title, form's file) pairs, in order; clashing titles get the file's name too.

    Names that differ only in case clash too, as they do on many disks. None is longer than
    `file_name` makes them.
    """
    pairs = [(file_name(title), file_name(Path(path).stem)) for title, path in wanted]
    folded = [name.casefold() for name, _ in pairs]
    names: list[str] = []
    taken: set[str] = set()
    for (name, stem), key in zip(pairs, folded, strict=True):
        chosen = name
        if folded.count(key) > 1:
            chosen = (
                f"{_cut(name, MAX_NAME_BYTES - MAX_STEM_BYTES - 8)} ({_cut(stem, MAX_STEM_BYTES)})"
            )
        base, count = chosen, 2
        while chosen.casefold() in taken:
            chosen, count = f"{base} {count}", count + 1
        taken.add(chosen.casefold())
        names.append(chosen)
    return names


def joined_name(name: str, words: str) -> str:
    """A file's name with words after it, no longer than `file_name` makes one; "" adds nothing.

    Where both are long, each gives way.
    """
    if not words:
        return name
    words = _cut(file_name(words), MAX_NAME_BYTES * 2 // 3)
    room = MAX_NAME_BYTES - len(words.encode("utf-8")) - len(" - ")
    return f"{_cut(name, room)} - {words}"


def write_whole(path: Path, data: bytes, over: bool = True) -> None:
    """Write a file under a temporary name beside it, then rename; parents are made.

    Args:
        path: where to.
        data: the whole of it.
        over: whether a file that is there already may be written over.

    Raises:
        BackingError: the folder or the file can't be written, or the file is there already;
            nothing is left behind.
    """
    with whole(path, over) as part, open(part, "xb") as file:
        file.write(data)


@contextmanager
def whole(path: Path, over: bool = True) -> Iterator[Path]:
    """A temporary name beside `path` to write to; it becomes `path` where the block ends well.

    Parents are made. Whatever the block raises, nothing is left behind.

    Raises:
        BackingError: the folder or the file can't be written, or the file is there already.
    """
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    with writing(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            yield part
            with open(part, "r+b") as file:
                os.fsync(file.fileno())
            _take_name(part, path, over)
        except BaseException:
            with suppress(OSError):
                part.unlink()
            raise


def _take_name(part: Path, path: Path, over: bool) -> None:
    """Give a written file its name at one stroke; raises BackingError where it is taken."""
    linked = False
    if not over:
        with suppress(OSError):  # a disk without hard links, or a name that is taken
            os.link(part, path)
            linked = True
        if not linked and os.path.lexists(path):
            what = "is there already and is not written over. Choose another name, or move it away."
            raise BackingError(f"{path}: {what}")
    if linked:
        part.unlink()
    else:
        os.replace(part, path)


def _cut(text: str, most_bytes: int) -> str:
    """A name of at most so many bytes of UTF-8, cut between letters."""
    return text.encode("utf-8")[:most_bytes].decode("utf-8", "ignore").strip(". ")


def _is_visible(char: str) -> bool:
    return unicodedata.category(char)[0] != "C"
