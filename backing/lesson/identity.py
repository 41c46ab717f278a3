"""Keys that show whether a file is up to date: the same key means the same bytes.

A key is a hash of everything that a file depends on: the song as its form was read (comments and
the order of keys change nothing), the version, the format, the program and, for sound, the
soundfont's contents, the engine and the libraries that encode.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import Any

from backing.form.model import Form
from backing.form.practice_records import Practice
from backing.system.version import VERSION

#: Packages whose version may change the sound or its file.
LIBRARIES = ("midirenderer", "mutagen", "numpy", "pyfluidsynth", "soundfile")


def key_of(*pieces: str) -> str:
    """One key for several texts; it depends on where each of them ends."""
    found = hashlib.sha256()
    for piece in pieces:
        data = piece.encode("utf-8", "surrogatepass")
        found.update(b"%d:" % len(data) + data)
    return found.hexdigest()


def song_text(form: Form) -> str:
    """Everything in a form that its exercises depend on, as text, the same in every process.

    Neither the practice list nor the student's name changes what is played.
    """
    return plain(form._replace(practice=Practice(), student=""))


def plain(value: Any) -> str:
    """Records, numbers and texts as text.

    Raises:
        TypeError: a value that no form has.
    """
    if value is None or isinstance(value, (str, int, Fraction)):
        return f"{type(value).__name__} {value!r}"
    if isinstance(value, tuple):
        names = getattr(value, "_fields", range(len(value)))
        pairs = (f"{name}={plain(item)}" for name, item in zip(names, value, strict=True))
        return f"{type(value).__name__}({','.join(pairs)})"
    if isinstance(value, Mapping):
        pairs = (f"{plain(key)}:{plain(item)}" for key, item in value.items())
        return f"{{{','.join(pairs)}}}"
    if isinstance(value, frozenset):
        return f"{{{','.join(sorted(map(plain, value)))}}}"
    if is_dataclass(value):
        pairs = (
            f"{field.name}={plain(getattr(value, field.name))}"
            for field in fields(value)
            if field.compare
        )
        return f"{type(value).__name__}({','.join(pairs)})"
    raise TypeError(f"a form has no values of type {type(value).__name__}")


@lru_cache(maxsize=1)
def program() -> str:
    """This program: its version, and a hash of its files, which may differ within one version."""
    folder = Path(__file__).resolve().parents[1]
    found = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.is_file() and path.suffix not in (".pyc", ".pyo"):
            found.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes())
    return f"{VERSION} {found.hexdigest()}"


def sound(soundfont: str | None) -> str:
    """What plays and encodes: the engine, the libraries, and the soundfonts by their contents.

    Raises:
        BackingError: there is no engine, or no soundfont that can be used.
    """
    from backing.audio.calibration import measured_files
    from backing.audio.engines import choose
    from backing.audio.soundfonts import choose as choose_soundfont

    engine, *hashes = measured_files(choose_soundfont(soundfont), choose())
    return " ".join([engine, *map(library, LIBRARIES), *hashes])


def library(name: str) -> str:
    """A package with its version."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return f"{name}={version(name)}"
    except PackageNotFoundError:
        return f"{name}=none"
