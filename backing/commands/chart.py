"""`chart`: makes a page to print from a form."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from backing.commands.options import (
    FORCE,
    FORMS,
    QUIET,
    PracticeCommand,
    some_practice_options,
)

if TYPE_CHECKING:
    from pathlib import Path

    from backing.form import Form
    from backing.practice import Version


@click.command(cls=PracticeCommand)
@FORMS
@click.option(
    "--out",
    metavar="FILE.pdf|.svg|.png",
    help="The file to write, or a folder (for PDFs named after the titles).",
)
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", help="The paper size (a4)."
)
@click.option("--no-shapes", is_flag=True, help="Leave out the chord shapes.")
@click.option("--sounding", is_flag=True, help="Name chords as they sound with the capo.")
@click.option("--left-handed", is_flag=True, help="Mirror the chord shapes.")
@some_practice_options("arrangement")
@click.option("--times", is_flag=True, help="Print the track's times beside the roadmap.")
@FORCE
@QUIET
def chart(
    forms: tuple[str, ...],
    out: str | None,
    paper: str,
    no_shapes: bool,
    sounding: bool,
    left_handed: bool,
    times: bool,
    force: bool,
    quiet: bool,
    versions: tuple[Version, ...],
) -> None:
    """Make a chart of each song, to print or to read on screen.

    A chart takes one page if it fits. A PDF holds all pages; with SVG and PNG (150 dots per
    inch), page 2 is saved as NAME-2.

    Example: backing chart starter.yaml --out starter.pdf
    """
    from backing.chart import draw_chart
    from backing.chart.records import ChartOptions
    from backing.commands.printing import end_with, say
    from backing.errors import BackingError, naming
    from backing.form.form_files import read_file, split
    from backing.practice.arranging import arranged_for
    from backing.system.place import write_file

    good, errors = split(map(read_file, forms))
    options = ChartOptions(paper, not no_shapes, sounding, left_handed, times)
    for (_, form), path in zip(good, _paths(good, out, len(forms)), strict=True):
        try:
            with naming(path):
                played = arranged_for(form, versions[0])
                made = draw_chart(played, options, path.suffix[1:].lower())
            for number, data in enumerate(made.files, 1):
                page = path if number == 1 else path.with_stem(f"{path.stem}-{number}")
                write_file(page, data, force)
                if not quiet:
                    say(f"Wrote {page}")
        except BackingError as error:
            errors.append(error)
            continue
        for warning in made.warnings:
            say(f"{path}: {warning}", err=True)
    end_with(errors)


def _paths(songs: list[tuple[str, Form]], out: str | None, given: int) -> list[Path]:
    """A file for each form: the one that --out names, or one named after its song in a folder."""
    from pathlib import Path

    from backing.chart.typesetter import FORMATS
    from backing.system.files import distinct_names

    suffix = Path(out).suffix[1:].lower() if out is not None else ""
    if out is not None and suffix in FORMATS:
        if given > 1:
            raise click.UsageError("several charts need a folder: --out DIR.")
        return [Path(out)] * len(songs)
    if suffix and not Path(out or "").is_dir():
        raise click.UsageError(f"a chart is a .pdf, .svg or .png, not a .{suffix}.")
    names = distinct_names([(song.title, path) for path, song in songs])
    return [Path(out or ".") / f"{name}.pdf" for name in names]
