"""A page of text with a margin on the left, none of its lines wider than the page."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from backing.text.printable import printable
from backing.text.width import width

MARGIN = 12

Paint = Callable[[str, str], str]
_STYLES = {"title": {"bold": True}, "label": {"fg": "cyan", "bold": True}, "quiet": {"dim": True}}


class Line(NamedTuple):
    """One line: the margin, the text, and its style (title, label, quiet or none)."""

    margin: str = ""
    text: str = ""
    style: str = ""


class TextPage:
    """Lines as they are added, none wider than the page.

    Args:
        columns: how wide the page is.
        paint: a text and its style to what is printed, `plain` or `colored`.
    """

    def __init__(self, columns: int, paint: Paint) -> None:
        self.columns, self.paint = columns, paint
        self.lines: list[str] = []

    @property
    def room(self) -> int:
        """Columns beside the margin."""
        return self.columns - MARGIN

    def gap(self) -> None:
        """Add a blank line, never two in a row."""
        if self.lines and self.lines[-1]:
            self.lines.append("")

    def across(self, text: str, style: str = "") -> None:
        """Add text from the page's left edge."""
        self.lines += [self.paint(line, style) for line in _wrapped(text, self.columns)]

    def write(self, line: Line) -> None:
        """Add text beside the margin, on as many lines as it takes."""
        margin = _margin(line.margin)
        for text in _wrapped(line.text, self.room):
            self.lines.append((self.paint(margin, "quiet") + self.paint(text, line.style)).rstrip())
            margin = _margin("")

    def heading(self, time: str, name: str, details: Sequence[str], end: str) -> None:
        """Add a heading: its time in the margin, its name, details, and `end` at the right edge.

        Details that don't fit on the line go below it.
        """
        margin = self.paint(_margin(time), "quiet")
        rest = "".join(f", {printable(detail)}" for detail in details)
        if width(name + rest) + 2 + width(end) > self.room:
            rest = ""
        *names, last = _wrapped(name, self.room - 2 - width(end))
        for line in names:
            self.lines.append(margin + self.paint(line, "label"))
            margin = _margin("")
        fill = " " * (self.room - width(last + rest) - width(end)) if end else ""
        self.lines.append(
            margin + self.paint(last, "label") + rest + fill + self.paint(end, "quiet")
        )
        if details and not rest:
            self.write(Line(text=", ".join(details)))

    def bars(
        self,
        rows: Sequence[Sequence[str]],
        widths: Sequence[int] = (),
        margin: str = "",
        cues: Sequence[str] = (),
    ) -> None:
        """Add rows of bars, as wide as `bar_widths` says; each cue stands after its row."""
        for index, row in enumerate(rows):
            *lines, last = _row(row, widths, self.room)
            cue = printable(cues[index]) if index < len(cues) else ""
            beside = cue and width(last) + 2 + width(cue) <= self.room
            for line in [*lines, last + (f"  {self.paint(cue, 'quiet')}" if beside else "")]:
                self.lines.append(self.paint(_margin(margin), "quiet") + line)
                margin = ""
            if cue and not beside:
                self.write(Line(text=cue, style="quiet"))


def bar_widths(rows: Sequence[Sequence[str]], room: int) -> list[int]:
    """How wide the first, the second ... bar of every row must be for the bar lines to line up.

    Returns:
        The widths, or an empty list where such rows would be wider than `room`.
    """
    longest = max(map(len, rows))
    if len(rows) < 2 or longest > room // 4:
        return []
    widths = [max(width(row[at]) for row in rows if at < len(row)) for at in range(longest)]
    return widths if sum(widths) + 3 * len(widths) + 1 <= room else []


def plain(text: str, style: str) -> str:
    """Text without any style."""
    return text


def colored(text: str, style: str) -> str:
    """Text styled for a terminal."""
    from click import style as styled

    return styled(text, **_STYLES[style]) if style and text.strip() else text  # type: ignore[arg-type]


def _margin(text: str) -> str:
    return f"{text:>{MARGIN - 2}}  "


def _row(bars: Sequence[str], widths: Sequence[int], room: int) -> Iterator[str]:
    """A row on one line, or in fours, or with as many bars a line as fit."""
    if widths:
        padded = [bar + " " * (wide - width(bar)) for bar, wide in zip(bars, widths, strict=False)]
        yield _bar_line(padded)
    elif width(_bar_line(bars)) <= room:
        yield _bar_line(bars)
    elif len(bars) > 4:
        for at in range(0, len(bars), 4):
            yield from _row(bars[at : at + 4], (), room)
    elif len(bars) > 1:
        half = len(bars) // 2
        yield from _row(bars[:half], (), room)
        yield from _row(bars[half:], (), room)
    else:
        yield from _wrapped(_bar_line(bars), room)


def _bar_line(bars: Sequence[str]) -> str:
    return f"| {' | '.join(bars)} |"


def _wrapped(text: str, room: int) -> list[str]:
    """Printable text in lines of at most `room` columns, broken at blanks, and in wider words."""
    lines = [""]
    for word in map(printable, text.split()):
        if lines[-1] and width(f"{lines[-1]} {word}") <= room:
            lines[-1] += f" {word}"
            continue
        if lines[-1]:
            lines.append("")
        if width(word) <= room:
            lines[-1] = word
            continue
        for letter in word:
            if width(lines[-1] + letter) > room:
                lines.append("")
            lines[-1] += letter
    return lines
