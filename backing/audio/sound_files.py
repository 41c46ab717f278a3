"""One form's audio: rendered, brought to its loudness, encoded, and named only when whole."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import NamedTuple

from backing.audio.cues import section_cues, write_labels
from backing.audio.encode import FORMATS, Encoded, ceiling_for, encode
from backing.audio.engines import advice, choose
from backing.audio.loudness import CEILING_DB, TARGET_LUFS, gain_for, held_back_sentence, measure
from backing.audio.render import Rendered, render
from backing.audio.side import Stop, side_by_side
from backing.audio.soundfonts import choose as choose_soundfont
from backing.audio.tags import Tags
from backing.errors import BackingError, reason
from backing.score import Score
from backing.system.cores import usable_cores
from backing.system.work import work_folder, writing

LABELS = ".labels.txt"
LEAST_LUFS, MOST_LUFS = -40.0, -5.0


class Wanted(NamedTuple):
    """What audio is asked for: a format of `FORMATS`, a file a part, a bank, a loudness in LUFS.

    What is rendered for the one format is encoded in `more` as well.
    """

    format: str
    stems: bool = False
    soundfont: str | None = None
    lufs: float = TARGET_LUFS
    more: tuple[str, ...] = ()


class Sound(NamedTuple):
    """A file of sound that was written; `part` is empty for the mix. Loudness as decoded again."""

    path: Path
    part: str
    seconds: float
    lufs: float
    true_peak_db: float
    engine: str
    soundfont: str


class Sounds(NamedTuple):
    """All files of one form, the mix of each format first, and warnings for the user."""

    files: tuple[Sound, ...]
    warnings: tuple[str, ...]


def check(wanted: Wanted) -> None:
    """Say at once what can't be had, before a song is worked on.

    Raises:
        BackingError: an unknown format, a loudness out of range, no engine or no bank.
    """
    for name in (wanted.format, *wanted.more):
        if name not in FORMATS:
            raise BackingError(f"{name}: no such format. It is one of {', '.join(FORMATS)}.")
    if not LEAST_LUFS <= wanted.lufs <= MOST_LUFS:
        raise BackingError(
            f"A loudness of {wanted.lufs:g} LUFS is out of range: {LEAST_LUFS:g} to {MOST_LUFS:g}."
        )
    choose_soundfont(wanted.soundfont)
    choose()


def build_audio(
    score: Score,
    stem: Path,
    wanted: Wanted,
    progress: Callable[[float], None] = lambda share: None,
    proved: Callable[[Path], None] = lambda path: None,
    cores: int | None = None,
) -> Sounds:
    """Write a song's mix, its label file and, where asked for, a file a part.

    Args:
        score: as it is to be heard; its markers become the cues, its title the tag.
        stem: the files' path without an ending.
        wanted: what is asked for.
        progress: hears the share rendered, 0 to 1, and is called on while files are
            encoded; what it raises ends the work.
        proved: holds the mix against the form; it raises where they disagree.
        cores: how many may be used at once; None is all that this process may use.

    Raises:
        BackingError: no part of a file then stands under its final name.
    """
    engine, soundfont = choose(), choose_soundfont(wanted.soundfont)
    cores = cores or usable_cores()
    with work_folder(stem.parent) as folder, _making(stem.name):
        rendered = render(
            score, folder, soundfont, engine, stems=wanted.stems, progress=progress, cores=cores
        )
        loudness = measure(rendered.mix, rendered.rate)
        names = tuple(dict.fromkeys((wanted.format, *wanted.more)))
        gains = {name: gain_for(loudness, wanted.lufs, ceiling_for(name)) for name in names}
        tags = Tags(score.title, bpm=score.tempos[0].quarter_bpm, cues=section_cues(score))

        stop = Stop()

        def pulse() -> None:
            stop.check()
            progress(1.0)

        def made(part: str, raw: Path, gain_db: float, name: str) -> tuple[Sound, float]:
            path = folder / f"{_name(stem, part)}.{name}"
            title = f"{score.title} - {part}" if part else score.title
            encoded = encode(
                raw, rendered.rate, path, name, gain_db, tags._replace(title=title),
                ceiling_db=None if part else CEILING_DB, pulse=pulse,
            )  # fmt: skip
            return _sound(stem.with_name(path.name), part, rendered, encoded), encoded.gain_db

        mixes = {name: made("", rendered.mix, gain.db, name) for name, gain in gains.items()}
        works: list[Callable[[], tuple[Sound, float] | None]] = []
        for name, (mix, gain_db) in mixes.items():
            works.append(partial(proved, folder / mix.path.name))
            # Stems take the mix's gain, so that they add up to it.
            parts = rendered.stems.items()
            works += [partial(made, part, raw, gain_db, name) for part, raw in parts]
        stems = [one[0] for one in side_by_side(works, cores, stop) if one]
        sounds = [*(mix for mix, _ in mixes.values()), *stems]
        for sound in sounds:
            _take_name(folder / sound.path.name, sound.path)
        write_labels(stem.with_name(f"{stem.name}{LABELS}"), tags.cues)
    held_back = held_back_sentence(loudness, gains[names[0]], wanted.lufs)
    warnings = (advice(engine), *rendered.warnings, held_back)
    return Sounds(tuple(sounds), tuple(warning for warning in warnings if warning))


def _name(stem: Path, part: str) -> str:
    return f"{stem.name} - {part}" if part else stem.name


def _sound(path: Path, part: str, rendered: Rendered, encoded: Encoded) -> Sound:
    seconds = rendered.frames / rendered.rate
    bank = rendered.soundfont.path.resolve().name
    lufs, peak = encoded.lufs, encoded.true_peak_db
    return Sound(path, part, seconds, lufs, peak, rendered.engine.name, bank)


def _take_name(made: Path, final: Path) -> None:
    with writing(final):
        os.replace(made, final)


@contextmanager
def _making(name: str) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise BackingError(f"{name}: can't be made: {reason(error)}.") from None
