"""A form as a person would sketch it on paper: sections in order, bars in the writer's rows.

    0:06.0  Chorus 1 (1 of 2)                              bars 13-18, 0:18.0
            | Cadd9 | D | G/B | Em7 |
  ending 1  | Am7   | Dsus4 D |
  ending 2  | D     | G       |
    0:24.0  Chorus 1 (2 of 2), ending 2                    bars 19-24, 0:18.0

A section's bars are written out where it first plays; later passes refer back to it. Times
count from the start of the file, to a tenth of a second, in the margin; lengths stand at the
end of the line.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import islice
from typing import NamedTuple, TextIO

from backing.console.proof_table import totals
from backing.form.bars import print_bar
from backing.form.model import Entry, Feel, Form, Rows, Section, Settings, Tempo
from backing.form.passes import ending_of, labels, passes_played
from backing.form.printer import number
from backing.text.width import width
from backing.theory.rhythm import note_value_text
from backing.verify import Expected
from backing.verify.expected import ExpectedPass

WIDTH = 80
NARROWEST, WIDEST = 40, 100
MARGIN = 12
#: Passes of one line that are listed; of more, the first few and the last.
MOST_PASSES = 6

Paint = Callable[[str, str], str]
_STYLES = {"title": {"bold": True}, "label": {"fg": "cyan", "bold": True}, "quiet": {"dim": True}}


class _Line(NamedTuple):
    """One line of the sketch: the margin, the text and how it looks."""

    margin: str = ""
    text: str = ""
    style: str = ""


def sketch(form: Form, expected: Expected, columns: int = WIDTH, color: bool = False) -> str:
    """The sketch of a form.

    Args:
        form: as read.
        expected: what it comes to.
        columns: how wide a line may be, 40 at the least.
        color: whether to style it for a terminal.
    """
    paint = _painted if color else _plain
    page = _Page(max(NARROWEST, columns), paint)
    page.across(form.title + (f", by {form.by}" if form.by else ""), "title")
    page.across(", ".join(_facts(form)))
    if form.settings.note:
        page.across(form.settings.note, "quiet")
    _pickup(page, form, expected)
    rows = iter(expected.passes)
    shown: dict[str, str] = {}
    for entry, label in zip(form.entries, labels(form), strict=True):
        section = form.sections[entry.section]
        passes = list(islice(rows, passes_played(entry, section)))
        if section.name not in shown or page.written_out:
            page.gap()
        page.written_out = section.name not in shown
        _entry(page, entry, section, passes, shown.get(section.name))
        shown.setdefault(section.name, label)
    page.gap()
    if unplayed := [name for name in form.sections if name not in shown]:
        page.across(f"Not in the form list: {', '.join(unplayed)}")
    page.across(totals(expected))
    return "\n".join(page.lines)


def page_width(stream: TextIO) -> int:
    """80 columns; on a terminal as many as it has, up to 100."""
    if not stream.isatty():
        return WIDTH
    from shutil import get_terminal_size

    return min(get_terminal_size((WIDTH, 24)).columns, WIDEST)


def wants_color(stream: TextIO, environment: Mapping[str, str] = os.environ) -> bool:
    """Whether to style: on a terminal that can, unless NO_COLOR says anything (no-color.org)."""
    dumb = environment.get("TERM") == "dumb"
    return stream.isatty() and not dumb and not environment.get("NO_COLOR")


class _Page:
    """Lines as they gather, none wider than the page."""

    def __init__(self, columns: int, paint: Paint) -> None:
        self.columns, self.paint = columns, paint
        self.lines: list[str] = []
        #: Whether the line of the form before had its section written out.
        self.written_out = False

    def gap(self) -> None:
        """A blank line, never two."""
        if self.lines and self.lines[-1]:
            self.lines.append("")

    def across(self, text: str, style: str = "") -> None:
        """Text from the page's left edge."""
        self.lines += [self.paint(line, style) for line in _wrapped(text, self.columns)]

    def write(self, line: _Line) -> None:
        """Text beside the margin, on as many lines as it takes."""
        margin = f"{line.margin:>{MARGIN - 2}}  "
        for text in _wrapped(line.text, self.columns - MARGIN):
            self.lines.append((self.paint(margin, "quiet") + self.paint(text, line.style)).rstrip())
            margin = " " * MARGIN

    def heading(self, time: str, name: str, said: Sequence[str], end: str) -> None:
        """A pass: its time, its name, what is said of it, and its bars at the line's end."""
        room = self.columns - MARGIN
        margin = self.paint(f"{time:>{MARGIN - 2}}  ", "quiet")
        rest = "".join(f", {one}" for one in said)
        if width(name + rest) + 2 + width(end) > room:
            rest = ""
        *names, last = _wrapped(name, room - 2 - width(end))
        for line in names:
            self.lines.append(margin + self.paint(line, "label"))
            margin = " " * MARGIN
        fill = " " * (room - width(last + rest) - width(end)) if end else ""
        self.lines.append(
            margin + self.paint(last, "label") + rest + fill + self.paint(end, "quiet")
        )
        if said and not rest:
            self.write(_Line(text=", ".join(said)))

    def bars(
        self, rows: Rows, widths: Sequence[int], margin: str = "", cues: Sequence[str] = ()
    ) -> None:
        """Rows of bars as wide as `_columns` says; a cue after its row."""
        room = self.columns - MARGIN
        for index, row in enumerate(rows):
            *lines, last = _row([print_bar(bar) for bar in row], widths, room)
            cue = cues[index] if index < len(cues) else ""
            beside = cue and width(last) + 2 + width(cue) <= room
            for line in [*lines, last + (f"  {self.paint(cue, 'quiet')}" if beside else "")]:
                self.lines.append(self.paint(f"{margin:>{MARGIN - 2}}  ", "quiet") + line)
                margin = ""
            if cue and not beside:
                self.write(_Line(text=cue, style="quiet"))


# What is said of a song, a line of the form and a pass


def _facts(form: Form) -> Iterator[str]:
    if form.key is not None:
        yield f"key {form.key}"
    if form.capo:
        yield f"capo {form.capo}"
    yield str(form.meter)
    yield from _said(form.settings, skip="meter")


def _said_of(entry: Entry, section: Section, number_: int, like: str | None) -> Iterator[str]:
    """What sets a pass apart: from its section as written out under `like`, or from the song."""
    if like is not None and number_ == 1:
        yield f"as {like}"
    ending = ending_of(entry, section, number_)
    if ending is not None and entry.bars is None:
        yield f"ending {ending}"
    if number_ > 1:
        return
    if entry.bars is not None and entry.label is not None:
        yield f"its {_bars(entry.bars[0], entry.bars[1] - entry.bars[0] + 1)}"
    if entry.transpose:
        yield f"moved {entry.transpose:+d}"
    yield from _said(entry.settings.under(section.settings) if like is None else entry.settings)


def _said(settings: Settings, skip: str = "") -> Iterator[str]:
    """Meter, tempo, feel and loudness in words."""
    if settings.meter is not None and skip != "meter":
        yield f"in {settings.meter}"
    if settings.tempo is not None:
        yield from _tempo(settings.tempo)
    if settings.feel is not None:
        yield _feel(settings.feel)
    if settings.dynamic is not None:
        yield settings.dynamic


def _tempo(tempo: Tempo) -> Iterator[str]:
    if tempo.bpm is not None and tempo.beat_whole is not None:
        yield f"{note_value_text(tempo.beat_whole)} = {number(tempo.bpm)}"
    if tempo.to_bpm is not None and tempo.over_bars is not None:
        which = "first" if tempo.from_first else "last"
        over = "bar" if tempo.over_bars == 1 else f"{tempo.over_bars} bars"
        yield f"to {number(tempo.to_bpm)} over the {which} {over}"


def _feel(feel: Feel) -> str:
    if feel == Feel():
        return "straight"
    ratio = feel.ratio
    said = "by tempo" if ratio is None else f"{ratio.numerator}/{ratio.denominator}"
    return f"swing {said}" + (" on 1/16" if feel.level_whole == Fraction(1, 16) else "")


# Bars


def _pickup(page: _Page, form: Form, expected: Expected) -> None:
    """The bar before bar 1, at its time."""
    for start_s, name in expected.lead_in:
        if form.pickup is not None and name == "Pickup":
            page.gap()
            page.heading(_clock(start_s), name, [], "")
            page.bars(((form.pickup,),), ())


def _entry(
    page: _Page, entry: Entry, section: Section, passes: Sequence[ExpectedPass], like: str | None
) -> None:
    """A line of the form: its passes, and its section's bars unless they stand under `like`."""
    total = len(passes)
    for number_, row in enumerate(passes, 1):
        if total > MOST_PASSES and MOST_PASSES // 2 < number_ < total:
            if number_ == total - 1:
                page.write(_Line(text="and so on, to", style="quiet"))
            continue
        end = f"{_bars(row.first_bar, row.bars)}, {_clock(row.seconds)}"
        said = list(_said_of(entry, section, number_, like))
        page.heading(_clock(row.start_s), row.label, said, end)
        if number_ == 1 and like is None:
            _section(page, section)
        if number_ == 1 and entry.settings.note:
            page.write(_Line(text=entry.settings.note, style="quiet"))


def _section(page: _Page, section: Section) -> None:
    """A section's bars, its endings, and the bars of passes that have their own."""
    settings = section.settings
    endings = dict(_alike(section.endings))
    rows = [row for part in (section.rows, *endings.values()) for row in part]
    widths = _columns([[print_bar(bar) for bar in row] for row in rows], page.columns - MARGIN)
    page.bars(section.rows, widths, cues=settings.words or ())
    for name, part in endings.items():
        page.bars(part, widths, f"ending {name}")
    for number_, varied in section.on_pass.items():
        said = [*_said(varied.settings), varied.settings.note or ""]
        name = f"pass {number_}"
        if any(said) or varied.rows is None:
            page.write(_Line(name, ", ".join(filter(None, said)) or "other parts"))
            name = ""
        if varied.rows is not None:
            page.bars(varied.rows, (), name, varied.settings.words or ())
    if settings.note:
        page.write(_Line(text=settings.note, style="quiet"))


def _alike(endings: Mapping[int, Rows]) -> Iterator[tuple[str, Rows]]:
    """Endings with the numbers of all passes that share each: 1-3 or 1,3."""
    left = list(endings)
    while left:
        rows = endings[left[0]]
        same = [number_ for number_ in left if endings[number_] == rows]
        left = [number_ for number_ in left if number_ not in same]
        run = len(same) > 2 and same == list(range(same[0], same[-1] + 1))
        yield f"{same[0]}-{same[-1]}" if run else ",".join(map(str, same)), rows


def _columns(rows: Sequence[Sequence[str]], room: int) -> list[int]:
    """How wide each bar of a row is, so that bar lines stand below one another; [] where
    that would be too wide.
    """
    if len(rows) < 2 or max(map(len, rows)) > room // 4:
        return []
    widths = [
        max(width(row[at]) for row in rows if at < len(row)) for at in range(max(map(len, rows)))
    ]
    return widths if sum(widths) + 3 * len(widths) + 1 <= room else []


def _row(bars: Sequence[str], widths: Sequence[int], room: int) -> Iterator[str]:
    """A row on one line, or in fours, or as many bars a line as it holds."""
    if widths:
        padded = [bar + " " * (wide - width(bar)) for bar, wide in zip(bars, widths, strict=False)]
        yield _line(padded)
    elif width(_line(bars)) <= room:
        yield _line(bars)
    elif len(bars) > 4:
        for at in range(0, len(bars), 4):
            yield from _row(bars[at : at + 4], (), room)
    elif len(bars) > 1:
        half = len(bars) // 2
        yield from _row(bars[:half], (), room)
        yield from _row(bars[half:], (), room)
    else:
        yield from _wrapped(_line(bars), room)


def _line(bars: Sequence[str]) -> str:
    return f"| {' | '.join(bars)} |"


# Text


def _wrapped(text: str, room: int) -> list[str]:
    """Text in lines of so many columns, broken at blanks, and inside words that are wider."""
    lines = [""]
    for word in text.split():
        if lines[-1] and width(lines[-1]) + 1 + width(word) <= room:
            lines[-1] += f" {word}"
            continue
        if lines[-1]:
            lines.append("")
        for letter in word:
            if width(lines[-1] + letter) > room:
                lines.append("")
            lines[-1] += letter
    return lines


def _bars(first: int, bars: int) -> str:
    return f"bars {first}-{first + bars - 1}" if bars > 1 else f"bar {first}"


def _clock(seconds: Fraction) -> str:
    """Minutes, seconds and tenths: 1:05.2."""
    tenths = round(seconds * 10)
    return f"{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"


def _plain(text: str, style: str) -> str:
    return text


def _painted(text: str, style: str) -> str:
    from click import style as styled

    return styled(text, **_STYLES[style]) if style and text.strip() else text  # type: ignore[arg-type]
