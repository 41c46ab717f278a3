"""`capo`: which capo positions let a song be played with open shapes."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

import click

from backing.commands.options import JSON
from backing.commands.printing import print_value, say

if TYPE_CHECKING:
    from backing.form import Form
    from backing.practice.capo_ranking import Place

_WIDTH = 80
_CHORDS_AT = 48  # where the column of chords starts


@click.command()
@click.argument("form", metavar="FORM")
@click.option("--easier", "for_beginner", is_flag=True, help="Use the easiest shape of each chord.")
@JSON
def capo(form: str, for_beginner: bool, as_json: bool) -> None:
    """Show which capo positions suit a song, the best first.

    The song keeps its key. Frets 0 to 7 are ranked by how much of the song is played with
    open shapes (an open string sounds, and no fret above the fourth is used), then by the
    effort of an average change: the fingers that move, how far the hand moves, and how hard
    the new shape is.

    In the table, "open chords" counts the open shapes among the song's different chords,
    "% of song" those among all the chords played.

    Example: backing capo starter.yaml
    """
    from backing.form import read_form
    from backing.practice.capo_ranking import places, plays_riffs

    song = read_form(form)
    found = places(song, for_beginner)
    if as_json:
        print_value(_json(song, found, for_beginner))
        return
    say(_head(song), "", *_table(found), "", *_shapes(found[0], for_beginner))
    if any(not chord.is_open for place in found for chord in place.chords):
        say("* not an open shape: no open string, or a finger above the fourth fret.")
    if plays_riffs(song):
        say(f"Riffs are tab for capo {song.capo}; they don't count here.")


def _head(song: Form) -> str:
    played = f"written with capo {song.capo}" if song.capo else "written without a capo"
    if song.key is None:
        return f"{song.title}: {played}"
    return f"{song.title}: sounds in {song.key.transposed(song.capo)}, {played}"


def _table(found: Sequence[Place]) -> list[str]:
    above = f"  {'':<14}{'':<5}{'open':>8}{'% of':>7}{'effort':>12}"
    head = f"  {'capo':<14}{'key':<5}{'chords':>8}{'song':>7}{'per change':>12}"
    lines = [above, f"{head:<{_CHORDS_AT}}  chords"]
    for place in found:
        capo_ = f"{place.capo}, as written" if place.own else str(place.capo)
        open_ = f"{place.open_chords} of {len(place.chords)}"
        row = (
            f"  {capo_:<14}{place.key or '-'!s:<5}{open_:>8}"
            f"{_percent(place.percent_of_song):>7}{place.effort_per_change:>12.1f}"
        )
        names = " ".join(chord.name + "*" * (not chord.is_open) for chord in place.chords)
        first, *others = wrap(
            names, _WIDTH - _CHORDS_AT - 2, break_long_words=False, break_on_hyphens=False
        )
        lines += [f"{row:<{_CHORDS_AT}}  {first}"]
        lines += [" " * (_CHORDS_AT + 2) + other for other in others]
    return lines


def _percent(percents: float) -> str:
    """A whole percentage: 100% only if all chords are open, 0% only if none is."""
    whole = round(percents)
    if 0 < percents < 100:
        whole = min(99, max(1, whole))
    return f"{whole}%"


def _shapes(place: Place, for_beginner: bool) -> list[str]:
    """A place's shapes; those for beginners one on each line, with what they leave out."""
    if for_beginner:
        name = max(len(chord.name) for chord in place.chords)
        frets = max(len(str(chord.fingering)) for chord in place.chords)
        lines = [
            f"  {chord.name:<{name}}  {chord.fingering!s:<{frets}}  {chord.left_out}".rstrip()
            for chord in place.chords
        ]
        return [f"Easiest shapes at capo {place.capo}:", *lines]
    # A chord and its shape stay on one line.
    shapes = ", ".join(f"{chord.name}\0{chord.fingering}" for chord in place.chords)
    lines = wrap(
        f"Shapes at capo {place.capo}: {shapes}",
        _WIDTH,
        subsequent_indent="  ",
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace("\0", " ") for line in lines]


def _json(song: Form, found: Sequence[Place], for_beginner: bool) -> dict[str, object]:
    return {
        "title": song.title,
        "capo": song.capo,
        "sounding_key": str(song.key.transposed(song.capo)) if song.key else None,
        "easier": for_beginner,
        "places": [
            {
                "capo": place.capo,
                "as_written": place.own,
                "key": str(place.key) if place.key else None,
                "open_chords": place.open_chords,
                "chords": len(place.chords),
                "percent_of_song": round(place.percent_of_song, 2),
                "effort_per_change": round(place.effort_per_change, 4),
                "shapes": [
                    {
                        "chord": chord.name,
                        "shape": str(chord.fingering),
                        "open": chord.is_open,
                        "times": chord.times,
                        "left_out": chord.left_out,
                    }
                    for chord in place.chords
                ],
            }
            for place in found
        ],
    }
