"""A chart as the typesetter's source: our template, and the chart's data as a literal."""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files
from typing import Any

from backing.chart.fonts import language, leftward
from backing.chart.records import Block, Chart, Line
from backing.chart.riff_tab import REST
from backing.chart.rows import rows, scale
from backing.chart.shape_boxes import box
from backing.chart.spacing import CHORD_SIZE
from backing.chart.typst_literal import literal
from backing.text.times import clock
from backing.theory.rhythm import note_value_text

#: Width and height in points.
PAPERS = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
SIDE, TOP = 40.0, 36.0
MARGIN, GUTTER = 82.0, 10.0  # the column of names, and what parts it from the bars
#: The template's files; each uses those before it.
TEMPLATES = ("signs", "pages", "bars", "blocks", "roadmap", "whole_chart")


def source(chart: Chart) -> str:
    """The whole source of a chart's pages."""
    width, height = PAPERS[chart.options.paper]
    column = width - 2 * SIDE - MARGIN - GUTTER
    points = scale(chart.blocks, column)
    data = {
        "paper": (width, height),
        "side": SIDE,
        "top": TOP,
        "margin": MARGIN,
        "gutter": GUTTER,
        "largest": CHORD_SIZE,
        "head": {
            "title": chart.head.title,
            "lang": language(chart.head.title),
            "leftward": leftward(chart.head.title),
            "by": chart.head.by,
            "tempo": _line(chart.head.tempo),
            "facts": chart.head.facts,
            "notes": chart.head.notes,
        },
        "roadmap": [
            {
                "bar": str(stop.bar),
                "time": clock(stop.seconds, decimals=0) if chart.options.times else "",
                "name": stop.name,
                "leftward": leftward(stop.name),
                "details": stop.details,
                "bars": stop.bars,
                "note": stop.note,
            }
            for stop in chart.roadmap
        ],
        "times": chart.options.times,
        "total": chart.total,
        "blocks": [_block(block, column, points) for block in chart.blocks],
        "shapes": [box(shape, chart.options.left_handed) for shape in chart.shapes],
        "shapes-note": chart.shapes_note,
        "left-handed": chart.options.left_handed,
        "legend": sorted(_marks(chart)),
    }
    return f"{_template()}\n#chart({literal(data)})\n"


@lru_cache(maxsize=1)
def _template() -> str:
    room = files("backing.chart")
    return "\n".join(room.joinpath(f"{name}.typ").read_text("utf-8") for name in TEMPLATES)


def _block(block: Block, column: float, points: float) -> dict[str, Any]:
    return {
        "name": block.name,
        "lines": [_line(line) for line in block.lines],
        "rows": [
            {
                "items": row.items,
                "verses": row.verses,
                "brackets": row.brackets,
                "strokes": row.strokes,
                "staves": row.staves,
                "above": row.above,
                "below": row.below,
            }
            for row in rows(block, column, points)
        ],
    }


def _line(line: Line) -> dict[str, Any]:
    beat = note_value_text(line.beat) if line.beat is not None else ""
    return {
        "kind": line.kind,
        "text": line.text,
        "beat": beat,
        "how": line.how,
        "to": line.to,
        "over": line.over,
    }


def _marks(chart: Chart) -> set[str]:
    """The signs that the chart uses and a student may not know."""
    bars = [bar for block in chart.blocks for row in block.rows for bar in row]
    kinds = {sign.kind for bar in bars for sign in bar.signs}
    known = kinds & {"push", "stopped", "ringing", "simile"}
    moves = {one.move for bar in bars for one in bar.strokes}
    if moves & {"D", "U"}:
        known.add("strokes")
    if moves & {"p", "p2"}:
        known.add("thumb")
    if "x" in moves:
        known.add("damped")
    frets = [fret for bar in bars for tab in bar.tabs if tab for fret in tab.frets]
    of_frets = {
        "fingers": any(fret.finger for fret in frets),
        "ghosts": any(fret.text.startswith("(") and not fret.held for fret in frets),
        "held": any(fret.held for fret in frets),
        "harmonics": any(fret.text.startswith("<") for fret in frets),
        "palm": any(fret.muted for fret in frets),
        "rolled": any(fret.rolled for fret in frets),
        "short": any("." in fret.after for fret in frets)
        or any(stroke.short for bar in bars for stroke in bar.strokes),
        "string-rests": any(fret.text == REST for fret in frets),
    }
    return known | {sign for sign, is_used in of_frets.items() if is_used}
