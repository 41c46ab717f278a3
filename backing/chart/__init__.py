"""The chart: a form's page for a musician's stand, as PDF, SVG or PNG."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from backing.chart.records import ChartOptions
    from backing.form import Form

__all__ = ["DrawnChart", "draw", "draw_chart"]


class DrawnChart(NamedTuple):
    """A chart's files (one PDF, or one file for each page) and sentences for the user."""

    files: tuple[bytes, ...]
    warnings: tuple[str, ...]


def draw(form: Form, options: ChartOptions | None = None) -> bytes:
    """A form's chart as a PDF; raises as `draw_chart` does."""
    return draw_chart(form, options).files[0]


def draw_chart(form: Form, options: ChartOptions | None = None, kind: str = "pdf") -> DrawnChart:
    """A form's chart, ready to print.

    >>> import backing
    >>> form = backing.read_form("song.yaml")
    >>> made = backing.draw_chart(form, backing.ChartOptions(paper="letter"))
    >>> made.files[0][:5]
    b'%PDF-'

    Args:
        form: as read.
        options: the paper and what is on it; None is everything that is usual, on A4.
        kind: pdf, svg or png (150 dots an inch).

    Raises:
        BackingError: the typesetter isn't installed.
    """
    from backing.chart.drawing import drawing
    from backing.chart.fonts import fonts_for
    from backing.chart.typesetter import typeset
    from backing.chart.typst_source import source

    chart = drawing(form, options)
    fonts = fonts_for(chart)
    return DrawnChart(typeset(source(chart), kind, fonts.of_system), fonts.warnings)
