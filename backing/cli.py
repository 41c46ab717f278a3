"""The command line: finds the command and says errors; each command is a file of `commands`.

Exit codes: 0 all well; 1 a file that disagrees with its form; 2 input to mend.
"""

from __future__ import annotations

import os
from importlib import import_module
from typing import Any

import click

from backing import __version__
from backing.errors import BackingError

#: The commands, in the order of a lesson's making; each is `backing.commands.NAME`.
COMMANDS = (
    "new",
    "check",
    "build",
    "lesson",
    "verify",
    "chart",
    "page",
    "capo",
    "drill",
    "sounds",
    "schema",
)


class _Commands(click.Group):
    """Imports a command when it is asked for, and says a BackingError without a traceback."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        command: click.Command = getattr(import_module(f"backing.commands.{name}"), name)
        return command

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except BackingError as error:
            click.echo(str(error), err=True)
            ctx.exit(error.exit_code)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__)
def main() -> None:
    """Backing tracks for guitar lessons: type a song's form once, get proven files.

    Example: backing build forms/starter.yaml --out lesson
    """
    # numpy, here and in processes below, starts a thread a core for sums that we haven't got.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
