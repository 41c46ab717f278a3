"""What several commands print: JSON, a progress bar, errors and the code to end with."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import click

from backing.errors import BackingError

if TYPE_CHECKING:
    from backing.form import Form
    from backing.tracks.one import Built


def read_all(paths: Sequence[str]) -> tuple[list[Form], list[BackingError]]:
    from backing.form import read_form

    good: list[Form] = []
    errors: list[BackingError] = []
    for path in paths:
        try:
            good.append(read_form(path))
        except BackingError as error:
            errors.append(error)
    return good, errors


def print_json(tables: Sequence[dict[str, object]], asked: int) -> None:
    import json

    click.echo(
        json.dumps(
            tables[0] if asked == 1 and tables else list(tables), ensure_ascii=False, indent=2
        )
    )


class progress_bar:  # noqa: N801 - reads as a function
    """A progress bar on the error stream, for several forms and a person watching."""

    def __init__(self, length: int, hidden: bool) -> None:
        show = length > 1 and not hidden and sys.stderr.isatty()
        self.bar = (
            click.progressbar(length=length, label="Building", file=sys.stderr) if show else None
        )

    def __enter__(self) -> Callable[[int], None]:
        if self.bar is None:
            return lambda steps: None
        self.bar.__enter__()
        return self.bar.update

    def __exit__(self, *error: Any) -> None:
        if self.bar is not None:
            self.bar.__exit__(*error)


def print_files(one: Built) -> None:
    """What was written: the MIDI file, then those of sound."""
    if one.is_written:
        click.echo(f"Wrote {one.path}")
    if one.sounds is not None:
        from backing.console.sounds import sound_lines

        click.echo(sound_lines(one.sounds))


def files_json(one: Built) -> dict[str, object]:
    """The files of sound, and those of somebody else that were left, for scripts."""
    table: dict[str, object] = {}
    if one.sounds is not None:
        table["audio"] = [
            {**sound._asdict(), "path": str(sound.path)} for sound in one.sounds.files
        ]
        table["warnings"] = list(one.sounds.warnings)
    if one.left:
        table["left"] = [str(left.path) for left in one.left]
    return table


def left_alone(built: Sequence[Built]) -> list[BackingError]:
    """What to say of files of somebody else's that stood where ours should."""
    return [BackingError(str(left)) for one in built for left in one.left]


def end_with(errors: Sequence[BackingError]) -> None:
    """Say every error, and end with the gravest code."""
    for error in errors:
        click.echo(str(error), err=True)
    if errors:
        sys.exit(max(error.exit_code for error in errors))
