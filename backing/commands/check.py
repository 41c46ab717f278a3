"""`check`: a song's outline and its mistakes; writes nothing."""

from __future__ import annotations

import sys
from collections.abc import Sequence

import click

from backing.commands.options import FORMS, JSON, NO_COUNT_IN, QUIET
from backing.commands.printing import end_with, print_error, print_json, say, say_in_color
from backing.errors import BackingError, Problem


@click.command()
@FORMS
@click.option("--watch", is_flag=True, help="Show one form again at each save, until Ctrl-C.")
@NO_COUNT_IN
@JSON
@QUIET
def check(
    forms: tuple[str, ...], watch: bool, no_count_in: bool, as_json: bool, quiet: bool
) -> None:
    """Show a song's outline and any mistakes.

    Prints the sections with their bars, repeats, endings and times, or every mistake with
    its place and how to fix it, and below the outline what nothing plays: strums, picks, riffs
    and arrangements that nothing uses, endings that a line with bars doesn't reach. Writes no file.

    --json prints title, bars, seconds (without the count-in), count_in_seconds, and
    sections with label, first_bar, bars, start_seconds (from the start of the file) and
    seconds, and under unused what nothing plays, with line, column and says: an object for one
    form, a list for several.

    Example: backing check starter.yaml
    """
    if not watch:
        end_with(_check(forms, no_count_in, as_json, quiet))
        return
    if len(forms) > 1 or as_json:
        raise click.UsageError("--watch takes one form and doesn't go with --json.")
    from backing.system.watch import on_each_save

    def show() -> None:
        click.clear()
        for error in _check(forms, no_count_in, as_json, quiet):
            print_error(error)
        if sys.stdout.isatty():
            say(f"Watching {forms[0]}. Press Ctrl-C to stop.")

    on_each_save(forms[0], show)


def _check(
    forms: Sequence[str], no_count_in: bool, as_json: bool, quiet: bool
) -> list[BackingError]:
    """Print the outlines; return the errors of forms that can't be read."""
    from backing.console.proof_table import as_json as table_json
    from backing.console.sketch import page_width, sketch, wants_color
    from backing.form.form_files import read_file, split
    from backing.form.unused import unused
    from backing.verify import expect

    files = [read_file(path) for path in forms]
    good, errors = split(files)
    tables = [expect(form, not no_count_in) for _, form in good]
    found = [unused(of.data, of.path, of.form) for of in files if of.form is not None]
    if as_json:
        objects = [
            table_json(table) | {"unused": [_place_json(one) for one in own]}
            for table, own in zip(tables, found, strict=True)
        ]
        print_json(objects, len(forms) > 1)
    elif not quiet:
        columns, color = page_width(sys.stdout), wants_color(sys.stdout)
        for (path, form), table, own in zip(good, tables, found, strict=True):
            said = [f"{path}:{one.line}:{one.column}: {one.message} {one.fix}" for one in own]
            outline = sketch(form, table, columns, color).split("\n")
            say_in_color([*outline, "", *said, *[""][: len(said)]])
    return errors


def _place_json(place: Problem) -> dict[str, object]:
    says = f"{place.message} {place.fix}"
    return {"line": place.line, "column": place.column, "says": says}
