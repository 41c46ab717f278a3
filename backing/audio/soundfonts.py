"""Soundfonts: where they are searched for, which one is used, and whether a file is one.

A soundfont is a RIFF file of the form `sfbk` with three lists: INFO, sdta and pdta (E-mu,
"SoundFont Technical Specification" 2.01). What is read here is the frame, the texts of
INFO and the table of presets. A file whose sizes do not add up is not given to an engine, because
some engines crash on one.
"""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Iterator
from importlib.util import find_spec
from itertools import chain
from pathlib import Path
from typing import BinaryIO, NamedTuple

from backing.errors import BackingError, ShortageError, naming, read_error
from backing.system.shortages import shortage_of
from backing.text.printable import printable

VARIABLE = "BACKING_SOUNDFONT"
FOLDER = "soundfonts"
#: A percussion kit's bank, as files number them; melodic programs are in bank 0.
PERCUSSION_BANK = 128
#: Licenses of well-known soundfonts by file name, from the texts that come with them.
LICENSES = {
    "fluidr3_gm": "MIT",
    "fluidr3_gs": "MIT",
    "timgm6mb": "GPL-2",
    "mscore": "MIT",
    "generaluser-gs": "GeneralUser GS license (free for any use)",
}

_ENDINGS = (".sf2",)
_PRESET_BYTES = 38
_MOST_TEXT = 400


class Soundfont(NamedTuple):
    """A soundfont: its file, where it was found (in words), its name, and its license if known."""

    path: Path
    where: str
    name: str
    license: str | None = None


class SoundfontFile(NamedTuple):
    """The texts in a soundfont's file, and its presets as pairs (bank, program)."""

    name: str
    copyright: str
    presets: frozenset[tuple[int, int]]


def find(option: str | Path | None = None) -> list[Soundfont]:
    """Every soundfont found, the one to use first; other files are skipped.

    The order: `option`, the variable BACKING_SOUNDFONT, the folder `soundfonts` in the
    current folder, the system's usual folders, the soundfont that comes with pretty_midi.
    """
    found: list[Soundfont] = []
    seen: set[Path] = set()
    for path, where in _places(option):
        real = path.resolve()
        if real in seen:
            continue
        seen.add(real)
        try:
            found.append(_soundfont(path, where))
        except ShortageError:
            raise
        except BackingError:
            if where in (_BY_OPTION, _BY_VARIABLE):
                raise
    return found


def choose(option: str | Path | None = None) -> Soundfont:
    """The first soundfont of `find`; one that is named must not be damaged.

    Raises:
        BackingError: the one that is named is damaged or missing, or there is none at all.
    """
    for path, where in _places(option):
        try:
            return _soundfont(path, where)
        except ShortageError:
            raise
        except BackingError:
            if where in (_BY_OPTION, _BY_VARIABLE):
                raise
    raise BackingError("No soundfont was found. Put a .sf2 file into the folder soundfonts.")


def bundled() -> Soundfont:
    """The General MIDI soundfont that comes with pretty_midi.

    Raises:
        BackingError: it is missing or damaged.
    """
    for path in _in_pretty_midi():
        return _soundfont(path, _BUNDLED)
    raise BackingError("pretty_midi comes without a soundfont here. Name one with --soundfont.")


def validate(path: Path) -> SoundfontFile:
    """A soundfont's texts and presets, once its structure and sizes have been checked.

    Raises:
        BackingError: the file can't be read, is not a soundfont, or is damaged.
    """
    try:
        if stat.S_ISFIFO(path.stat().st_mode):  # opening it could wait forever
            raise BackingError(f"{path}: this is a pipe. Give a soundfont (.sf2).")
        with naming(path, "can't be read"), open(path, "rb") as file:
            return _read(file, os.fstat(file.fileno()).st_size)
    except OSError as error:
        raise read_error(path, error) from None
    except _Damaged as damage:
        raise BackingError(f"{path}: {damage}. Choose another soundfont.") from None


_BY_OPTION = "--soundfont"
_BY_VARIABLE = VARIABLE
_BUNDLED = "comes with pretty_midi"


class _Damaged(Exception):
    """What is wrong with a file, as the end of a sentence that starts with its name."""


def _soundfont(path: Path, where: str) -> Soundfont:
    file = validate(path)
    stem = path.resolve().stem.casefold().replace(" ", "-")
    known = next((terms for name, terms in LICENSES.items() if stem.startswith(name)), None)
    return Soundfont(
        path, where, file.name or printable(path.stem), known or file.copyright or None
    )


def _places(option: str | Path | None) -> Iterator[tuple[Path, str]]:
    if option is not None:
        yield Path(option).expanduser(), _BY_OPTION
    if named := os.environ.get(VARIABLE):
        yield Path(named).expanduser(), _BY_VARIABLE
    for folder, where in chain([(Path(FOLDER), f"folder {FOLDER}")], _system_folders()):
        for path in _banks_in(folder):
            yield path, where
    for path in _in_pretty_midi():
        yield path, _BUNDLED


def _banks_in(folder: Path) -> list[Path]:
    """A folder's soundfonts: one named `default...` first, then by name."""
    try:
        paths = [path for path in folder.iterdir() if path.suffix.casefold() in _ENDINGS]
    except OSError as error:
        found = shortage_of(error)
        if found is not None and not found.of_disk:
            raise read_error(folder, error) from None
        return []
    return sorted(paths, key=lambda path: (not path.stem.startswith("default"), path.name))


def _system_folders() -> Iterator[tuple[Path, str]]:
    home = Path.home()
    if sys.platform == "win32":
        folders = [Path(os.environ.get("PROGRAMDATA", "C:/ProgramData")) / "soundfonts"]
        folders += [Path("C:/soundfonts"), home / "soundfonts"]
    elif sys.platform == "darwin":
        folders = [home / "Library/Audio/Sounds/Banks", Path("/Library/Audio/Sounds/Banks")]
        folders += [Path("/opt/homebrew/share/soundfonts"), Path("/usr/local/share/soundfonts")]
    else:
        folders = [home / ".local/share/soundfonts", home / ".local/share/sounds/sf2"]
        folders += [
            Path(root) / name
            for root in ("/usr/local/share", "/usr/share")
            for name in ("soundfonts", "sounds/sf2")
        ]
    return ((folder, str(folder)) for folder in folders)


def _in_pretty_midi() -> list[Path]:
    spec = find_spec("pretty_midi")
    if spec is None or spec.origin is None:
        return []
    return _banks_in(Path(spec.origin).parent)


# The structure of the file.


def _read(file: BinaryIO, size: int) -> SoundfontFile:
    head = file.read(12)
    if head[:4] != b"RIFF" or head[8:] != b"sfbk":
        raise _Damaged("is not a soundfont (.sf2)")
    if _version(file) == _COMPRESSED:
        raise _Damaged("is a compressed soundfont (.sf3), and only .sf2 files are read")
    if _number(head[4:8]) + 8 > size:
        raise _Damaged(f"is cut short: {size} bytes of {_number(head[4:8]) + 8}")
    lists = dict(_chunks(file, 12, _number(head[4:8]) + 8, lists=True))
    missing = [name for name in ("INFO", "sdta", "pdta") if name not in lists]
    if missing:
        raise _Damaged(f"is a damaged soundfont: it has no {missing[0]}")
    texts = dict(_chunks(file, *lists["INFO"]))
    tables = dict(_chunks(file, *lists["pdta"]))
    samples = dict(_chunks(file, *lists["sdta"]))
    if "smpl" not in samples:
        raise _Damaged("is a damaged soundfont: it has no samples")
    for name, record in _RECORDS.items():
        start, end = tables.get(name, (0, 0))
        if end - start < record or (end - start) % record:
            raise _Damaged(f"is a damaged soundfont: its table {name} is not whole")
    _check_samples(file, tables["shdr"], (samples["smpl"][1] - samples["smpl"][0]) // 2)
    return SoundfontFile(
        _text(file, texts.get("INAM")), _text(file, texts.get("ICOP")), _presets(file, tables)
    )


#: The major version of compressed soundfonts, which the specification doesn't have: found in
#: files of Debian that end in .sf3.
_COMPRESSED = 3


def _version(file: BinaryIO) -> int | None:
    """The major version of the specification (2.01, 5.1: the first chunk of the list INFO)."""
    file.seek(12)
    start = file.read(24)
    return _number(start[20:22]) if start[:4] + start[8:16] == b"LISTINFOifil" else None


#: The tables of presets, instruments and samples, with the bytes of a record.
_RECORDS = {
    "phdr": 38,
    "pbag": 4,
    "pmod": 10,
    "pgen": 4,
    "inst": 22,
    "ibag": 4,
    "imod": 10,
    "igen": 4,
    "shdr": 46,
}


def _chunks(
    file: BinaryIO, start: int, end: int, lists: bool = False
) -> Iterator[tuple[str, tuple[int, int]]]:
    """Chunks by name, with the place of their content; LIST chunks by the list's name."""
    at = start
    while at + 8 <= end:
        file.seek(at)
        head = file.read(12)
        length = _number(head[4:8])
        if at + 8 + length > end:
            raise _Damaged("is a damaged soundfont: its sizes do not add up")
        name, skipped = (head[8:12], 12) if lists and head[:4] == b"LIST" else (head[:4], 8)
        yield name.decode("latin-1"), (at + skipped, at + 8 + length)
        at += 8 + length + length % 2


def _check_samples(file: BinaryIO, table: tuple[int, int], length: int) -> None:
    """Every sample must lie inside the sample data; ROM samples have none in the file."""
    start, end = table
    file.seek(start)
    records = file.read(end - start)
    for at in range(0, len(records) - 46, 46):  # the last record only ends the table
        first, last = _number(records[at + 20 : at + 24]), _number(records[at + 24 : at + 28])
        rom = _number(records[at + 44 : at + 46]) & 0x8000
        if not rom and not first <= last <= length:
            raise _Damaged("is a damaged soundfont: a sample lies outside its data")


def _presets(file: BinaryIO, tables: dict[str, tuple[int, int]]) -> frozenset[tuple[int, int]]:
    start, end = tables["phdr"]
    file.seek(start)
    records = file.read(end - start)
    return frozenset(
        (_number(records[at + 22 : at + 24]), _number(records[at + 20 : at + 22]))
        for at in range(0, len(records) - _PRESET_BYTES, _PRESET_BYTES)
    )


def _text(file: BinaryIO, place: tuple[int, int] | None) -> str:
    if place is None:
        return ""
    start, end = place
    file.seek(start)
    raw = file.read(min(end - start, _MOST_TEXT)).split(b"\0")[0]
    text = raw.decode("utf-8", "replace").replace("\n", " ")
    return " ".join("".join(char for char in text if char.isprintable()).split())


def _number(raw: bytes) -> int:
    return int.from_bytes(raw, "little")
