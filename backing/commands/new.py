"""`new`: a form to start from."""

from __future__ import annotations

import click

from backing.commands.options import QUIET, checked_ending


@click.command()
@click.argument("title", metavar="TITLE")
@click.option("--meter", default="4/4", metavar="METER", help="Such as 3/4, 6/8 or 7/8 (2+2+3).")
@click.option("--bars", default=8, metavar="N", help="How many bars the verse has (8).")
@click.option("--tempo", metavar="N", help="Beats a minute (a walking pace).")
@click.option("--key", default="G", metavar="KEY", help="The chords' key, such as A or F#m (G).")
@click.option("--out", metavar="FILE", help="Where to write (a file named after the song).")
@QUIET
def new(
    title: str, meter: str, bars: int, tempo: str | None, key: str, out: str | None, quiet: bool
) -> None:
    """Start a new song file, with comments.

    The comments explain every part of the form.
    A file that already exists is left alone (exit code 2).

    Example: backing new "Song title" --meter 3/4 --key Am
    """
    from pathlib import Path

    from backing.form.starter import starter
    from backing.system.files import FORM_ENDINGS, file_name, write_whole

    text = starter(title, meter, bars, tempo, key)
    path = Path(f"{file_name(title)}.yaml")
    if out is not None:
        path = checked_ending(out, FORM_ENDINGS, "a form")
    write_whole(path, text.encode("utf-8"), over=False)
    if not quiet:
        click.echo(f"Wrote {path}")
