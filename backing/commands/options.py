"""Options and arguments that several commands take."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import wraps
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import click

if TYPE_CHECKING:
    from pathlib import Path

    from backing.audio.sound_files import AudioOptions
    from backing.form.practice_options import Option
    from backing.practice import Version

Command = TypeVar("Command", bound=Callable[..., Any])

FORMS = click.argument("forms", metavar="FORM...", nargs=-1, required=True)
JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON for scripts.")
QUIET = click.option("-q", "--quiet", is_flag=True, help="Print errors only.")
FORCE = click.option(
    "--force",
    is_flag=True,
    help="Replace files that this program didn't make, or that were changed since.",
)
NO_COUNT_IN = click.option("--no-count-in", is_flag=True, help="Start the file with bar 1.")


class PracticeCommand(click.Command):
    """A command with practice options, which are made from their table when they are first needed.

    The table needs most of the form language, which would slow down `backing --help`.
    """

    def get_params(self, ctx: click.Context) -> list[click.Parameter]:
        """The command's parameters, with each practice option."""
        made: list[click.Parameter] = []
        for parameter in self.params:
            made += parameter.made() if isinstance(parameter, _Rows) else [parameter]
        self.params = made
        return super().get_params(ctx)


class _Rows(click.Option):
    """Stands for the rows of the table with some keys, or for all rows, until they are needed."""

    def __init__(self, names: Sequence[str], keys: tuple[str, ...] = (), **settings: Any) -> None:
        super().__init__(names, **settings)
        self.keys = keys

    def made(self) -> list[click.Option]:
        """A click option for each row."""
        return [
            click.Option(
                [f"--{row.name}", _parameter(row)],
                metavar=row.metavar or None,
                is_flag=None if row.metavar else True,
                help=row.help,
            )
            for row in _rows(self.keys)
        ]


def practice_options(command: Command) -> Command:
    """All practice options, for a `PracticeCommand`; it gets `versions`, one for each speed."""
    return some_practice_options()(command)


def some_practice_options(*keys: str) -> Callable[[Command], Command]:
    """The practice options with these keys (all of them without keys), in the table's order.

    They are for a `PracticeCommand`, which gets `versions`: one for each speed, or one for a
    ladder.
    """

    def decorate(command: Command) -> Command:
        @wraps(command)
        def with_versions(**given: Any) -> Any:
            typed = {row.key: given.pop(_parameter(row)) for row in _rows(keys)}
            return command(**given, versions=_versions(typed))

        rows = click.option("--practice-options", cls=_Rows, keys=keys)
        return rows(with_versions)  # type: ignore[return-value]

    return decorate


def _rows(keys: Sequence[str]) -> list[Option]:
    from backing.form.practice_options import OPTIONS

    return [option for option in OPTIONS if option.key in keys or not keys]


def _parameter(option: Option) -> str:
    """The name of the parameter in which a command gets an option's text."""
    return f"practice_{option.field}"


def _versions(typed: dict[str, Any]) -> tuple[Version, ...]:
    if all(text is None or text is False for text in typed.values()):
        from backing.practice.versions import PLAIN

        return (PLAIN,)
    from backing.practice.typed_options import versions

    return versions(typed)


def as_record(
    record: Callable[..., Any],
) -> Callable[[Callable[[Any], None]], Callable[..., None]]:
    """Hand a command all of its parameters as one record; this decorator goes last."""

    def decorate(command: Callable[[Any], None]) -> Callable[..., None]:
        @wraps(command)
        def with_record(**given: Any) -> None:
            command(record(**given))

        return with_record

    return decorate


def checked_ending(out: str, endings: Sequence[str], what: str) -> Path:
    """The path given with --out.

    Raises:
        BackingError: it has another ending, which could be that of a form or a recording.
    """
    from pathlib import Path

    from backing.errors import BackingError

    path = Path(out)
    if path.suffix.lower() not in endings:
        better = path.with_suffix(endings[0]) if path.name else f"NAME{endings[0]}"
        raise BackingError(f"{out}: {what} ends in {' or '.join(endings)}. Write --out {better}")
    return path


#: Endings of files, which a folder's name is unlikely to have.
_OF_FILES = (
    ".mid", ".midi", ".wav", ".flac", ".ogg", ".mp3", ".zip", ".pdf", ".html", ".yaml", ".yml",
)  # fmt: skip


def checked_folder(out: str) -> str:
    """The folder given with --out.

    Raises:
        BackingError: it looks like a file's name, and nothing by that name exists.
    """
    import os

    from backing.errors import BackingError

    if out.lower().endswith(_OF_FILES) and not os.path.lexists(out):
        folder = os.path.dirname(out) or "."
        raise BackingError(
            f"{out}: --out takes a folder; each file in it is named after its song. "
            f"Write --out {folder}"
        )
    return out


class SoundOptions(NamedTuple):
    """How to make audio; an option that a command doesn't take has its default.

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


def checked_audio(sound: SoundOptions) -> AudioOptions | None:
    """The audio to make with each track, checked before any work is done; None without --audio.

    Raises:
        click.UsageError: an option needs --audio.
        BackingError: an unknown format, a loudness out of range, no engine or no soundfont.
    """
    if not sound.formats:
        for name, given in (
            ("--stems", sound.stems),
            ("--soundfont", sound.soundfont is not None),
            ("--loudness", sound.loudness is not None),
        ):
            if given:
                raise click.UsageError(f"{name} needs --audio.")
        return None
    from backing.audio.loudness import TARGET_LUFS
    from backing.audio.sound_files import AudioOptions, check

    first, *more = sound.formats
    loudness = TARGET_LUFS if sound.loudness is None else sound.loudness
    audio = AudioOptions(first, sound.stems, sound.soundfont, loudness, tuple(more))
    check(audio)
    return audio


def _formats(text: str) -> tuple[str, ...]:
    """Formats separated by commas, each once: mp3, or mp3,wav."""
    return tuple(dict.fromkeys(one.strip().lower() for one in text.split(",")))
