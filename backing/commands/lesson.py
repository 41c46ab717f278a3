"""`lesson`: a week's practice folder for each song."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import click

from backing.commands.options import (
    FORMS,
    JSON,
    QUIET,
    SoundOptions,
    checked_folder,
    sound_options,
)
from backing.commands.printing import end_with, print_json, progress_bar, say
from backing.errors import BackingError

if TYPE_CHECKING:
    from contextlib import ExitStack
    from pathlib import Path

    from backing.lesson import Outcome


@click.command()
@FORMS
@click.option(
    "--out", required=True, metavar="DIR", help="Where the songs' folders go (made if missing)."
)
@click.option("--zip", "archive", is_flag=True, help="Pack each song's folder into an archive too.")
@click.option(
    "--jobs", type=click.IntRange(1), metavar="N", help="How many at once (one per core)."
)
@click.option(
    "--force",
    is_flag=True,
    help="Make every file again; replace files that others made or changed.",
)
@click.option(
    "--tidy",
    is_flag=True,
    help="Also remove the folders of songs that were renamed or whose forms are gone; "
    "what this program didn't make, or was changed since, stays.",
)
@sound_options("audio", "soundfont")
@JSON
@QUIET
def lesson(
    forms: tuple[str, ...],
    out: str,
    archive: bool,
    jobs: int | None,
    force: bool,
    tidy: bool,
    sound: SoundOptions,
    as_json: bool,
    quiet: bool,
) -> None:
    """Make a week's practice folder for each song.

    The exercises are those under `practice:` in the form, or else the usual set. FORM may be
    a folder of forms. Files that are already there and up to date are left as they are.
    Without --tidy, folders of songs that were renamed or whose forms are gone are only named.
    Songs that you leave out keep their folders as long as their forms exist.

    With --json, one form prints an object; a folder, or two or more forms, a list.

    Example: backing lesson starter.yaml --out lesson
    """
    from contextlib import ExitStack

    from backing.lesson import Order, tidied
    from backing.lesson import lesson as make_lessons

    out = checked_folder(out)
    order = Order(sound.formats, sound.soundfont, archive, force, jobs or 0)
    with ExitStack() as stack:
        bar = _Bar(stack, quiet or as_json)

        def notify(sentence: str) -> None:
            if not quiet:
                say(sentence, err=True)

        try:
            outcomes = make_lessons(forms, out, order, bar.start, bar.step, notify)
        except KeyboardInterrupt:
            message = "Stopped. Finished files stay; run the same command again to continue."
            say(message, err=True)
            sys.exit(130)
    errors = _errors(outcomes)
    removed: tuple[Path, ...] = ()
    try:
        removed, left = tidied(out, outcomes, tidy, notify)
        errors += left
    except BackingError as error:
        errors.append(error)
    if as_json:
        print_json([_json(one) for one in outcomes], len(forms) > 1 or os.path.isdir(forms[0]))
    elif not quiet:
        say(*table(outcomes), totals(outcomes, out))
    for folder in removed:
        notify(f"Removed {folder}")
    end_with(errors)


class _Bar:
    """One bar for all files, shown once their number is known."""

    def __init__(self, stack: ExitStack, hidden: bool) -> None:
        self.stack, self.hidden = stack, hidden
        self.update: Callable[[int], None] = lambda steps: None

    def start(self, files: int) -> None:
        if files:
            self.update = self.stack.enter_context(progress_bar(files, self.hidden))

    def step(self) -> None:
        self.update(1)


def table(outcomes: Sequence[Outcome]) -> list[str]:
    """One row per song: how many files were made or unchanged, and the exercises' length."""
    from backing.text.printable import printable
    from backing.text.width import width

    rows = [("song", "made", "unchanged", "length")]
    for one in outcomes:
        name = printable(one.title or one.form)
        if one.error is not None:
            rows.append((name, "failed", "", ""))
        else:
            rows.append((name, str(len(one.made)), str(len(one.unchanged)), _clock(one.seconds)))
    widths = [max(width(row[at]) for row in rows) for at in range(4)]
    lines = []
    for name, *rest in rows:
        cells = [cell.rjust(wide) for cell, wide in zip(rest, widths[1:], strict=True)]
        pad = " " * (widths[0] - width(name))
        lines.append(f"  {name}{pad}  {'  '.join(cells)}".rstrip())
    return lines


def totals(outcomes: Sequence[Outcome], out: str) -> str:
    """The numbers of songs and files, in a sentence or two."""
    from backing.text.counts import plural

    good = [one for one in outcomes if one.error is None]
    made, unchanged = sum(len(one.made) for one in good), sum(len(one.unchanged) for one in good)
    text = f"{plural(len(good), 'song')} in {out}: "
    text += (
        f"{plural(made, 'file')} made, {unchanged} unchanged."
        if made
        else f"all {unchanged} unchanged."
    )
    left, failed = sum(len(one.left) for one in good), len(outcomes) - len(good)
    if not good:
        return f"{failed} failed."
    if left:
        what = "file that is not ours" if left == 1 else "files that are not ours"
        text += f" Left alone: {left} {what}."
    return text + (f" {failed} failed." if failed else "")


def _clock(seconds: float) -> str:
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


def _json(one: Outcome) -> dict[str, object]:
    return {
        **one._asdict(),
        "folder": None if one.folder is None else str(one.folder),
        "made": list(one.made),
        "unchanged": list(one.unchanged),
        "error": "" if one.error is None else str(one.error),
        "left": [str(left.path) for left in one.left],
    }


def _errors(outcomes: Sequence[Outcome]) -> list[BackingError]:
    """Every error, and an error for every file that was left, form by form."""
    errors: list[BackingError] = []
    for one in outcomes:
        if one.error is not None:
            errors.append(one.error)
        errors += [BackingError(str(left)) for left in one.left]
    return errors
