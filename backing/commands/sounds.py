"""`sounds`: shows the sound engines and soundfonts of this machine."""

from __future__ import annotations

import click


@click.command()
@click.option("--soundfont", metavar="FILE", help="A soundfont to try first, as with build.")
def sounds(soundfont: str | None) -> None:
    """Show the sound engines and soundfonts on this machine.

    Those that --audio uses are marked.

    Example: backing sounds
    """
    from backing.console.sounds import sounds_report

    click.echo(sounds_report(soundfont))
