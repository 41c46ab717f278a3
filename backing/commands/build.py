"""`build`: forms to checked files."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from backing.commands.options import (
    FORCE,
    FORMS,
    JSON,
    NO_COUNT_IN,
    QUIET,
    PracticeCommand,
    checked_folder,
    practice_options,
    sound_formats,
)
from backing.commands.printing import (
    end_with,
    files_json,
    left_alone,
    print_files,
    print_json,
    progress_bar,
)

if TYPE_CHECKING:
    from backing.audio.sound_files import AudioOptions
    from backing.practice import Version
    from backing.tracks.one import Built


@click.command(cls=PracticeCommand)
@FORMS
@click.option(
    "--out", default=".", metavar="DIR", help="The folder to write into (made if missing)."
)
@NO_COUNT_IN
@click.option(
    "--seed", default=0, metavar="N", help="Another playing of the same form: any whole number."
)
@click.option(
    "--audio", metavar="FORMAT", help="Make sound too: wav, flac, ogg or mp3 (several with commas)."
)
@click.option("--stems", is_flag=True, help="With --audio: a file for each part as well.")
@click.option("--soundfont", metavar="FILE", help="With --audio: the .sf2 bank to play with.")
@click.option(
    "--loudness", default=-16.0, metavar="LUFS", help="With --audio: how loud the mix is (-16)."
)
@practice_options
@FORCE
@JSON
@QUIET
def build(
    forms: tuple[str, ...],
    out: str,
    no_count_in: bool,
    seed: int,
    audio: str | None,
    stems: bool,
    soundfont: str | None,
    loudness: float,
    force: bool,
    as_json: bool,
    quiet: bool,
    versions: tuple[Version, ...],
) -> None:
    """Make MIDI (and audio) backing tracks.

    Each file is checked against its form before it is saved, and is named after the song's
    title. The practice options go together in any combination; the file's name says which
    version it is.

    Example: backing build starter.yaml --out tracks

    \b
    Slower versions, and the verse faster round by round without the guitar:
      backing build starter.yaml --speed 60,75,90
      backing build starter.yaml --section verse --ladder 60-100 --without guitar
    """
    ease_collection()
    from backing.tracks.forms import build as build_forms

    count_in = not no_count_in
    out = checked_folder(out)
    wanted = _wanted_audio(audio, stems, soundfont, loudness)
    steps = len(forms) * len(versions) * (100 if wanted else 1)
    with progress_bar(steps, quiet or as_json) as step:
        shown = 0

        def done(share: float) -> None:
            nonlocal shown
            now = round(share * steps)
            step(now - shown)
            shown = now

        built, errors = build_forms(forms, out, count_in, seed, wanted, done, versions, force)
    if as_json:
        print_json([_built_json(one) for one in built], len(forms) * len(versions))
    elif not quiet:
        for one in built:
            _print_built(one)
    end_with([*errors, *left_alone(built)])


def _wanted_audio(
    audio: str | None, stems: bool, soundfont: str | None, loudness: float
) -> AudioOptions | None:
    """What sound is asked for; None without --audio, which the other options need."""
    if audio is None:
        if stems or soundfont is not None:
            raise click.UsageError("--stems and --soundfont go with --audio.")
        return None
    from backing.audio.sound_files import AudioOptions, check

    first, *more = sound_formats(audio)
    wanted = AudioOptions(first, stems, soundfont, loudness, tuple(more))
    check(wanted)
    return wanted


def ease_collection() -> None:
    """Notes are many, small and hold no cycles: let the collector look at them less often.

    What is left at the end goes with the process, without a last look.
    """
    import atexit
    import gc

    gc.freeze()
    atexit.register(gc.freeze)
    gc.set_threshold(200_000, 20, 20)


def _print_built(one: Built) -> None:
    from backing.console.proof_table import head, proof_table, verdict

    click.echo(f"{head(one.expected)}\n{proof_table(one.report)}\n{verdict(one.report)}")
    for note in one.notes:
        click.echo(note)
    print_files(one)
    click.echo()


def _built_json(one: Built) -> dict[str, object]:
    from backing.console.proof_table import as_json

    table = {"file": str(one.path), **as_json(one.expected, one.report)}
    if one.notes:
        table["notes"] = list(one.notes)
    return table | files_json(one)
