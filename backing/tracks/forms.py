"""From forms' files to proven files: the main job in one call."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from backing.errors import BackingError
from backing.form.form_files import FormFile, read_file, split
from backing.form.parts import PARTS, title_of
from backing.practice.typed_options import check_with
from backing.practice.versions import PLAIN, Version, describe
from backing.system.files import distinct_names, joined_name, same_on_some_disks
from backing.theory.instruments import Instrument
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
    """Build forms into a folder, one file for each version, each proven before it gets its name.

    A file has the name of its song and, if it isn't the song as written, of its version. A
    form that can't be built is skipped; it doesn't change the names of the others.

    Args:
        paths: the forms' files.
        out: the folder, made if it is missing.
        count_in: False leaves the count-in out.
        seed: which of many performances, all as human as the form says; any whole number.
        audio: which sound files to make beside each MIDI file; None makes none.
        progress: is called with the share of everything that is done, 0 to 1.
        versions: practice versions to make of each form.
        force: replaces files under these names that aren't ours, or have been changed since;
            otherwise they stay as they are (`Built.left`).

    Returns:
        The files in the order of forms and versions, and the errors of forms that were skipped,
        each once.

    Raises:
        BackingError: options don't go together in one of the forms; nothing is built.
    """
    files = [read_file(path) for path in paths]
    good, _ = split(files)
    for _, form in good:
        check_with(form, versions)
    names = distinct_names([(form.title, path) for path, form in good])
    songs = [(name, form.instrument) for name, (_, form) in zip(names, good, strict=True)]
    stems = iter(distinct_stems(Path(out), songs, versions, audio is not None and audio.stems))
    pieces = [
        Piece(form, next(stems), version, count_in, seed, audio, force)
        for _, form in good
        for version in versions
    ]
    return _sorted_out(files, make_all(pieces, progress), len(versions))


def _sorted_out(
    files: Sequence[FormFile], made: Sequence[Built | BackingError], versions: int
) -> tuple[list[Built], list[BackingError]]:
    """What was built, and each file's errors once; `made` has `versions` items for each form."""
    rest = iter(made)
    built: list[Built] = []
    errors: list[BackingError] = []
    for file in files:
        if file.error is not None:
            errors.append(file.error)
            continue
        printed = set()
        for one in (next(rest) for _ in range(versions)):
            if isinstance(one, Built):
                built.append(one)
            elif str(one) not in printed:
                printed.add(str(one))
                errors.append(one)
    return built, errors


def distinct_stems(
    out: Path,
    songs: Sequence[tuple[str, Instrument]],
    versions: Sequence[Version],
    with_parts: bool = False,
) -> list[Path]:
    """Each version's path without an ending: the song's name, then the version in words.

    Song by song, each with its student's instrument. A path whose files would have the names of
    another's gets a number; with `with_parts`, a version has a file for each part too.
    """
    stems: list[Path] = []
    taken: set[str] = set()
    for name, instrument in songs:
        titles = [title_of(part, instrument).lower() for part in PARTS.values()]
        endings = ("", *(f" - {title}" for title in titles)) if with_parts else ("",)
        for version in versions:
            base = stem = joined_name(name, describe(version, instrument))
            count = 2
            while taken & (of := {same_on_some_disks(stem + ending) for ending in endings}):
                stem, count = f"{base} {count}", count + 1
            taken |= of
            stems.append(out / stem)
    return stems
