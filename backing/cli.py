"""The command line: finds the command and prints errors; each command is a file of `commands`.

Exit codes: 0 all is well; 1 a file disagrees with its form; 2 the input needs fixing.
"""

from __future__ import annotations

import os
import sys
from importlib import import_module
from types import ModuleType
from typing import Any

import click

from backing.commands.printing import print_error, say, usage_printable
from backing.errors import BackingError, naming, reason
from backing.system.shortages import LEAST_BYTES, LITTLE_BYTES, has_memory, need_memory
from backing.system.streams import safe_streams
from backing.system.version import VERSION
from backing.text.printable import printable

#: The commands, in the order in which a lesson is prepared; each is `backing.commands.NAME`.
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

#: Under this key the context holds the command as it was typed, for errors without a file.
_TYPED = "backing.typed"

_NO_MEMORY = b"There is not enough memory. Close other programs.\n"


class _Commands(click.Group):
    """Imports a command when it is called, and prints a BackingError without a traceback."""

    def main(self, *args: Any, **settings: Any) -> Any:
        try:
            return self._main(*args, **settings)
        except Exception as error:
            if not isinstance(error, MemoryError) and has_memory(LITTLE_BYTES):
                raise
        os.write(2, _NO_MEMORY)  # nothing that needs memory
        sys.exit(BackingError.exit_code)

    def _main(self, *args: Any, **settings: Any) -> Any:
        with safe_streams() as outputs:
            try:
                return super().main(*args, **settings)
            finally:
                sys.stdout.flush()
                if error := outputs.why_lost:
                    say(f"The output can't be written: {reason(error)}.", err=True)
                    sys.exit(BackingError.exit_code)

    def make_context(
        self, info_name: str | None, args: list[str], *more: Any, **settings: Any
    ) -> click.Context:
        with usage_printable():
            return super().make_context(printable(info_name or ""), args, *more, **settings)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        if name not in COMMANDS:
            return None
        command: click.Command = getattr(_module(name), name)
        if ctx.resilient_parsing:  # the shell asks for completions
            command = _module("completion").with_completion(command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0]
        if name not in COMMANDS and not name.startswith("-") and not ctx.resilient_parsing:
            raise click.UsageError(f"There is no command '{name}'. {_suggestion(name)}", ctx)
        return super().resolve_command(ctx, args)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        ctx.meta[_TYPED] = " ".join(["backing", *args])
        return super().parse_args(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        try:
            with usage_printable(), naming(ctx.meta[_TYPED], "can't go on"):
                need_memory(LEAST_BYTES)
                return super().invoke(ctx)
        except BackingError as error:
            print_error(error)
            ctx.exit(error.exit_code)


def _module(name: str) -> ModuleType:
    """A module of `backing.commands`, imported when it is first needed."""
    return import_module(f"backing.commands.{name}")


def _suggestion(name: str) -> str:
    from difflib import get_close_matches

    near = get_close_matches(name.lower(), COMMANDS, n=1)
    return f"Did you mean {near[0]}?" if near else f"The commands are {', '.join(COMMANDS)}."


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(VERSION)
def main() -> None:
    """Backing tracks for guitar lessons: type a song once, get everything for a week's practice.

    \b
    Start with a demo song:
      backing new --demo starter
      backing check starter.yaml
      backing build starter.yaml --out tracks

    Example: backing lesson starter.yaml --out lesson
    """
    # numpy, here and in child processes, starts a thread per core for math that isn't done here.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
