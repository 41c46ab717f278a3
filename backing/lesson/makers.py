"""How the file of each format is made: from a version of the song, or from the song as a whole.

One row for each format; the form language has the same names. Files of a version are made as
`backing build` makes them: checked against the form before they are passed on.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType
from typing import NamedTuple

from backing.form import Form
from backing.practice.versions import Version
from backing.system.files import write_in_work_folder
from backing.verify import Expected


class Format(NamedTuple):
    """A format's ending, and whether its bytes depend on the sound engine. A format that has one
    file for the whole song also has that file's name (`once`) and its maker. `libraries` are the
    packages that its bytes depend on.
    """

    ending: str
    sound: bool = False
    once: str = ""
    make: Callable[[Form, str | None, Path], bytes] | None = None
    libraries: tuple[str, ...] = ()


class Played(NamedTuple):
    """A version's length, its tempo at its first speed and at its last where that differs, and
    what is worth saying of it, a sentence each.
    """

    seconds: Fraction
    quarter_bpms: tuple[Fraction, ...]
    notes: tuple[str, ...] = ()


def _chart(form: Form, soundfont: str | None, folder: Path) -> bytes:
    from backing.chart import draw

    return draw(form)


def _page(form: Form, soundfont: str | None, folder: Path) -> bytes:
    from backing.page import make_page

    return make_page(form, soundfont, folder=folder).html.encode("utf-8")


FORMATS = MappingProxyType(
    {
        "midi": Format(".mid"),
        "mp3": Format(".mp3", sound=True),
        "wav": Format(".wav", sound=True),
        "flac": Format(".flac", sound=True),
        "ogg": Format(".ogg", sound=True),
        "chart": Format(".pdf", once="chart", make=_chart, libraries=("typst",)),
        "page": Format(".html", sound=True, once="practice page", make=_page),
    }
)


def make_version(
    form: Form,
    version: Version,
    name: str,
    formats: tuple[str, ...],
    soundfont: str | None,
    folder: Path,
    cores: int | None = None,
) -> tuple[list[Path], Played]:
    """Make a version's files in a folder, each proven; in the order of `formats`.

    Raises:
        BackingError: one can't be made or written.
        DisagreementError: one doesn't match the form, which is a bug in this program.
    """
    from backing.tracks.one import Piece, make

    sounding = [format_ for format_ in formats if FORMATS[format_].sound]
    audio = None
    if sounding:
        from backing.audio.sound_files import AudioOptions

        audio = AudioOptions(sounding[0], soundfont=soundfont, more=tuple(sounding[1:]))
    built = make(Piece(form, folder / name, version, audio=audio), cores=cores)
    paths = [folder / f"{name}{FORMATS[format_].ending}" for format_ in formats]
    return paths, played(built.expected, version)._replace(notes=built.notes)


def make_once(form: Form, format_: str, soundfont: str | None, folder: Path) -> Path:
    """Make a song's one file of a format in a folder; raises BackingError."""
    of = FORMATS[format_]
    assert of.make is not None
    path = folder / f"{of.once}{of.ending}"
    write_in_work_folder(path, of.make(form, soundfont, folder))
    return path


def played(expected: Expected, version: Version) -> Played:
    """How long a version is, and the tempo that it starts with."""
    written = expected.tempos[0].quarter_bpm / version.speeds[0]
    speeds = dict.fromkeys((version.speeds[0], version.speeds[-1]))
    return Played(expected.end_s, tuple(written * speed for speed in speeds))
