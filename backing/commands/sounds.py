"""`sounds`: shows the sound engines and soundfonts of this machine."""

from __future__ import annotations

import click

from backing.commands.printing import say


@click.command()
@click.option("--soundfont", metavar="FILE", help="A .sf2 file to look at first, as with build.")
def sounds(soundfont: str | None) -> None:
    """Show which sound engine and soundfonts are used.

    A soundfont is a file of recorded instruments (.sf2). Lists all that were found on this
    computer, with the ones that --audio uses marked.

    Example: backing sounds
    """
    from backing.console.sounds import sounds_report

    say(*sounds_report(soundfont))
