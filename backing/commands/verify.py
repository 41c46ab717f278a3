"""`verify`: a file checked against its form."""

from __future__ import annotations

import sys
import warnings
from typing import TYPE_CHECKING

import click

from backing.commands.options import (
    JSON,
    NO_COUNT_IN,
    QUIET,
    PracticeCommand,
    practice_options,
)
from backing.commands.printing import print_json, say

if TYPE_CHECKING:
    from backing.form import Form
    from backing.practice import Version

#: Files that are checked as audio; all others are read as MIDI.
AUDIO_ENDINGS = (".wav", ".flac", ".ogg", ".mp3")


@click.command(cls=PracticeCommand)
@click.argument("form", metavar="FORM")
@click.argument("file", metavar="FILE.mid|wav|flac|ogg|mp3")
@NO_COUNT_IN
@click.option(
    "--strict", is_flag=True, help="End with exit code 1 if labels are lost or volumes differ, too."
)
@practice_options
@JSON
@QUIET
def verify(
    form: str,
    file: str,
    no_count_in: bool,
    strict: bool,
    as_json: bool,
    quiet: bool,
    versions: tuple[Version, ...],
) -> None:
    """Check a file against its form with independent readers.

    A MIDI file is read by two readers. They compare the notes of every part, bar lines, meters,
    tempos, the key, sounds, chord names and section markers with the form. Another program may
    have saved the file again: labels such as chord names may be lost on the way, or a volume
    changed, and the music still agrees; with --strict it doesn't. In an audio file the samples are
    counted and the clicks located in the sound; without clicks, only its length is checked.

    For a practice version, give the options that it was built with. The exit code is 1 if the
    file disagrees with the form, and 2 if the file can't be read or compared.

    Example: backing verify starter.yaml "tracks/Six Bars Before Breakfast.mid"
    """
    from backing.console.proof_table import as_json as table_json
    from backing.console.proof_table import head, proof_table, verdict
    from backing.form import read_form
    from backing.practice.typed_options import check_with
    from backing.verify import compare_file, expected_of

    if len(versions) > 1:
        raise click.UsageError("one file has one --speed, or a --ladder.")
    (version,) = versions
    count_in = not no_count_in
    song = read_form(form)
    check_with(song, versions)
    if file.lower().endswith(AUDIO_ENDINGS):
        _verify_audio(song, file, count_in, version, as_json, quiet)
        return
    expected = expected_of(song, version, count_in)
    report = compare_file(expected, file)
    passed = report.agrees and not (strict and (report.lost or report.noted))
    if as_json:
        print_json([table_json(expected, report)], as_list=False)
    else:
        if not quiet:
            say(head(expected), *proof_table(report))
        if not (quiet and passed):
            say(*verdict(report), err=not passed)
    if not passed:
        sys.exit(1)


def _verify_audio(
    form: Form, file: str, count_in: bool, version: Version, as_json: bool, quiet: bool
) -> None:
    from backing.console.audio_proof import as_json as audio_json
    from backing.console.audio_proof import verdict
    from backing.system.streams import without_library_messages
    from backing.verify.sound.audio import verify_audio

    with warnings.catch_warnings(), without_library_messages():
        warnings.simplefilter("ignore")  # numpy's, of samples that are not numbers
        report = verify_audio(form, file, count_in, version=version)
    if as_json:
        print_json([audio_json(report)], as_list=False)
    elif not (quiet and report.agrees):
        say(*verdict(report), err=not report.agrees)
    if not report.agrees:
        sys.exit(1)
