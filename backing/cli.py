"""The command line: arguments, messages and exit codes; everything else is a call into the rest.

Exit codes: 0 all well; 1 a file that disagrees with its form; 2 input to mend.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

from backing import __version__
from backing.errors import BackingError

if TYPE_CHECKING:
    from backing.build import Built
    from backing.form import Form

_Command = TypeVar("_Command", bound=Callable[..., Any])

_FORMS = click.argument("forms", metavar="FORM...", nargs=-1, required=True)
_JSON = click.option("--json", "as_json", is_flag=True, help="Print JSON for scripts.")
_QUIET = click.option("-q", "--quiet", is_flag=True, help="Print nothing but what is wrong.")
_NO_COUNT_IN = click.option("--no-count-in", is_flag=True, help="Bar 1 stands at the file's start.")


class _Tidy(click.Group):
    """Says a BackingError in its own words and ends with its code; no traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except BackingError as error:
            click.echo(str(error), err=True)
            ctx.exit(error.exit_code)


@click.group(cls=_Tidy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__)
def main() -> None:
    """Backing tracks for guitar lessons: type a song's form once, get proven files.

    Example: backing build forms/starter.yaml --out lesson
    """


@main.command()
@_FORMS
@click.option(
    "--out", default=".", metavar="DIR", help="The folder to write into (made if missing)."
)
@_NO_COUNT_IN
@_JSON
@_QUIET
def build(forms: tuple[str, ...], out: str, no_count_in: bool, as_json: bool, quiet: bool) -> None:
    """Build forms into multi-track MIDI files, each proven before it takes its name.

    The file is called after the song's title.

    Example: backing build forms/starter.yaml --out lesson
    """
    from backing.build import build as build_forms

    _ease_collection()
    count_in = not no_count_in
    with _progress(len(forms), quiet or as_json) as step:
        built, errors = build_forms(forms, out, count_in, each=lambda _: step())
    if as_json:
        _print_json([_built_json(one, count_in) for one in built], len(forms))
    elif not quiet:
        for one in built:
            _print_built(one, count_in)
    _end(errors)


@main.command()
@_FORMS
@_NO_COUNT_IN
@_JSON
@_QUIET
def check(forms: tuple[str, ...], no_count_in: bool, as_json: bool, quiet: bool) -> None:
    """Read forms and print what they come to; nothing is written.

    With --json: title, bars, seconds (of the form alone), count_in_seconds, and
    sections with label, first_bar, bars, start_seconds (from the file's start) and
    seconds. One form prints an object, several a list.

    Example: backing check forms/starter.yaml
    """
    from backing.report import as_json as table_json
    from backing.report import head, plain_table
    from backing.verify import expect

    good, errors = _read_all(forms)
    tables = [expect(form, not no_count_in) for form in good]
    if as_json:
        _print_json([table_json(table) for table in tables], len(forms))
    elif not quiet:
        for table in tables:
            click.echo(f"{head(table)}\n{plain_table(table)}\n")
    _end(errors)


@main.command()
@click.argument("form", metavar="FORM")
@click.argument("file", metavar="FILE.mid")
@_NO_COUNT_IN
@_JSON
@_QUIET
def verify(form: str, file: str, no_count_in: bool, as_json: bool, quiet: bool) -> None:
    """Hold any MIDI file against a form's maths, read by two readers that did not write it.

    Exit code 1 where they disagree.

    Example: backing verify forms/starter.yaml "lesson/First Steps.mid"
    """
    from backing.form import read_form
    from backing.report import as_json as table_json
    from backing.report import head, proof_table, verdict
    from backing.verify import expect, verify_file

    count_in = not no_count_in
    song = read_form(form)
    report = verify_file(song, file, count_in)
    if as_json:
        _print_json([table_json(expect(song, count_in), report)], 1)
    elif not quiet:
        click.echo(f"{head(expect(song, count_in))}\n{proof_table(report)}")
    if not as_json and not (quiet and report.agrees):
        click.echo(verdict(report), err=not report.agrees)
    if not report.agrees:
        sys.exit(1)


def _ease_collection() -> None:
    """Notes are many, small and hold no cycles: let the collector look at them less often."""
    import gc

    gc.freeze()
    gc.set_threshold(200_000, 20, 20)


def _read_all(paths: Sequence[str]) -> tuple[list[Form], list[BackingError]]:
    from backing.form import read_form

    good: list[Form] = []
    errors: list[BackingError] = []
    for path in paths:
        try:
            good.append(read_form(path))
        except BackingError as error:
            errors.append(error)
    return good, errors


def _print_built(one: Built, count_in: bool) -> None:
    from backing.report import head, proof_table, verdict
    from backing.verify import expect

    expected = expect(one.form, count_in)
    click.echo(f"{head(expected)}\n{proof_table(one.report)}\n{verdict(one.report)}")
    click.echo(f"Wrote {one.path}\n")


def _built_json(one: Built, count_in: bool) -> dict[str, object]:
    from backing.report import as_json
    from backing.verify import expect

    return {"file": str(one.path), **as_json(expect(one.form, count_in), one.report)}


def _print_json(tables: Sequence[dict[str, object]], asked: int) -> None:
    import json

    click.echo(
        json.dumps(
            tables[0] if asked == 1 and tables else list(tables), ensure_ascii=False, indent=2
        )
    )


class _progress:  # noqa: N801 - reads as a function
    """A progress bar on the error stream, for several forms and a person watching."""

    def __init__(self, length: int, hidden: bool) -> None:
        show = length > 1 and not hidden
        self.bar = (
            click.progressbar(length=length, label="Building", file=sys.stderr) if show else None
        )

    def __enter__(self) -> Callable[[], None]:
        if self.bar is None:
            return lambda: None
        self.bar.__enter__()
        bar = self.bar
        return lambda: bar.update(1)

    def __exit__(self, *error: Any) -> None:
        if self.bar is not None:
            self.bar.__exit__(*error)


def _end(errors: Sequence[BackingError]) -> None:
    """Say every error, and end with the gravest code."""
    for error in errors:
        click.echo(str(error), err=True)
    if errors:
        sys.exit(max(error.exit_code for error in errors))
