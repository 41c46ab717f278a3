"""One form's audio: rendered in balance, brought to its loudness, encoded, and named only when
finished.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import NamedTuple

from backing.audio.cues import section_cues
from backing.audio.encode import FORMATS, Encoded, encode
from backing.audio.engines import advice, choose
from backing.audio.loudness import CEILING_DB, TARGET_LUFS, measure
from backing.audio.mixing import Mixer, mixer_for
from backing.audio.render import Rendered
from backing.audio.side import Stop, side_by_side
from backing.audio.song_level import Gain, gain_for, held_back_sentence, of_version, song_gain
from backing.audio.soundfonts import choose as choose_soundfont
from backing.audio.tags import Tags
from backing.errors import BackingError, naming, reason
from backing.score import Score
from backing.system.cores import usable_cores
from backing.system.files import file_name
from backing.system.work import work_folder, writing

LEAST_LUFS, MOST_LUFS = -40.0, -5.0


class AudioOptions(NamedTuple):
    """Which sound files to make.

    `format` is wav, flac, ogg or mp3; what is rendered for it is encoded in the formats of
    `more` as well. `stems` adds a file for each part. `soundfont` is the path of an .sf2 file;
    None takes the one that the program finds. `lufs` is the loudness of the whole song, -40 to -5.
    """

    format: str
    stems: bool = False
    soundfont: str | None = None
    lufs: float = TARGET_LUFS
    more: tuple[str, ...] = ()


class Sound(NamedTuple):
    """A sound file that was written; `part` is empty for the mix. Loudness is as decoded again."""

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


def check(wanted: AudioOptions) -> None:
    """Refuse at once what can't be made, before any work on a song.

    Raises:
        BackingError: an unknown format, a loudness out of range, no engine or no soundfont.
    """
    for name in (wanted.format, *wanted.more):
        if name not in FORMATS:
            raise BackingError(f"{name}: no such format. Write one of {', '.join(FORMATS)}.")
    if not LEAST_LUFS <= wanted.lufs <= MOST_LUFS:
        raise BackingError(
            f"A loudness of {wanted.lufs:g} LUFS is out of range: {LEAST_LUFS:g} to {MOST_LUFS:g}."
        )
    choose_soundfont(wanted.soundfont)
    choose()


def render_audio(
    score: Score,
    stem: str | Path,
    wanted: AudioOptions,
    progress: Callable[[float], None] = lambda share: None,
    proved: Callable[[Path], None] = lambda path: None,
    cores: int | None = None,
    whole: Score | None = None,
) -> Sounds:
    """Render a score into sound files: the mix and, with `stems`, a file for each part.

    >>> import backing
    >>> form = backing.read_form("song.yaml")
    >>> score = backing.play_version(form).score
    >>> sounds = backing.render_audio(score, "Two Gates", backing.AudioOptions("wav", lufs=-18))
    >>> [(one.path.name, round(one.lufs)) for one in sounds.files]
    [('Two Gates.wav', -18)]

    Args:
        score: what to play; its markers become the file's chapters, its title the tag.
        stem: the files' path without an ending: "out/Song" makes "out/Song.mp3".
        wanted: formats, stems, soundfont and loudness.
        progress: is called with the share rendered, 0 to 1, and while files are encoded; what
            it raises ends the work.
        proved: is called with the mix's path before the file gets its name; raises to refuse it.
        cores: how many processor cores to use at once; None is all that this process may use.
        whole: the song that the score is a version of: the balance of its parts, and the gain
            that brings it to its loudness, are the version's too. None takes the score itself.

    Raises:
        BackingError: an engine or a soundfont is missing or fails, or a file can't be written;
            no file then has its name.
    """
    stem = Path(stem)
    engine, soundfont = choose(), choose_soundfont(wanted.soundfont)
    cores = cores or usable_cores()
    first = stem.with_name(f"{stem.name}.{wanted.format}")
    with work_folder(stem.parent) as folder, _making(first, folder):
        mixer = mixer_for(whole or score, soundfont, engine, folder, cores)
        rendered = mixer.render(score, "version", wanted.stems, progress)
        gain = _gain(score, whole, mixer, rendered, wanted.lufs)
        files = _Files(score, stem, folder, rendered, gain, progress)
        sounds = files.make_all((wanted.format, *wanted.more), proved, cores)
        for sound in sounds:
            with writing(sound.path):
                os.replace(folder / sound.path.name, sound.path)
    warnings = (advice(engine), *rendered.warnings, held_back_sentence(gain, wanted.lufs))
    return Sounds(tuple(sounds), tuple(warning for warning in warnings if warning))


def _gain(score: Score, whole: Score | None, mixer: Mixer, rendered: Rendered, lufs: float) -> Gain:
    """The gain of the whole song, which a version of it shares."""
    if whole is None or whole is score:
        return gain_for(rendered.mix, rendered.rate, lufs)
    gain = song_gain(mixer.key(whole), lambda: mixer.whole(whole), lufs)
    return of_version(gain, measure(rendered.mix, rendered.rate))


class _Files:
    """Encodes what was rendered into files of a hidden folder."""

    def __init__(
        self,
        score: Score,
        stem: Path,
        folder: Path,
        rendered: Rendered,
        gain: Gain,
        progress: Callable[[float], None],
    ) -> None:
        self.stem, self.folder, self.rendered, self.gain = stem, folder, rendered, gain
        self.tags = Tags(score.title, bpm=score.tempos[0].quarter_bpm, cues=section_cues(score))
        self.progress = progress
        self.stop = Stop()
        self.names = _names(score)

    def make_all(
        self, formats: Sequence[str], proved: Callable[[Path], None], cores: int
    ) -> list[Sound]:
        """The mix in each format, then, with the proof beside them, the stems.

        Stems get the mix's gain, so that they add up to it where its peaks aren't limited.
        """
        mixes = {name: self._make("", self.rendered.mix, name) for name in dict.fromkeys(formats)}
        works: list[Callable[[], Sound | None]] = []
        for name, mix in mixes.items():
            works.append(partial(proved, self.folder / mix.path.name))
            works += [
                partial(self._make, part, raw, name) for part, raw in self.rendered.stems.items()
            ]
        stems = [one for one in side_by_side(works, cores, self.stop) if one]
        return [*mixes.values(), *stems]

    def _make(self, part: str, raw: Path, name: str) -> Sound:
        """A file of a part (empty: the mix)."""
        ending = f" - {self.names[part]}" if part else ""
        path = self.folder / f"{self.stem.name}{ending}.{name}"
        encoded = encode(
            raw,
            self.rendered.rate,
            path,
            name,
            self.gain.db,
            self.tags._replace(title=f"{self.tags.title}{ending}"),
            ceiling_db=None if part else CEILING_DB,
            pulse=self._pulse,
        )
        final = self.stem.with_name(path.name)
        return _sound(final, part, self.rendered, encoded)

    def _pulse(self) -> None:
        self.stop.check()
        self.progress(1.0)


def _names(score: Score) -> dict[str, str]:
    """What files call each part: as its first track is called, the guitar of a ukulele student
    ukulele."""
    names: dict[str, str] = {}
    for track in score.tracks:
        if track.part not in names:
            name = file_name(track.name.lower())
            names[track.part] = track.part if name in names.values() else name
    return names


def _sound(path: Path, part: str, rendered: Rendered, encoded: Encoded) -> Sound:
    seconds = rendered.frames / rendered.rate
    soundfont = rendered.soundfont.path.resolve().name
    lufs, peak = encoded.lufs, encoded.true_peak_db
    return Sound(path, part, seconds, lufs, peak, rendered.engine.name, soundfont)


@contextmanager
def _making(path: Path, folder: Path) -> Iterator[None]:
    """Name the file in errors, and leave the hidden folder out of them."""
    try:
        with naming(path):
            yield
    except BackingError as error:
        raise error.with_text(str(folder), str(path.parent)) from None
    except OSError as error:
        raise BackingError(f"{path}: can't be made: {reason(error)}.") from None
