"""From forms' files to proven files: the main job in one call."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from backing.errors import BackingError
from backing.form.files import read_file, split
from backing.practice.versions import PLAIN, Version, describe
from backing.system.files import distinct_names, joined_name
from backing.tracks.one import Built, Piece
from backing.tracks.parallel import make_all

if TYPE_CHECKING:
    from backing.audio.sound_files import AudioOptions


def build(
    paths: Sequence[str | Path],
    out: str | Path = ".",
    count_in: bool = True,
    seed: int = 0,
    audio: AudioOptions | None = None,
    progress: Callable[[float], None] = lambda share: None,
    versions: Sequence[Version] = (PLAIN,),
    force: bool = False,
) -> tuple[list[Built], list[BackingError]]:
    """Build forms into a folder, one file for each version, in the order of both.

    A file has the name of its song and, if it isn't the song as written, of its version. With
    `audio`, the sound files go beside it, and the versions are made in several processes.
    `progress` is called with the share of everything that is done, 0 to 1. A file that stands
    under one of these names and isn't ours, or has been changed since, is left as it is
    (`Built.left`), unless `force` is true.

    A form that can't be built is skipped, and its errors are returned, each once. It has no
    influence on the names of the others.
    """
    files = [read_file(path) for path in paths]
    good, _ = split(files)
    names = iter(distinct_names([(form.title, path) for path, form in good]))
    pieces = [
        Piece(form, stem, version, count_in, seed, audio, force)
        for _, form in good
        for version, stem in zip(versions, _stems(Path(out), next(names), versions), strict=True)
    ]
    made = iter(make_all(pieces, progress))
    built: list[Built] = []
    errors: list[BackingError] = []
    for file in files:
        if file.error is not None:
            errors.append(file.error)
            continue
        printed = set()
        for one in (next(made) for _ in versions):
            if isinstance(one, Built):
                built.append(one)
            elif str(one) not in printed:
                printed.add(str(one))
                errors.append(one)
    return built, errors


def _stems(out: Path, name: str, versions: Sequence[Version]) -> list[Path]:
    """Each version's path without an ending: the song's name, then the version in words."""
    if tuple(versions) == (PLAIN,):
        return [out / name]
    stems: list[Path] = []
    for version in versions:
        stem = base = out / joined_name(name, describe(version))
        count = 2
        while stem in stems:
            stem, count = base.with_name(f"{base.name} {count}"), count + 1
        stems.append(stem)
    return stems
