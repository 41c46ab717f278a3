"""A picture of the guitar part: each note on its string over time, darker if it is louder.

    python .pictures/strings.py FORM.yaml OUT.png [FIRST-LAST bars]

Needs the extra `picture`. Draws the picture in DEVELOPERS.md.
"""

from __future__ import annotations

import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

from backing.form import read_form
from backing.form.model import Form
from backing.players import play
from backing.score import Note
from backing.theory.pitch import note_name
from backing.timeline import Timeline, unroll

HUE = "Blues"
LIGHTEST, DARKEST = 0.3, 1.0


def draw(form: Form, path: str | Path, bars: tuple[int, int], part: str = "guitar") -> None:
    """Draw the notes of a part that begin in these bars (first, last; from 1) as a PNG or SVG."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import colormaps, pyplot

    timeline = unroll(form)
    start, end = timeline.bars[bars[0] - 1].start_whole, timeline.bars[bars[1] - 1].end_whole
    notes = [note for note in _notes(timeline, part) if start <= note.start_whole < end]
    loudest = max(note.velocity for note in notes)
    softest = min(note.velocity for note in notes)
    figure, axes = pyplot.subplots(figsize=(10, 2.8), layout="constrained")
    for note in notes:
        share = (note.velocity - softest) / max(1, loudest - softest)
        color = colormaps[HUE](LIGHTEST + (DARKEST - LIGHTEST) * share)
        left, right = float(note.start_whole - start), float(min(note.end_whole, end) - start)
        string = note.string or 0
        axes.barh(string, right - left, 0.55, left, color=color, linewidth=0)
        axes.plot([left, left], [string - 0.36, string + 0.36], color=color, linewidth=1.4)
    _label(axes, timeline, start, bars)
    figure.savefig(path, dpi=144, metadata={"Software": None})
    pyplot.close(figure)


def _notes(timeline: Timeline, part: str) -> list[Note]:
    tracks = [track for track in play(timeline).tracks if track.part == part]
    return [note for track in tracks for note in track.notes if note.string is not None]


def _label(axes: Any, timeline: Timeline, start: Fraction, bars: tuple[int, int]) -> None:
    """Name the strings, number the bar lines, and write the chords above."""
    shown = timeline.bars[bars[0] - 1 : bars[1]]
    names = [note_name(pitch) for pitch in reversed(timeline.form.tuning)]
    axes.set_yticks(range(1, 7), names)
    axes.set_ylim(6.6, 0.4)
    axes.set_ylabel("string")
    edges = [float(bar.start_whole - start) for bar in shown]
    axes.set_xticks(edges, [f"bar {bar.number}" for bar in shown], ha="left")
    axes.set_xlim(0, float(shown[-1].end_whole - start))
    for span in timeline.spans:
        if shown[0].start_whole <= span.slot_whole < shown[-1].end_whole:
            name = str(span.chord) if span.chord else "N.C."
            axes.text(float(span.slot_whole - start), 0.3, name, va="bottom")
    axes.grid(axis="x", color="0.8")
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)
    axes.tick_params(length=0)


def main(arguments: list[str]) -> None:
    """Draw what the command line asks for."""
    form, path = arguments[:2]
    first, _, last = (arguments[2] if len(arguments) > 2 else "1-4").partition("-")
    draw(read_form(form), path, (int(first), int(last or first)))


if __name__ == "__main__":
    main(sys.argv[1:])
