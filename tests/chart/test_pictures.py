"""Three charts against pictures that a person has checked, with a tolerance.

To take new ones after looking at them: python tests/chart/test_pictures.py
"""

from __future__ import annotations

from pathlib import Path

import pytest
from chart.reading import ROOT, picture

from backing.chart.drawing import drawing
from backing.chart.records import ChartOptions
from backing.chart.typesetter import typeset
from backing.chart.typst_source import source
from backing.form import read_form

PICTURES = Path(__file__).parent / "pictures"
DOTS = 48
#: Gray of squares of 6 dots (an eighth of an inch) may differ by so much of 255 ...
MOST, CELL = 40, 6
#: ... and on the mean over the page by so much.
MOST_MEAN = 0.6

CHARTS = {
    "orchard-wall": (ROOT / "forms" / "orchard-wall.yaml", ChartOptions()),
    "gatepost-blues": (
        ROOT / "forms" / "gatepost-blues.yaml",
        ChartOptions(paper="letter", times=True),
    ),
    "seven-eight": (
        Path(__file__).parent / "forms" / "seven-eight.yaml",
        ChartOptions(left_handed=True),
    ),
}


def _printed(name: str) -> bytes:
    path, options = CHARTS[name]
    return typeset(source(drawing(read_form(path), options)), "png", dots=DOTS)[0]


def _differences(one: bytes, other: bytes) -> tuple[float, float]:
    """The worst and the mean difference of the squares' grays."""
    left, right = picture(one), picture(other)
    assert (left.width, left.height) == (right.width, right.height)
    each = [abs(a - b) for a, b in zip(left.cells(CELL), right.cells(CELL), strict=True)]
    return max(each), sum(each) / len(each)


@pytest.mark.parametrize("name", CHARTS)
def test_a_chart_looks_as_before(name: str) -> None:
    worst, mean = _differences(_printed(name), (PICTURES / f"{name}.png").read_bytes())
    assert worst <= MOST
    assert mean <= MOST_MEAN


def test_the_tolerance_is_too_small_for_a_mirrored_box() -> None:
    path, _ = CHARTS["seven-eight"]
    other = typeset(source(drawing(read_form(path))), "png", dots=DOTS)[0]
    worst, _ = _differences(other, (PICTURES / "seven-eight.png").read_bytes())
    assert worst > MOST


if __name__ == "__main__":
    PICTURES.mkdir(exist_ok=True)
    for each in CHARTS:
        (PICTURES / f"{each}.png").write_bytes(_printed(each))
