"""One form's audio: rendered, brought to its loudness, encoded, and named only when whole."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from backing.audio.cues import section_cues, write_labels
from backing.audio.encode import FORMATS, encode
from backing.audio.engines import advice, choose
from backing.audio.loudness import TARGET_LUFS, gain_for, held_back_sentence, measure
from backing.audio.render import Rendered, render
from backing.audio.soundfonts import choose as choose_soundfont
from backing.audio.tags import Tags
from backing.errors import BackingError
from backing.score import Score
from backing.timeline import Timeline

LABELS = ".labels.txt"
LEAST_LUFS, MOST_LUFS = -40.0, -5.0

_FOLDER = ".backing-sound"


class Wanted(NamedTuple):
    """What audio is asked for: a format of `FORMATS`, a file a part, a bank, a loudness in LUFS."""

    format: str
    stems: bool = False
    soundfont: str | None = None
    lufs: float = TARGET_LUFS


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
    """All files of one form, the mix first, and sentences for the user."""

    files: tuple[Sound, ...]
    remarks: tuple[str, ...]


def check(wanted: Wanted) -> None:
    """Say at once what can't be had, before a song is worked on.

    Raises:
        BackingError: an unknown format, a loudness out of range, no engine or no bank.
    """
    if wanted.format not in FORMATS:
        raise BackingError(f"{wanted.format}: no such format. It is one of {', '.join(FORMATS)}.")
    if not LEAST_LUFS <= wanted.lufs <= MOST_LUFS:
        raise BackingError(
            f"A loudness of {wanted.lufs:g} LUFS is out of range: {LEAST_LUFS:g} to {MOST_LUFS:g}."
        )
    choose()
    choose_soundfont(wanted.soundfont)


def build_audio(
    score: Score,
    timeline: Timeline,
    stem: Path,
    wanted: Wanted,
    progress: Callable[[float], None] = lambda share: None,
    proved: Callable[[Path], None] = lambda path: None,
) -> Sounds:
    """Write a song's mix, its label file and, where asked for, a file a part.

    Args:
        score: as it is to be heard.
        timeline: for the sections' places.
        stem: the files' path without an ending.
        wanted: what is asked for.
        progress: hears the share rendered, 0 to 1.
        proved: holds the mix against the form; it raises where they disagree.

    Raises:
        BackingError: no part of a file then stands under its final name.
    """
    engine, soundfont = choose(), choose_soundfont(wanted.soundfont)
    with _work_folder(stem) as folder:
        rendered = render(score, folder, soundfont, engine, stems=wanted.stems, progress=progress)
        loudness = measure(rendered.mix, rendered.rate)
        gain = gain_for(loudness, wanted.lufs)
        cues = section_cues(timeline)
        title = timeline.form.title
        bpm = score.tempos[0].quarter_bpm
        made = []
        gain_db = gain.db
        for part, raw in {"": rendered.mix, **rendered.stems}.items():
            name = f"{stem.name} - {part}" if part else stem.name
            tags = Tags(f"{title} - {part}" if part else title, bpm=bpm, cues=cues)
            path = folder / f"{name}.{wanted.format}"
            encoded = encode(
                raw, rendered.rate, path, wanted.format, gain_db, tags,
                ceiling_db=None if part else -1.0,
            )  # fmt: skip
            if not part:
                gain_db = encoded.gain_db  # stems take the mix's, so that they add up to it
                proved(path)
            final = stem.with_name(path.name)
            made.append(_sound(final, part, rendered, encoded.lufs, encoded.true_peak_db))
        for sound in made:
            _take_name(folder / sound.path.name, sound.path)
        write_labels(stem.with_name(f"{stem.name}{LABELS}"), cues)
    held_back = held_back_sentence(loudness, gain, wanted.lufs)
    remarks = (advice(engine), *rendered.warnings, held_back)
    return Sounds(tuple(made), tuple(remark for remark in remarks if remark))


def _sound(path: Path, part: str, rendered: Rendered, lufs: float, peak: float) -> Sound:
    seconds = rendered.frames / rendered.rate
    name = rendered.soundfont.path.resolve().name
    return Sound(path, part, seconds, lufs, peak, rendered.engine.name, name)


def _take_name(made: Path, final: Path) -> None:
    try:
        os.replace(made, final)
    except OSError as error:
        raise BackingError(f"{final}: can't be written ({error.strerror or error}).") from None


@contextmanager
def _work_folder(stem: Path) -> Iterator[Path]:
    """A hidden folder beside the files to be, gone at the end; those of dead runs go first."""
    folder = stem.parent / f"{_FOLDER}.{os.getpid()}"
    try:
        stem.parent.mkdir(parents=True, exist_ok=True)
        for old in stem.parent.glob(f"{_FOLDER}.*"):
            if not _is_running(old.suffix[1:]) or old == folder:
                shutil.rmtree(old, ignore_errors=True)
        folder.mkdir()
    except OSError as error:
        raise BackingError(
            f"{stem.parent}: can't be written ({error.strerror or error})."
        ) from None
    try:
        yield folder
    except OSError as error:
        raise BackingError(f"{stem.name}: can't be made ({error.strerror or error}).") from None
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _is_running(number: str) -> bool:
    """Whether a process of this number may still be at work; where that can't be told, yes."""
    if not number.isdecimal() or os.name == "nt":
        return number.isdecimal()
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True
