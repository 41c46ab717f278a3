"""`page`: makes a practice page from a form."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from backing.commands.options import (
    FORCE,
    QUIET,
    PracticeCommand,
    checked_ending,
    some_practice_options,
)
from backing.commands.printing import say

if TYPE_CHECKING:
    from backing.practice import Version


@click.command(cls=PracticeCommand)
@click.argument("form", metavar="FORM")
@click.option("--out", metavar="FILE", help="The file to write (named after the title).")
@click.option(
    "--soundfont", metavar="FILE", help="The .sf2 soundfont whose sounds go into the page."
)
@click.option(
    "--seed", default=0, metavar="N", help="Another performance of the same form: any whole number."
)
@some_practice_options("arrangement")
@FORCE
@QUIET
def page(
    form: str,
    out: str | None,
    soundfont: str | None,
    seed: int,
    force: bool,
    quiet: bool,
    versions: tuple[Version, ...],
) -> None:
    """Make a practice page to open in a web browser.

    It is one HTML file that shows the chart and plays the song, with no network needed.

    Example: backing page starter.yaml --out starter.html
    """
    from pathlib import Path

    from backing.errors import naming
    from backing.form import read_form
    from backing.page import make_page
    from backing.practice.arranging import arranged_for
    from backing.system.files import distinct_names
    from backing.system.place import write_file
    from backing.system.work import work_folder

    given = None if out is None else checked_ending(out, (".html", ".htm"), "a practice page")
    with naming(form, "can't be read"):
        song = arranged_for(read_form(form), versions[0])
    (name,) = distinct_names([(song.title, form)])
    path = Path(given or f"{name}.html")
    with naming(path):
        with work_folder(path.parent) as work:
            made = make_page(song, soundfont, seed, work)
        data = made.html.encode("utf-8")
        write_file(path, data, force)
    if quiet:
        return
    for warning in made.warnings:
        say(warning)
    soundfont_name, terms = made.soundfont.name, made.soundfont.license
    whose = f"{soundfont_name} ({terms})" if terms else soundfont_name
    say(f"Wrote {path}, {len(data) / 1e6:.1f} MB, with sounds of {whose}")
