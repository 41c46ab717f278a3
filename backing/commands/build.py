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
    SoundOptions,
    checked_audio,
    checked_folder,
    practice_options,
    sound_options,
)
from backing.commands.printing import (
    built_json,
    end_with,
    left_alone,
    print_built,
    print_json,
    progress_bar,
    say,
    share_to_steps,
)

if TYPE_CHECKING:
    from backing.practice import Version


@click.command(cls=PracticeCommand)
@FORMS
@click.option(
    "--out", default=".", metavar="DIR", help="The folder to write into (made if missing)."
)
@NO_COUNT_IN
@click.option(
    "--seed", default=0, metavar="N", help="Another performance of the same form: any whole number."
)
@sound_options()
@practice_options
@FORCE
@JSON
@QUIET
def build(
    forms: tuple[str, ...],
    out: str,
    no_count_in: bool,
    seed: int,
    sound: SoundOptions,
    force: bool,
    as_json: bool,
    quiet: bool,
    versions: tuple[Version, ...],
) -> None:
    """Make MIDI (and audio) backing tracks.

    Each file is checked against its form before it is saved, and is named after the song's
    title. The practice options go together in any combination; the file's name says which
    version it is. With --json, one file prints an object, two or more a list.

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
    audio = checked_audio(sound)
    steps = len(forms) * len(versions) * (100 if audio else 1)
    with progress_bar(steps, quiet or as_json) as step:
        progress = share_to_steps(steps, step)
        built, errors = build_forms(forms, out, count_in, seed, audio, progress, versions, force)
    if as_json:
        print_json([built_json(one) for one in built], len(forms) * len(versions) > 1)
    elif not quiet:
        for one in built:
            print_built(one)
            say()
    end_with([*errors, *left_alone(built)])


def ease_collection() -> None:
    """Let the garbage collector run less often: notes are many, small and have no cycles.

    At the end, what is left goes with the process, without a last collection.
    """
    import atexit
    import gc

    gc.freeze()
    atexit.register(gc.freeze)
    gc.set_threshold(200_000, 20, 20)
