"""`drill`: chord changes to practice, without a form."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from backing.commands.options import (
    FORCE,
    JSON,
    NO_COUNT_IN,
    QUIET,
    checked_ending,
    checked_folder,
    sound_formats,
)
from backing.commands.printing import (
    end_with,
    files_json,
    left_alone,
    print_files,
    print_json,
)

if TYPE_CHECKING:
    from backing.audio.sound_files import AudioOptions
    from backing.tracks.one import Built


@click.command()
@click.argument("chords", metavar="CHORDS")
@click.option("--tempo", metavar="N", help="Beats a minute (60).")
@click.option("--meter", default="4/4", metavar="METER", help="Such as 3/4 or 6/8 (4/4).")
@click.option("--times", type=int, metavar="N", help="Each change there and back (8; ladder: 2).")
@click.option("--capo", default=0, metavar="N", help="The fret of the capo (0).")
@click.option("--easier", is_flag=True, help="The easiest shape of each chord.")
@click.option("--speed", metavar="P,P", help="Percent of the tempo, a file each: 60,80,100.")
@click.option("--ladder", metavar="P-P", help="From one percent of the tempo to another: 60-120.")
@click.option("--rung", metavar="P", help="With --ladder: points from speed to speed (5).")
@NO_COUNT_IN
@click.option("--out", default=".", metavar="DIR", help="The folder to write into.")
@click.option("--form-out", metavar="FILE", help="Keep the drill as a form too, to go on from.")
@click.option(
    "--audio", metavar="FORMAT", help="Make sound too: wav, flac, ogg or mp3 (several with commas)."
)
@click.option("--soundfont", metavar="FILE", help="With --audio: the .sf2 bank to play with.")
@FORCE
@JSON
@QUIET
def drill(
    chords: str,
    tempo: str | None,
    meter: str,
    times: int | None,
    capo: int,
    easier: bool,
    speed: str | None,
    ladder: str | None,
    rung: str | None,
    no_count_in: bool,
    out: str,
    form_out: str | None,
    audio: str | None,
    soundfont: str | None,
    force: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Build a track of chord changes: each there and back, a bar a chord, again and again.

    The chords are taken round: of A, F#m7 and D the changes are A to F#m7, F#m7 to D, D to A.
    Speeds are percent of the tempo, as in build: at --tempo 60, --ladder 60-120 starts at 36
    beats a minute and ends at 72, with a bar of clicks before each speed.

    Example: backing drill "A F#m7 D" --tempo 60 --ladder 60-120 --rung 5
    """
    from pathlib import Path

    from backing.errors import BackingError
    from backing.form import read_form_text
    from backing.practice.drill import TIMES_A_RUNG, USUAL_TIMES, drill_text, read_chords
    from backing.practice.options import Asked, versions
    from backing.practice.versions import describe
    from backing.system.files import FORM_ENDINGS, file_name, joined_name, write_whole
    from backing.tracks.one import Built, Piece
    from backing.tracks.parallel import make_all

    form_path = None if form_out is None else checked_ending(form_out, FORM_ENDINGS, "a form")
    out = checked_folder(out)
    wanted = _wanted(audio, soundfont)
    asked = versions(Asked(speed=speed, ladder=ladder, rung=rung, easier=easier))
    if times is None:
        times = USUAL_TIMES if ladder is None else TIMES_A_RUNG
    text = drill_text(read_chords(chords), tempo, meter, times, capo)
    form = read_form_text(text, "drill")
    if form_path is not None:
        write_whole(form_path, text.encode("utf-8"), over=False)
    name = file_name(form.title)
    pieces = [
        Piece(
            form,
            Path(out) / joined_name(name, describe(version)),
            version,
            not no_count_in,
            audio=wanted,
            force=force,
        )
        for version in asked
    ]
    made = make_all(pieces)
    for error in made:
        if isinstance(error, BackingError):
            raise error
    built = [one for one in made if isinstance(one, Built)]
    if as_json:
        print_json([_json(one, form_out) for one in built], len(built))
    elif not quiet:
        for one in built:
            _print(one)
        if form_out is not None:
            click.echo(f"Wrote {form_out}")
    end_with(left_alone(built))


def _wanted(audio: str | None, soundfont: str | None) -> AudioOptions | None:
    if audio is None:
        if soundfont is not None:
            raise click.UsageError("--soundfont goes with --audio.")
        return None
    from backing.audio.sound_files import AudioOptions, check

    first, *more = sound_formats(audio)
    wanted = AudioOptions(first, soundfont=soundfont, more=tuple(more))
    check(wanted)
    return wanted


def _print(one: Built) -> None:
    """Without the table of passes: of a ladder there are hundreds, all alike."""
    from backing.console.proof_table import head, verdict

    click.echo(head(one.expected))
    for saying in one.sayings:
        click.echo(saying)
    click.echo(verdict(one.report))
    print_files(one)


def _json(one: Built, form_out: str | None) -> dict[str, object]:
    from backing.console.proof_table import as_json

    table: dict[str, object] = {"file": str(one.path)}
    if form_out is not None:
        table["form"] = form_out
    table |= {"sayings": list(one.sayings), **as_json(one.expected, one.report)}
    return table | files_json(one)
