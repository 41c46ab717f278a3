"""The picture of the rooms in DEVELOPERS.md, written as SVG with nothing but text.

    python .pictures/architecture.py .pictures/architecture.svg

Data flows from left to right: a song's text comes in on the left, files go out on the right.
A room in the bands above calls what is below it; those in the band at the bottom serve all.
"""

from __future__ import annotations

import sys
from html import escape
from pathlib import Path
from typing import NamedTuple

WIDTH, HEIGHT = 1100, 640
INK, QUIET, ACCENT, PAPER, SHADE = "#1a1a1a", "#666666", "#8b2e2e", "#ffffff", "#f4f2ee"


class Box(NamedTuple):
    """A room (or, without a fill, a file) by its top left corner, in pixels."""

    x: int
    y: int
    width: int
    height: int
    name: str
    says: tuple[str, ...] = ()
    is_file: bool = False

    @property
    def middle(self) -> tuple[float, float]:
        return self.x + self.width / 2, self.y + self.height / 2


BOXES = {
    "cli": Box(40, 20, 1020, 50, "cli.py   commands/   console/", ("arguments, messages, tables",)),
    "lesson": Box(40, 84, 320, 50, "lesson/", ("a week's folder, a course",)),
    "tracks": Box(374, 84, 686, 50, "tracks/", ("versions as files, many at once",)),
    "yaml": Box(40, 310, 100, 44, "song.yaml", is_file=True),
    "form": Box(180, 300, 120, 64, "form/", ("what was written,", "and every mistake")),
    "timeline": Box(350, 300, 120, 64, "timeline.py", ("tempo_map.py", "order and times")),
    "players": Box(520, 300, 120, 64, "players/", ("who plays what",)),
    "score": Box(690, 300, 120, 64, "score.py", ("notes and tracks",)),
    "practice": Box(350, 228, 290, 44, "practice/", ("versions, loops, ladders, keys, capo",)),
    "chart": Box(690, 156, 170, 50, "chart/", ("form to pages",)),
    "midi": Box(860, 300, 90, 64, "midi/", ("the only place", "with ticks")),
    "audio": Box(860, 384, 90, 44, "audio/", ("sound",)),
    "page": Box(860, 228, 90, 50, "page/", ("in a browser",)),
    "pdf": Box(970, 159, 90, 44, ".pdf .svg .png", is_file=True),
    "html": Box(970, 231, 90, 44, ".html", is_file=True),
    "mid": Box(970, 310, 90, 44, ".mid", is_file=True),
    "wav": Box(970, 384, 90, 44, ".wav .mp3 …", is_file=True),
    "verify": Box(
        180, 460, 770, 54, "verify/",
        ("works out from the form, a second time, what should be in each file;"
         " reads the file; compares",),
    ),
    "base": Box(
        40, 560, 1020, 54, "theory/   text/   system/   errors.py",
        ("facts of music · times, widths and counts in words · files and processes",),
    ),
}  # fmt: skip
#: From a box to a box: from the right side to the left one, or down or up where they are stacked.
ARROWS = (
    ("yaml", "form"),
    ("form", "timeline"),
    ("timeline", "players"),
    ("players", "score"),
    ("score", "midi"),
    ("midi", "mid"),
    ("audio", "wav"),
    ("page", "html"),
    ("chart", "pdf"),
)
#: Lines with corners, as SVG has them.
PATHS = (
    "M 240 300 V 181 H 690",  # form to chart
    "M 410 300 V 272",  # timeline to practice and back
    "M 580 272 V 300",  # practice to players
    "M 750 300 V 253 H 860",  # score to page
    "M 750 364 V 406 H 860",  # score to audio
    "M 240 364 V 460",  # form to verify
    "M 1015 354 V 487 H 950",  # MIDI and audio files to verify
)


def box(one: Box) -> str:
    """A room as a rectangle with its name in bold, or a file in the accent color, framed."""
    x, y = one.middle
    stroke, fill = (ACCENT, PAPER) if one.is_file else (INK, SHADE)
    parts = [
        f'<rect x="{one.x}" y="{one.y}" width="{one.width}" height="{one.height}" rx="3"'
        f' fill="{fill}" stroke="{stroke}"/>'
    ]
    lines = [(one.name, 15, "normal" if one.is_file else "bold", ACCENT if one.is_file else INK)]
    lines += [(text, 12, "normal", QUIET) for text in one.says]
    top = y - (len(lines) - 1) * 8 + 5
    for at, (text, size, weight, color) in enumerate(lines):
        size = 12 if one.is_file and len(text) > 10 else size
        parts.append(
            f'<text x="{x:g}" y="{top + at * 16:g}" font-size="{size}" font-weight="{weight}"'
            f' fill="{color}" xml:space="preserve">{escape(text)}</text>'
        )
    return "\n".join(parts)


def arrow(start: Box, end: Box) -> str:
    """A straight arrow from the right side of a box to the left side of another."""
    y = start.middle[1]
    return path(f"M {start.x + start.width} {y:g} H {end.x}")


def path(points: str) -> str:
    """A line that ends in an arrowhead."""
    return f'<path d="{points}" fill="none" stroke="{INK}" marker-end="url(#head)"/>'


def picture() -> str:
    """The whole SVG."""
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}"'
        f' height="{HEIGHT}" font-family="sans-serif" text-anchor="middle">\n'
        "<title>The rooms of backing, and how a song becomes files</title>\n"
        '<defs><marker id="head" viewBox="0 0 8 8" refX="8" refY="4" markerWidth="8"'
        f' markerHeight="8" orient="auto"><path d="M 0 0 L 8 4 L 0 8 z" fill="{INK}"/>'
        "</marker></defs>\n"
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="{PAPER}"/>'
    )
    lines = [arrow(BOXES[start], BOXES[end]) for start, end in ARROWS]
    lines += [path(points) for points in PATHS]
    return "\n".join([head, *lines, *(box(one) for one in BOXES.values()), "</svg>\n"])


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(picture(), encoding="utf-8")
