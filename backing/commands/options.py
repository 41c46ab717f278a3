"""Options and arguments that several commands take."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import wraps
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import click

if TYPE_CHECKING:
    from pathlib import Path

    from backing.audio.sound_files import Wanted
    from backing.practice import Version

Command = TypeVar("Command", bound=Callable[..., Any])

FORMS = click.argument("forms", metavar="FORM...", nargs=-1, required=True)
JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON for scripts.")
QUIET = click.option("-q", "--quiet", is_flag=True, help="Print nothing but what is wrong.")
FORCE = click.option(
    "--force",
    is_flag=True,
    help="Replace files that others made or changed.",
)
NO_COUNT_IN = click.option("--no-count-in", is_flag=True, help="Bar 1 stands at the file's start.")

#: What makes a practice version, in the order of its help.
_PRACTICE = (
    click.option("--speed", metavar="N,N", help="Percent of the tempo, a file each: 60,75,90."),
    click.option("--ladder", metavar="A-B", help="One file, round by round faster: 60-100."),
    click.option("--rung", metavar="N", help="With --ladder: points from round to round (5)."),
    click.option("--section", metavar="NAME", help="A section alone, or two with dots: A..B."),
    click.option("--bars", metavar="A-B", help="Bars of the song as it is played: 9-12."),
    click.option("--loop", type=int, metavar="N", help="Again and again, N rounds at a speed."),
    click.option(
        "--count-between",
        type=int,
        metavar="N",
        help="Bars of count-in between rounds (1 on a ladder, else 0).",
    ),
    click.option("--without", metavar="PARTS", help="Leave parts out: guitar,drums."),
    click.option("--only", metavar="PARTS", help="Leave all other parts out: click,bass."),
    click.option(
        "--answer", type=int, metavar="N", help="The guitar plays N bars, then rests for N."
    ),
    click.option("--key", metavar="KEY", help="Let it sound in another key: A, F#m."),
    click.option(
        "--transpose", type=int, metavar="N", help="Let it sound N semitones higher (-3 lower)."
    ),
    click.option(
        "--keep-shapes", is_flag=True, help="With --key or --transpose: move the capo instead."
    ),
    click.option("--capo", type=int, metavar="N", help="Shapes for this capo, sounding the same."),
    click.option("--easier", is_flag=True, help="The easiest shape of each chord."),
)
_PRACTICE_NAMES = (
    "speed", "ladder", "rung", "section", "bars", "loop", "count_between", "without", "only",
    "answer", "key", "transpose", "keep_shapes", "capo", "easier",
)  # fmt: skip


def practice_options(command: Command) -> Command:
    """The options of a practice version; the command gets `versions`, one for each speed."""

    @wraps(command)
    def with_versions(**given: Any) -> Any:
        said = {name: given.pop(name) for name in _PRACTICE_NAMES}
        return command(**given, versions=_versions(said))

    for option in reversed(_PRACTICE):
        with_versions = option(with_versions)
    return with_versions  # type: ignore[return-value]


def _versions(said: dict[str, Any]) -> tuple[Version, ...]:
    if all(value is None or value is False for value in said.values()):
        from backing.practice.versions import PLAIN

        return (PLAIN,)
    from backing.practice.options import Asked, versions

    return versions(Asked(**said))


def checked_ending(out: str, endings: Sequence[str], what: str) -> Path:
    """The path that --out names.

    Raises:
        BackingError: it has another ending; the wrong one could be a form's, or a recording's.
    """
    from pathlib import Path

    from backing.errors import BackingError

    path = Path(out)
    if path.suffix.lower() not in endings:
        better = path.with_suffix(endings[0]) if path.name else f"NAME{endings[0]}"
        raise BackingError(f"{out}: {what} ends in {' or '.join(endings)}. Write --out {better}")
    return path


#: Endings of files that somebody may name where a folder is meant.
_OF_FILES = (
    ".mid", ".midi", ".wav", ".flac", ".ogg", ".mp3", ".zip", ".pdf", ".html", ".yaml", ".yml",
)  # fmt: skip


def checked_folder(out: str) -> str:
    """The folder that --out names.

    Raises:
        BackingError: it looks like a file's name, and nothing of that name is there.
    """
    import os

    from backing.errors import BackingError

    if out.lower().endswith(_OF_FILES) and not os.path.lexists(out):
        folder = os.path.dirname(out) or "."
        raise BackingError(
            f"{out}: --out takes a folder, in which files are named after their songs. "
            f"Write --out {folder}"
        )
    return out


class SoundOptions(NamedTuple):
    """The audio that a command is asked for; a command without an option has its default.

    `formats` is empty without --audio. `loudness` is in LUFS, None for the usual one.
    """

    formats: tuple[str, ...] = ()
    stems: bool = False
    soundfont: str | None = None
    loudness: float | None = None


_SOUND = {
    "audio": click.option(
        "--audio", metavar="FORMAT", help="Audio as wav, flac, ogg or mp3 (several with commas)."
    ),
    "stems": click.option(
        "--stems", is_flag=True, help="With --audio: one file for each part as well."
    ),
    "soundfont": click.option(
        "--soundfont", metavar="FILE", help="The .sf2 soundfont that audio is made with."
    ),
    "loudness": click.option(
        "--loudness", type=float, metavar="LUFS", help="How loud the audio mix is (-16)."
    ),
}


def sound_options(*names: str) -> Callable[[Command], Command]:
    """The sound options of these names (all of them without names), in the order of the help.

    The command gets one record of them, `sound`: a `SoundOptions`.
    """

    def decorate(command: Command) -> Command:
        chosen = [name for name in _SOUND if name in names or not names]

        @wraps(command)
        def with_sound(**given: Any) -> Any:
            options = {name: given.pop(name) for name in chosen}
            audio = options.pop("audio", None)
            formats = () if audio is None else _formats(audio)
            return command(**given, sound=SoundOptions(formats, **options))

        for name in reversed(chosen):
            with_sound = _SOUND[name](with_sound)
        return with_sound  # type: ignore[return-value]

    return decorate


def checked_audio(sound: SoundOptions) -> Wanted | None:
    """The audio to make with each track, checked before any work is done; None without --audio.

    Raises:
        click.UsageError: an option needs --audio.
        BackingError: an unknown format, a loudness out of range, no engine or no soundfont.
    """
    if not sound.formats:
        if sound.stems:
            raise click.UsageError("--stems needs --audio.")
        if sound.soundfont is not None:
            raise click.UsageError("--soundfont needs --audio.")
        return None
    from backing.audio.loudness import TARGET_LUFS
    from backing.audio.sound_files import Wanted, check

    first, *more = sound.formats
    loudness = TARGET_LUFS if sound.loudness is None else sound.loudness
    wanted = Wanted(first, sound.stems, sound.soundfont, loudness, tuple(more))
    check(wanted)
    return wanted


def _formats(text: str) -> tuple[str, ...]:
    """Formats separated by commas, each once: mp3, or mp3,wav."""
    return tuple(dict.fromkeys(one.strip().lower() for one in text.split(",")))


def sound_formats(text: str) -> tuple[str, ...]:
    """As `_formats`; goes when `build` and `lesson` take `sound_options`."""
    return _formats(text)
