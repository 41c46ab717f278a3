"""Letters that the typesetter's own fonts lack: whether the machine's fonts have them.

The typesetter brings Latin, Greek, Cyrillic and Hebrew. If a form has other letters, the
machine's fonts are used as well, and the typesetter is asked which letters no font has: those
that look exactly like a letter that is in no font.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import NamedTuple
from unicodedata import bidirectional, category, name

from backing.chart.records import Chart

#: Code points that the typesetter's text font covers (looked up there).
OWN = ((0x20, 0x24F), (0x2BB, 0x2DD), (0x370, 0x3FF), (0x400, 0x4FF), (0x5D0, 0x5EA),
       (0x1E00, 0x1EFF), (0x2010, 0x2044), (0x266D, 0x266F))  # fmt: skip

#: The languages that can be told for certain from a title's letters.
_LANGUAGES = {"HEBREW": "he", "ARABIC": "ar", "HIRAGANA": "ja", "KATAKANA": "ja", "HANGUL": "ko",
              "THAI": "th", "GREEK": "el", "ARMENIAN": "hy", "GEORGIAN": "ka"}  # fmt: skip

_ASK = """
#set page(width: auto, height: auto)
#set text(font: "Libertinus Serif", size: 100pt, top-edge: "bounds", bottom-edge: "bounds")
#context {
  let size(letter) = { let m = measure(text(letter)); (m.width, m.height) }
  let none-has = size("\\u{10fffd}")
  [#metadata(LETTERS.filter(letter => size(letter) == none-has))<lacking>]
}
"""


class Fonts(NamedTuple):
    """Whether the machine's fonts are needed, and sentences for the user."""

    of_system: bool = False
    warnings: tuple[str, ...] = ()


def fonts_for(chart: Chart) -> Fonts:
    """What a chart's letters need."""
    foreign = sorted({letter for text in _texts(chart) for letter in text if not _is_own(letter)})
    if not foreign:
        return Fonts()
    lacking = _lacking(foreign)
    if not lacking:
        return Fonts(True)
    scripts = dict.fromkeys(script(letter) for letter in lacking)
    shown = "".join(lacking[:8]) + ("…" if len(lacking) > 8 else "")
    warning = (
        f"no font here has {shown} ({', '.join(scripts).lower()}), so the chart shows boxes "
        "instead. Install a font for that script and make the chart again."
    )
    return Fonts(True, (warning,))


def language(text: str) -> str:
    """The language of a text, where its letters show it; otherwise English, the chart's own."""
    found = {script(letter) for letter in text if letter.isalpha()}
    return next((code for script_, code in _LANGUAGES.items() if script_ in found), "en")


def leftward(text: str) -> bool:
    """Whether a text runs from right to left, by its first letter (Unicode UAX #9, P2)."""
    strong = (bidirectional(letter) for letter in text)
    return next((kind in ("R", "AL") for kind in strong if kind in ("L", "R", "AL")), False)


def script(letter: str) -> str:
    """The first word of a letter's Unicode name: HEBREW, CJK."""
    return name(letter, "UNKNOWN").split()[0].split("-")[0]


def _texts(chart: Chart) -> Iterator[str]:
    yield from (chart.head.title, chart.head.by, *chart.head.notes)
    for stop in chart.roadmap:
        yield from (stop.name, stop.details, stop.note)
    for block in chart.blocks:
        yield block.name
        yield from (line.text for line in block.lines)
        yield from block.verses
        yield from (text for row in block.rows for bar in row for text in bar.words)


def _is_own(letter: str) -> bool:
    return category(letter)[0] in "MZC" or any(low <= ord(letter) <= high for low, high in OWN)


def _lacking(letters: list[str]) -> list[str]:
    """Those of some letters that no font here has."""
    from backing.chart.typesetter import ask
    from backing.chart.typst_literal import literal

    return list(json.loads(ask(_ASK.replace("LETTERS", literal(letters)), "<lacking>")))
