"""`new`: a song file to start from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from backing.commands.options import QUIET, checked_ending
from backing.commands.printing import say

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@click.argument("title", metavar="[TITLE]", required=False)
@click.option(
    "--demo",
    is_flag=False,
    flag_value="",
    metavar="[NAME]",
    help="Copy a demo song instead; without a name, list them.",
)
@click.option("--meter", default="4/4", metavar="METER", help="Such as 3/4, 6/8 or 7/8 (2+2+3).")
@click.option("--bars", default=8, metavar="N", help="How many bars the verse has (8).")
@click.option("--tempo", metavar="N", help="Beats per minute (a walking pace).")
@click.option("--key", default="G", metavar="KEY", help="The key of the chords: A, F#m (G).")
@click.option("--instrument", metavar="NAME", help="What the student plays: ukulele (guitar).")
@click.option("--tuning", metavar="TUNING", help="Its tuning: drop-D, DADGAD, 'D A D G B E'.")
@click.option("--out", metavar="FILE", help="The file to write (named after the title).")
@QUIET
def new(
    title: str | None,
    demo: str | None,
    meter: str,
    bars: int,
    tempo: str | None,
    key: str,
    instrument: str | None,
    tuning: str | None,
    out: str | None,
    quiet: bool,
) -> None:
    """Start a new song file, with comments.

    The file is complete: it builds as it is, and the comments say what each line does. A
    file that is already there is never replaced (exit code 2). A TITLE such as song.yaml
    names the file itself.

    Example: backing new "Song title" --meter 3/4 --key Am

    Every instrument: guitar, ukulele, baritone-ukulele, bass, five-string-bass. For another one
    with four to eight strings give its --tuning, such as banjo or 'G3 D4 A4 E5'.

    \b
    Or copy one of the demo songs; without a name they are listed:
      backing new --demo starter
    """
    from backing.form.demos import demo_bytes
    from backing.form.starter import starter
    from backing.system.files import FORM_ENDINGS, write_whole

    if (title is None) == (demo is None):
        raise click.UsageError("give either the song's title or --demo.")
    if demo is not None:
        _refuse_song_options()
    if demo == "":
        say(*_demo_list())
        return
    if demo is not None:
        path, data = _path(f"{demo}.yaml"), demo_bytes(demo)
    else:
        assert title is not None
        path = _path(title)
        text = starter(_song_title(title), meter, bars, tempo, key, instrument, tuning)
        data = text.encode("utf-8")
    if out is not None:
        path = checked_ending(out, FORM_ENDINGS, "a form")
    write_whole(path, data, over=False)
    if not quiet:
        say(f"Wrote {path}")


def _refuse_song_options() -> None:
    """A demo is copied as it stands, so an option about the song would do nothing."""
    from click.core import ParameterSource

    context = click.get_current_context()
    for name in ("meter", "bars", "tempo", "key", "instrument", "tuning"):
        if context.get_parameter_source(name) is ParameterSource.COMMANDLINE:
            raise click.UsageError(f"--demo copies a song as it stands; leave --{name} out.")


def _is_file(title: str) -> bool:
    """Whether a title is the name of a form's file."""
    from backing.system.files import FORM_ENDINGS

    return title.lower().endswith(FORM_ENDINGS)


def _song_title(title: str) -> str:
    from pathlib import Path

    return Path(title).stem if _is_file(title) else title


def _path(title: str) -> Path:
    """The file itself where the title names one, or else a file named after the title."""
    from pathlib import Path

    from backing.system.files import file_name

    return Path(title) if _is_file(title) else Path(f"{file_name(title)}.yaml")


def _demo_list() -> list[str]:
    from backing.form.demos import demo_names, demo_title, reference

    names = demo_names()
    wide = max(map(len, names))
    rows = [f"  {name:<{wide}}  {demo_title(name)}" for name in names]
    copy, read = "To copy one: backing new --demo starter", f"All about forms: {reference()}"
    return ["Demo songs:", *rows, copy, read]
