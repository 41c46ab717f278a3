"""From forms' files to proven files: the main job in one call."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from backing.errors import BackingError
from backing.files import distinct_names, joined_name
from backing.form import Form, read_form
from backing.making import Built, make, midi_of, prove
from backing.practice.versions import PLAIN, Version, describe

if TYPE_CHECKING:
    from backing.audio.build import Wanted

__all__ = ["Built", "build", "make", "midi_of", "prove"]


def build(
    paths: Sequence[str | Path],
    out: str | Path = ".",
    count_in: bool = True,
    each: Callable[[Built | BackingError], None] = lambda _: None,
    seed: int = 0,
    audio: Wanted | None = None,
    progress: Callable[[float], None] = lambda share: None,
    versions: Sequence[Version] = (PLAIN,),
) -> tuple[list[Built], list[BackingError]]:
    """Build forms into a folder, one file for each version; `each` hears of every one made.

    A file is called after its song and, where it isn't the song as written, after its
    version. With `audio`, each one's sound stands beside it; `progress` hears the share of a
    version's sound that is rendered, 0 to 1.

    A form that can't be built is passed over, and its error returned, once; the names of the
    others do not depend on it.
    """
    read: list[tuple[str | Path, Form | BackingError]] = [(path, _read(path)) for path in paths]
    good = [(path, form) for path, form in read if isinstance(form, Form)]
    names = iter(distinct_names([(form.title, str(path)) for path, form in good]))
    built: list[Built] = []
    errors: list[BackingError] = []
    for _, form in read:
        if isinstance(form, BackingError):
            errors.append(form)
            each(form)
            continue
        stems = _stems(Path(out), next(names), versions)
        for version, stem in zip(versions, stems, strict=True):
            try:
                one = make(form, stem, version, count_in, seed, audio, progress)
            except BackingError as error:
                errors.append(error)
                each(error)
                break
            built.append(one)
            each(one)
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


def _read(path: str | Path) -> Form | BackingError:
    try:
        return read_form(path)
    except BackingError as error:
        return error
