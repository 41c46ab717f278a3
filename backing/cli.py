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
    from backing.audio.build import Wanted
    from backing.build import Built
    from backing.form import Form

_Command = TypeVar("_Command", bound=Callable[..., Any])

#: Files that `verify` listens to; all others are read as MIDI.
AUDIO_ENDINGS = (".wav", ".flac", ".ogg", ".mp3")

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
@click.option(
    "--seed", default=0, metavar="N", help="Another playing of the same form: any whole number."
)
@click.option("--audio", metavar="FORMAT", help="Make sound too: wav, flac, ogg or mp3.")
@click.option("--stems", is_flag=True, help="With --audio: a file for each part as well.")
@click.option("--soundfont", metavar="FILE", help="With --audio: the .sf2 bank to play with.")
@click.option(
    "--loudness", default=-16.0, metavar="LUFS", help="With --audio: how loud the mix is (-16)."
)
@_JSON
@_QUIET
def build(
    forms: tuple[str, ...],
    out: str,
    no_count_in: bool,
    seed: int,
    audio: str | None,
    stems: bool,
    soundfont: str | None,
    loudness: float,
    as_json: bool,
    quiet: bool,
) -> None:
    """Build forms into multi-track MIDI files, each proven before it takes its name.

    The file is called after the song's title.

    Example: backing build forms/starter.yaml --out lesson
    """
    _ease_collection()
    from backing.build import build as build_forms

    count_in = not no_count_in
    wanted = _wanted_audio(audio, stems, soundfont, loudness)
    steps = 100 if wanted else 1
    with _progress(len(forms) * steps, quiet or as_json) as step:
        done = 0  # hundredths of the form being built that the bar has shown

        def rendered(share: float) -> None:
            nonlocal done
            now = min(steps - 1, int(share * steps))
            step(now - done)
            done = now

        def ended(_: object) -> None:
            nonlocal done
            step(steps - done)
            done = 0

        built, errors = build_forms(forms, out, count_in, ended, seed, wanted, rendered)
    if as_json:
        _print_json([_built_json(one, count_in) for one in built], len(forms))
    elif not quiet:
        for one in built:
            _print_built(one, count_in)
    _end(errors)


@main.command()
@click.option("--soundfont", metavar="FILE", help="A bank to look at first, as with build.")
def sounds(soundfont: str | None) -> None:
    """Say which engine and soundfonts are here, and which of them --audio takes.

    Example: backing sounds
    """
    from backing.audio.report import sounds_report

    click.echo(sounds_report(soundfont))


@main.command()
@click.argument("title", metavar="TITLE")
@click.option("--meter", default="4/4", metavar="METER", help="Such as 3/4, 6/8 or 7/8 (2+2+3).")
@click.option("--bars", default=8, metavar="N", help="How many bars the verse has (8).")
@click.option("--tempo", metavar="N", help="Beats a minute (a walking pace).")
@click.option("--key", default="G", metavar="KEY", help="The chords' key, such as A or F#m (G).")
@click.option("--out", metavar="FILE", help="Where to write (a file called after the title).")
@_QUIET
def new(
    title: str, meter: str, bars: int, tempo: str | None, key: str, out: str | None, quiet: bool
) -> None:
    """Write a form to start from, with remarks that explain it.

    A file that is there already is left alone (exit code 2).

    Example: backing new "Song title" --meter 3/4 --key Am
    """
    from pathlib import Path

    from backing.files import file_name, write_whole
    from backing.form.starter import starter

    text = starter(title, meter, bars, tempo, key)
    path = Path(out if out is not None else f"{file_name(title)}.yaml")
    write_whole(path, text.encode("utf-8"), over=False)
    if not quiet:
        click.echo(f"Wrote {path}")


@main.command()
@click.option("--out", metavar="FILE", help="Write to a file in place of printing.")
def schema(out: str | None) -> None:
    """Print the form language as a JSON Schema, for editors that complete and check YAML.

    Example: backing schema --out song-form.json
    """
    import json
    from pathlib import Path

    from backing.files import write_whole
    from backing.form.schema import form_schema

    text = json.dumps(form_schema(), ensure_ascii=False, indent=2)
    if out is None:
        click.echo(text)
        return
    write_whole(Path(out), f"{text}\n".encode())
    click.echo(f"Wrote {out}")


@main.command()
@_FORMS
@click.option("--watch", is_flag=True, help="Read one form again at each save, until Ctrl-C.")
@_NO_COUNT_IN
@_JSON
@_QUIET
def check(
    forms: tuple[str, ...], watch: bool, no_count_in: bool, as_json: bool, quiet: bool
) -> None:
    """Read forms and print each as a sketch, with what it comes to; no file is made.

    With --json: title, bars, seconds (of the form alone), count_in_seconds, and
    sections with label, first_bar, bars, start_seconds (from the file's start) and
    seconds. One form prints an object, several a list.

    Example: backing check forms/starter.yaml
    """
    if not watch:
        _end(_check(forms, no_count_in, as_json, quiet))
        return
    if len(forms) > 1 or as_json:
        raise click.UsageError("--watch takes one form, and prints no JSON.")
    from backing.watch import on_each_save

    def show() -> None:
        click.clear()
        for error in _check(forms, no_count_in, as_json, quiet):
            click.echo(str(error), err=True)
        if sys.stdout.isatty():
            click.echo(f"Watching {forms[0]}. Ctrl-C ends.")

    on_each_save(forms[0], show)


def _check(
    forms: Sequence[str], no_count_in: bool, as_json: bool, quiet: bool
) -> list[BackingError]:
    """Print what forms come to; the errors of those that can't be read."""
    from backing.report import as_json as table_json
    from backing.sketch import page_width, sketch, wants_color
    from backing.verify import expect

    good, errors = _read_all(forms)
    tables = [expect(form, not no_count_in) for form in good]
    if as_json:
        _print_json([table_json(table) for table in tables], len(forms))
    elif not quiet:
        columns, color = page_width(sys.stdout), wants_color(sys.stdout)
        for form, table in zip(good, tables, strict=True):
            click.echo(f"{sketch(form, table, columns, color)}\n")
    return errors


@main.command()
@click.argument("form", metavar="FORM")
@click.argument("file", metavar="FILE.mid|wav|flac|ogg|mp3")
@_NO_COUNT_IN
@_JSON
@_QUIET
def verify(form: str, file: str, no_count_in: bool, as_json: bool, quiet: bool) -> None:
    """Hold a MIDI or audio file against a form's maths, by readers that did not write it.

    A MIDI file is read twice over. Of audio the samples are counted and the clicks found
    by listening; where none is in it, only the length is proven. Exit code 1 where they
    disagree.

    Example: backing verify forms/starter.yaml "lesson/First Steps.mid"
    """
    from backing.form import read_form
    from backing.report import as_json as table_json
    from backing.report import head, proof_table, verdict
    from backing.verify import expect, verify_file

    count_in = not no_count_in
    song = read_form(form)
    if file.lower().endswith(AUDIO_ENDINGS):
        _verify_audio(song, file, count_in, as_json, quiet)
        return
    report = verify_file(song, file, count_in)
    if as_json:
        _print_json([table_json(expect(song, count_in), report)], 1)
    elif not quiet:
        click.echo(f"{head(expect(song, count_in))}\n{proof_table(report)}")
    if not as_json and not (quiet and report.agrees):
        click.echo(verdict(report), err=not report.agrees)
    if not report.agrees:
        sys.exit(1)


def _verify_audio(form: Form, file: str, count_in: bool, as_json: bool, quiet: bool) -> None:
    from backing.verify.audio import verify_audio
    from backing.verify.heard import as_json as heard_json
    from backing.verify.heard import verdict

    report = verify_audio(form, file, count_in)
    if as_json:
        _print_json([heard_json(report)], 1)
    elif not (quiet and report.agrees):
        click.echo(verdict(report), err=not report.agrees)
    if not report.agrees:
        sys.exit(1)


def _wanted_audio(
    audio: str | None, stems: bool, soundfont: str | None, loudness: float
) -> Wanted | None:
    """What sound is asked for; None without --audio, which the other options need."""
    if audio is None:
        if stems or soundfont is not None:
            raise click.UsageError("--stems and --soundfont go with --audio.")
        return None
    from backing.audio.build import Wanted, check

    wanted = Wanted(audio.lower(), stems, soundfont, loudness)
    check(wanted)
    return wanted


def _ease_collection() -> None:
    """Notes are many, small and hold no cycles: let the collector look at them less often.

    What is left at the end goes with the process, without a last look.
    """
    import atexit
    import gc

    gc.freeze()
    atexit.register(gc.freeze)
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
    click.echo(f"Wrote {one.path}")
    if one.sounds is not None:
        from backing.audio.report import sound_lines

        click.echo(sound_lines(one.sounds))
    click.echo()


def _built_json(one: Built, count_in: bool) -> dict[str, object]:
    from backing.report import as_json
    from backing.verify import expect

    table = {"file": str(one.path), **as_json(expect(one.form, count_in), one.report)}
    if one.sounds is not None:
        table["audio"] = [
            {**sound._asdict(), "path": str(sound.path)} for sound in one.sounds.files
        ]
        table["remarks"] = list(one.sounds.remarks)
    return table


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
        show = length > 1 and not hidden and sys.stderr.isatty()
        self.bar = (
            click.progressbar(length=length, label="Building", file=sys.stderr) if show else None
        )

    def __enter__(self) -> Callable[[int], None]:
        if self.bar is None:
            return lambda steps: None
        self.bar.__enter__()
        return self.bar.update

    def __exit__(self, *error: Any) -> None:
        if self.bar is not None:
            self.bar.__exit__(*error)


def _end(errors: Sequence[BackingError]) -> None:
    """Say every error, and end with the gravest code."""
    for error in errors:
        click.echo(str(error), err=True)
    if errors:
        sys.exit(max(error.exit_code for error in errors))
