"""All printing: only here does anything reach a terminal, and only what is printable.

Then what several commands print: JSON, a progress bar, files, errors and the code to end with.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from backing.errors import BackingError
from backing.text.printable import printable, printable_in_color, printable_json

if TYPE_CHECKING:
    from backing.tracks.one import Built


def say(*lines: str, err: bool = False) -> None:
    """Print lines; a line end inside one, from a file's name, is replaced like a control.

    Args:
        lines: without line ends and without styles.
        err: whether they go to the standard error.
    """
    click.echo("\n".join(map(printable, lines)), err=err)


def say_in_color(lines: Sequence[str]) -> None:
    """Print lines that have styles; see `printable_in_color`."""
    click.echo("\n".join(map(printable_in_color, lines)))


def print_error(error: BackingError) -> None:
    """Print an error on the standard error."""
    click.echo("\n".join(error.printed), err=True)


@contextmanager
def usage_printable() -> Iterator[None]:
    """Make what click says about wrong options printable: it quotes what was typed."""
    try:
        yield
    except click.UsageError as error:
        text = error.format_message()
        if text.isprintable() or (error.ctx is not None and text == error.ctx.get_help()):
            raise
        raise click.UsageError(printable(text), error.ctx) from None


def json_text(value: object) -> str:
    """A value as JSON for the standard output, with what isn't printable in escapes.

    What the output's encoding lacks is in escapes, too, and then all that isn't ASCII.
    """
    import json

    text = printable_json(json.dumps(value, ensure_ascii=False, indent=2))
    try:
        text.encode(sys.stdout.encoding)
    except UnicodeEncodeError:
        return printable_json(json.dumps(value, indent=2))
    return text


def print_json(objects: Sequence[dict[str, object]], as_list: bool) -> None:
    """Print a list, or one object; where that one has failed, its error says why instead."""
    for one in [list(objects)] if as_list else objects:
        print_value(one)


def print_value(value: object) -> None:
    """Print a value as JSON."""
    click.echo(json_text(value))


class progress_bar:  # noqa: N801 - reads as a function
    """A progress bar on standard error, if there are several steps and a person is watching."""

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


def share_to_steps(steps: int, step: Callable[[int], None]) -> Callable[[float], None]:
    """A function that takes the share done, 0 to 1, and moves a bar of `steps`, never back."""
    shown = 0

    def move(share: float) -> None:
        nonlocal shown
        now = round(share * steps)
        if now > shown:
            step(now - shown)
            shown = now

    return move


def print_built(one: Built, with_table: bool = True) -> None:
    """What a built version is, how it was proven, its notes, and the files written."""
    from backing.console.proof_table import head, proof_table, verdict

    say(head(one.expected))
    if with_table:
        say(*proof_table(one.report))
    say(*verdict(one.report), *one.notes)
    if one.is_written:
        say(f"Wrote {one.path}")
    if one.sounds is not None:
        from backing.console.sounds import sound_lines

        say(*sound_lines(one.sounds))


def built_json(one: Built) -> dict[str, object]:
    """A built version for scripts: its file, its proof, notes, sound files, and what was left."""
    from backing.console.proof_table import as_json

    table = {
        "file": str(one.path),
        **as_json(one.expected, one.report),
        "notes": list(one.notes),
    }
    if one.sounds is not None:
        table["audio"] = [
            {**sound._asdict(), "path": str(sound.path)} for sound in one.sounds.files
        ]
        table["warnings"] = list(one.sounds.warnings)
    if one.left:
        table["left"] = [str(left.path) for left in one.left]
    return table


def left_alone(built: Sequence[Built]) -> list[BackingError]:
    """What to say about other people's files that stood where ours should."""
    return [BackingError(str(left)) for one in built for left in one.left]


def end_with(errors: Sequence[BackingError]) -> None:
    """Print every error, and exit with the highest of their codes."""
    for error in errors:
        print_error(error)
    if errors:
        sys.exit(max(error.exit_code for error in errors))
