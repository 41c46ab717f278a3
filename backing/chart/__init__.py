"""The chart: a form's page for a musician's stand, as PDF, SVG or PNG.

data = backing.chart.draw(form)                                # one PDF
made = backing.chart.make(form, Options(paper="letter"), "png")  # pages and remarks
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from backing.chart.records import Options
    from backing.form import Form

__all__ = ["Made", "draw", "make"]


class Made(NamedTuple):
    """A chart's files (one PDF, or a file a page) and sentences for the user."""

    files: tuple[bytes, ...]
    remarks: tuple[str, ...]


def draw(form: Form, options: Options | None = None) -> bytes:
    """A form's chart as a PDF.

    Raises:
        BackingError: the typesetter is not installed.
    """
    return make(form, options).files[0]


def make(form: Form, options: Options | None = None, kind: str = "pdf") -> Made:
    """A form's chart.

    Args:
        form: as read.
        options: the paper and what is on it; all of it on A4 by default.
        kind: pdf, svg or png.

    Raises:
        BackingError: the typesetter is not installed.
    """
    from backing.chart.drawing import drawing
    from backing.chart.fonts import fonts_for
    from backing.chart.typesetter import typeset
    from backing.chart.typst_source import source

    chart = drawing(form, options)
    fonts = fonts_for(chart)
    return Made(typeset(source(chart), kind, fonts.of_system), fonts.remarks)
