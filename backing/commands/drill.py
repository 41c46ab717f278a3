"""`drill`: chord changes to practice, without a form."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from backing.commands.options import (
    FORCE,
    JSON,
    NO_COUNT_IN,
    QUIET,
    PracticeCommand,
    SoundOptions,
    as_record,
    checked_audio,
    checked_ending,
    checked_folder,
    some_practice_options,
    sound_options,
)
from backing.commands.printing import (
    built_json,
    end_with,
    left_alone,
    print_built,
    print_json,
    say,
)

if TYPE_CHECKING:
    from backing.form import Form
    from backing.practice import Version
    from backing.tracks.one import Piece


class DrillOptions(NamedTuple):
    """The arguments and options of `drill`."""

    chords: str
    tempo: str | None
    meter: str
    times: int | None
    capo: int
    versions: tuple[Version, ...]
    no_count_in: bool
    out: str
    form_out: str | None
    sound: SoundOptions
    force: bool
    as_json: bool
    quiet: bool


@click.command(cls=PracticeCommand)
@click.argument("chords", metavar="CHORDS")
@click.option("--tempo", metavar="N", help="Beats per minute (60).")
@click.option("--meter", default="4/4", metavar="METER", help="Such as 3/4 or 6/8 (4/4).")
@click.option(
    "--times", type=int, metavar="N", help="How often each change is played (8; on a ladder 2)."
)
@click.option("--capo", default=0, metavar="N", help="The fret of the capo (0).")
@some_practice_options("speed", "ladder", "easier")
@NO_COUNT_IN
@click.option("--out", default=".", metavar="DIR", help="The folder to write into.")
@click.option("--form-out", metavar="FILE", help="Save the drill as a form too, to build on.")
@sound_options("audio", "soundfont")
@FORCE
@JSON
@QUIET
@as_record(DrillOptions)
def drill(options: DrillOptions) -> None:
    """Make a track to practice chord changes.

    Each change goes back and forth, one bar per chord. With A, F#m7 and D the changes are A to
    F#m7, F#m7 to D, and D to A. Speeds are percentages of the tempo, as in build: at --tempo 60,
    --ladder 60-120 starts at 36 beats per minute and ends at 72, with a bar of clicks before
    each speed.

    Example: backing drill "A F#m7 D" --tempo 60 --ladder "60-120 by 10"
    """
    from backing.errors import BackingError
    from backing.system.files import removed_on_failure
    from backing.tracks.one import Built
    from backing.tracks.parallel import make_all

    pieces = _pieces(options)
    with removed_on_failure(options.form_out):
        made = make_all(pieces)
        for error in made:
            if isinstance(error, BackingError):
                raise error
    built = [one for one in made if isinstance(one, Built)]
    if options.as_json:
        kept = {} if options.form_out is None else {"form": options.form_out}
        print_json([{**kept, **built_json(one)} for one in built], len(built) > 1)
    elif not options.quiet:
        for one in built:  # without the table of passes: a ladder has hundreds, all alike
            print_built(one, with_table=False)
        if options.form_out is not None:
            say(f"Wrote {options.form_out}")
    end_with(left_alone(built))


def _pieces(options: DrillOptions) -> list[Piece]:
    """A piece for each version, once all options are checked and the form is saved."""
    from backing.system.files import FORM_ENDINGS, file_name, write_whole
    from backing.tracks.forms import distinct_stems
    from backing.tracks.one import Piece

    form_path = options.form_out and checked_ending(options.form_out, FORM_ENDINGS, "a form")
    out = Path(checked_folder(options.out))
    audio = checked_audio(options.sound)
    text, form = _form(options)
    if form_path:
        write_whole(form_path, text.encode("utf-8"), over=False)
    stems = distinct_stems(out, [(file_name(form.title), form.instrument)], options.versions)
    return [
        Piece(form, stem, version, not options.no_count_in, audio=audio, force=options.force)
        for version, stem in zip(options.versions, stems, strict=True)
    ]


def _form(options: DrillOptions) -> tuple[str, Form]:
    """The drill as a form, and its text."""
    from backing.form import read_form_text
    from backing.practice.chord_changes import TIMES_ON_LADDER, USUAL_TIMES, drill_text, read_chords

    times = options.times
    if times is None:
        on_ladder = len(options.versions[0].speeds) > 1
        times = TIMES_ON_LADDER if on_ladder else USUAL_TIMES
    chords = read_chords(options.chords)
    text = drill_text(chords, options.tempo, options.meter, times, options.capo)
    return text, read_form_text(text, "drill")
