"""`lesson`: a week's practice folder for each song."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import click

from backing.commands.options import FORMS, JSON, QUIET, checked_folder, sound_formats
from backing.commands.printing import progress_bar

if TYPE_CHECKING:
    from contextlib import ExitStack

    from backing.lesson import Outcome


@click.command()
@FORMS
@click.option(
    "--out", required=True, metavar="DIR", help="Where the songs' folders go (made if missing)."
)
@click.option("--zip", "archive", is_flag=True, help="Pack each song's folder into an archive too.")
@click.option(
    "--jobs", type=click.IntRange(1), metavar="N", help="How many at once; one a core unless told."
)
@click.option(
    "--force",
    is_flag=True,
    help="Make every file again; replace files that others made or changed.",
)
@click.option(
    "--audio", metavar="FORMAT", help="Sound as wav, flac, ogg or mp3 (several with commas)."
)
@click.option("--soundfont", metavar="FILE", help="The .sf2 bank to play with.")
@JSON
@QUIET
def lesson(
    forms: tuple[str, ...],
    out: str,
    archive: bool,
    jobs: int | None,
    force: bool,
    audio: str | None,
    soundfont: str | None,
    as_json: bool,
    quiet: bool,
) -> None:
    """Make a week's practice folder for each song.

    The exercises are those under `practice:` in the form, or else the usual set. FORM may be
    a folder of forms. Files that are already there and up to date are left as they are.

    Example: backing lesson starter.yaml --out lesson
    """
    from contextlib import ExitStack

    from backing.lesson import Order
    from backing.lesson import lesson as make_lessons

    out = checked_folder(out)
    wanted = sound_formats(audio) if audio else ()
    order = Order(wanted, soundfont, archive, force, jobs or 0)
    with ExitStack() as stack:
        bar = _Bar(stack, quiet or as_json)

        def remark(says: str) -> None:
            if not quiet:
                click.echo(says, err=True)

        try:
            outcomes = make_lessons(forms, out, order, bar.start, bar.step, remark)
        except KeyboardInterrupt:
            says = "Stopped. What is finished stays; the same command goes on from there."
            click.echo(says, err=True)
            sys.exit(130)
    if as_json:
        _print_json(outcomes)
    elif not quiet:
        click.echo(table(outcomes))
        click.echo(totals(outcomes, out))
    _end(outcomes)


class _Bar:
    """The one bar for all files, from when it is known how many there are."""

    def __init__(self, stack: ExitStack, hidden: bool) -> None:
        self.stack, self.hidden = stack, hidden
        self.update: Callable[[int], None] = lambda steps: None

    def start(self, files: int) -> None:
        if files:
            self.update = self.stack.enter_context(progress_bar(files, self.hidden))

    def step(self) -> None:
        self.update(1)


def table(outcomes: Sequence[Outcome]) -> str:
    """A row a song: how many files are new and how many unchanged, and the exercises' length."""
    from backing.text.width import width

    rows = [("song", "made", "unchanged", "length")]
    for one in outcomes:
        name = one.title or one.form
        if one.error:
            rows.append((name, "failed", "", ""))
        else:
            rows.append((name, str(len(one.made)), str(len(one.unchanged)), _clock(one.seconds)))
    widths = [max(width(row[at]) for row in rows) for at in range(4)]
    lines = []
    for name, *rest in rows:
        cells = [cell.rjust(wide) for cell, wide in zip(rest, widths[1:], strict=True)]
        pad = " " * (widths[0] - width(name))
        lines.append(f"  {name}{pad}  {'  '.join(cells)}".rstrip())
    return "\n".join(lines)


def totals(outcomes: Sequence[Outcome], out: str) -> str:
    """All songs and files in a sentence or two."""
    good = [one for one in outcomes if not one.error]
    made, unchanged = sum(len(one.made) for one in good), sum(len(one.unchanged) for one in good)
    songs = "1 song" if len(good) == 1 else f"{len(good)} songs"
    says = f"{songs} in {out}: "
    says += f"{made} files made, {unchanged} unchanged." if made else f"all {unchanged} unchanged."
    left, failed = sum(len(one.left) for one in good), len(outcomes) - len(good)
    if not good:
        return f"{failed} failed."
    if left:
        says += f" {left} of somebody else's left as {'it was' if left == 1 else 'they were'}."
    return says + (f" {failed} failed." if failed else "")


def _clock(seconds: float) -> str:
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


def _print_json(outcomes: Sequence[Outcome]) -> None:
    import json

    rows = [
        {
            **one._asdict(),
            "folder": None if one.folder is None else str(one.folder),
            "made": list(one.made),
            "unchanged": list(one.unchanged),
            "left": [str(left.path) for left in one.left],
        }
        for one in outcomes
    ]
    click.echo(json.dumps(rows, ensure_ascii=False, indent=2))


def _end(outcomes: Sequence[Outcome]) -> None:
    """Say every error and every file that was left; those make the exit code 1, and 2."""
    for one in outcomes:
        for says in (one.error, *map(str, one.left)):
            if says:
                click.echo(says, err=True)
    if any(one.left for one in outcomes):
        sys.exit(2)
    if any(one.error for one in outcomes):
        sys.exit(1)
