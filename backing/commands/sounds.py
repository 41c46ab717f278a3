"""`sounds`: which engine and soundfonts are here."""

from __future__ import annotations

import click


@click.command()
@click.option("--soundfont", metavar="FILE", help="A bank to look at first, as with build.")
def sounds(soundfont: str | None) -> None:
    """Say which engine and soundfonts are here, and which of them --audio takes.

    Example: backing sounds
    """
    from backing.console.sounds import sounds_report

    click.echo(sounds_report(soundfont))
