"""A chart's pages measured: where each piece of text and each stroke lies, in points.

PDFium (the PDF engine of a browser) reads the pages, so nothing here leans on the typesetter or
on the chart's own arithmetic. Boxes are of ink: a letter's is as tall as its shape.
"""

from __future__ import annotations

import ctypes
import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import pypdfium2
from pypdfium2 import raw

from backing.chart.typst_source import SIDE, TOP

#: A bar line at the edge of the type area is half outside it, and so are letters that overhang.
EDGE = 2.0
#: The type area ends at the capitals of its first line: accents and brackets rise above them.
RISE = 3.5
#: How deep two boxes may meet before one of them is overprinted.
TOUCH = 0.6
#: Boxes are compared with those of the same strips of the page, so many points tall.
BAND = 20
#: A blank at the start of a text, which the reader counts as part of its box, is as wide at least.
BLANK = 2.25
#: How far a letter may reach into the next one of its line, as slanted ones do.
OVERHANG = 2.0
#: Lines thinner than this lie under numbers and signs on purpose: strings, the line of a bar.
THIN = 0.45
#: The least distance from the line of one row to the line of the next.
ROW = 30.0
#: From string to string of tab, and how many strings it has at least.
STRING, FEWEST = 7.4, 4


class Box(NamedTuple):
    """What lies on a page; `y` counts up from the bottom of the paper."""

    left: float
    bottom: float
    right: float
    top: float
    text: str = ""
    seen: bool = True
    stroke: float = 0.0
    white: bool = False
    order: int = 0

    @property
    def flat(self) -> bool:
        """Whether this is a horizontal line."""
        return not self.text and 0 < self.stroke > self.top - self.bottom - 0.05

    @property
    def upright(self) -> bool:
        """Whether this is a vertical line."""
        return not self.text and 0 < self.stroke > self.right - self.left - 0.05

    @property
    def empty(self) -> bool:
        """Whether this is a blank, which has no ink."""
        return not self.seen and (self.right - self.left < 0.05 or not self.text.strip())

    def holds(self, other: Box) -> bool:
        """Whether the middle of another box lies in this one."""
        x, y = (other.left + other.right) / 2, (other.bottom + other.top) / 2
        return self.left < x < self.right and self.bottom < y < self.top

    def meets(self, other: Box) -> bool:
        """Whether the two lie on one another."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        if self.text and other.text and abs(self.order - other.order) == 1:
            wide -= OVERHANG
        tall = min(self.top, other.top) - max(self.bottom, other.bottom)
        return wide > self._touch(other, 0) and tall > self._touch(other, 1)

    def _touch(self, other: Box, side: int) -> float:
        """How far two boxes may meet across (0) or up (1); a thin line is met by its thickness."""
        sizes = (box[side + 2] - box[side] for box in (self, other))
        return min(TOUCH, 0.8 * min(sizes))


class Page(NamedTuple):
    """A page of so many points with what is on it."""

    width: float
    height: float
    boxes: tuple[Box, ...]

    @property
    def foot(self) -> list[Box]:
        """The line at the foot of the page, which is drawn last: title and page number."""
        at = max(
            (box.order for box in self.boxes if box.text and box.bottom >= TOP - EDGE), default=0
        )
        return [box for box in self.boxes if box.order > at and box.text] if self.numbered else []

    @property
    def body(self) -> list[Box]:
        """All but the line at the foot of the page."""
        foot = self.foot
        return [box for box in self.boxes if box not in foot]

    @property
    def numbered(self) -> bool:
        """Whether the page says at its end which of the pages it is."""
        texts = [box.text for box in self.boxes if box.text]
        return bool(texts) and re.search(r"page \d+ of \d+$", texts[-1].strip()) is not None


@lru_cache(maxsize=1)
def pages(pdf: bytes) -> Sequence[Page]:
    """What is on each page of a PDF."""
    document = pypdfium2.PdfDocument(pdf)
    found = []
    for page in document:
        width, height = page.get_size()
        letters = page.get_textpage()
        drawn = enumerate(page.get_objects(max_depth=1))
        boxes = [_box(each, letters)._replace(order=order) for order, each in drawn]
        boxes = [box for box in boxes if not box.empty]
        paper = [b for b in boxes if b.white and b.right - b.left > width - 1]
        assert len(paper) == 1, "the paper's own white"
        found.append(Page(width, height, tuple(b for b in boxes if b not in paper)))
    document.close()
    return found


def _box(each: pypdfium2.PdfObject, letters: pypdfium2.PdfTextPage) -> Box:
    left, bottom, right, top = each.get_bounds()
    red, green, blue, alpha = _color(each)
    if each.type == raw.FPDF_PAGEOBJ_TEXT:
        text = _text(each, letters)
        left += BLANK * (len(text) - len(text.lstrip()))
        return Box(left, bottom, right, top, text, bool(text.strip()) and alpha > 0)
    assert each.type == raw.FPDF_PAGEOBJ_PATH, "a chart has text and paths, nothing else"
    fill, stroke = ctypes.c_int(), ctypes.c_int()
    raw.FPDFPath_GetDrawMode(each, fill, stroke)
    wide = ctypes.c_float()
    raw.FPDFPageObj_GetStrokeWidth(each, wide)
    thick = wide.value if stroke.value else 0.0
    white = fill.value != 0 and not thick and (red, green, blue) == (255, 255, 255)
    half = thick / 2  # of a stroke lies outside its path; the reader counts all of it
    left, bottom, right, top = left + half, bottom + half, right - half, top - half
    return Box(left, bottom, right, top, stroke=thick, white=white)


def _color(each: pypdfium2.PdfObject) -> tuple[int, ...]:
    parts = [ctypes.c_uint() for _ in range(4)]
    raw.FPDFPageObj_GetFillColor(each, *parts)
    return tuple(part.value for part in parts)


def _text(each: pypdfium2.PdfObject, letters: pypdfium2.PdfTextPage) -> str:
    length = raw.FPDFTextObj_GetText(each, letters, None, 0)
    found = ctypes.create_string_buffer(length * 2)
    raw.FPDFTextObj_GetText(
        each, letters, ctypes.cast(found, ctypes.POINTER(raw.FPDF_WCHAR)), length
    )
    return found.raw[:length].decode("utf-16-le", "replace").rstrip("\0")


def faults(pdf: bytes) -> list[str]:
    """What is wrong with a chart's paper, as sentences: what lies outside, what is overprinted."""
    found = []
    for number, page in enumerate(pages(pdf), 1):
        sentences = [*_outside(page), *_overprinted(page), *_rows_meet(page)]
        found += [f"page {number}: {sentence}" for sentence in sentences]
    return found


def _outside(page: Page) -> Iterator[str]:
    for box in page.body:
        if not (
            box.left >= SIDE - EDGE
            and box.right <= page.width - SIDE + EDGE
            and box.bottom >= TOP - EDGE
            and box.top <= page.height - TOP + (RISE if box.text else EDGE)
        ):
            yield f"outside the type area: {box}"
    for box in page.foot:
        if box.left < SIDE - EDGE or box.right > page.width - SIDE + EDGE or box.bottom < TOP / 3:
            yield f"the foot of the page: {box}"


def _overprinted(page: Page) -> Iterator[str]:
    """Text on text, text on what is drawn, a bar line on another."""
    texts = [box for box in page.body if box.text and box.seen]
    drawn = [box for box in page.body if not box.text and not box.white and _solid(box)]
    white = [box for box in page.body if box.white]
    for one, other in _pairs(texts, texts):
        yield f"text on text: {one} {other}"
    for one, other in _pairs(texts, drawn):
        # Numbers of tab have white beneath them, which hides what was drawn there before.
        if not any(other.order < w.order < one.order and w.holds(one) for w in white):
            yield f"text on a sign: {one} {other}"
    for one, other in _pairs(lines := [box for box in drawn if box.upright], lines):
        yield f"a line on a line: {one} {other}"


def _solid(box: Box) -> bool:
    """Whether nothing may lie on it. Strings and the line of a bar may be written on."""
    return not (box.flat and box.stroke < THIN)


def _pairs(ones: Sequence[Box], others: Sequence[Box]) -> Iterator[tuple[Box, Box]]:
    """Those of each that meet; a pair once, also where both are the same boxes."""
    bands: dict[int, list[Box]] = {}
    for other in others:
        for band in _bands(other):
            bands.setdefault(band, []).append(other)
    for one in ones:
        near = {other.order: other for band in _bands(one) for other in bands.get(band, ())}
        for order, other in near.items():
            beside = other.left < one.right and one.left < other.right
            if beside and (ones is not others or order < one.order) and one.meets(other):
                yield one, other


def _bands(box: Box) -> range:
    """The strips of a page, so many points tall, that a box lies in."""
    return range(int(box.bottom // BAND), int(box.top // BAND) + 1)


def rows_of(page: Page) -> list[float]:
    """Where the rows of bars stand: the height of each one's line, the first row first."""
    flat = [box for box in page.body if box.flat and box.stroke < THIN]
    heights = sorted({round(box.top, 1) for box in flat}, reverse=True)
    staves = _staves(heights)
    return [height for height in heights if height not in staves]


def _staves(heights: Sequence[float]) -> set[float]:
    """The strings of tab: four to eight lines as far from each other as strings are."""
    found: set[float] = set()
    run: list[float] = []
    for height in heights:
        if not run or abs(run[-1] - height - STRING) >= 0.25:
            run = []
        run.append(height)
        if len(run) >= FEWEST:
            found |= set(run)
    return found


def _rows_meet(page: Page) -> Iterator[str]:
    for one, other in pairwise(rows_of(page)):
        if one - other < ROW:
            yield f"rows {one - other:.1f} points apart, at {one} and {other}"
