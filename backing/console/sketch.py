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
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import islice
from typing import TextIO

from backing.console.proof_table import totals
from backing.console.text_page import Line, TextPage, bar_widths, colored, plain
from backing.form.bars import print_bar
from backing.form.model import (
    Entry,
    Form,
    PassSettings,
    Rows,
    Section,
    Settings,
    Tempo,
    WrittenWords,
)
from backing.form.passes import ending_of, labels, passes_at_once
from backing.form.playing_order import in_groups, with_counts
from backing.form.words import NO_WORDS, by_bar, print_cells
from backing.text.bars import bar_range
from backing.text.feel import feel
from backing.text.lists import ITEM, after_colon, ranges, same_values
from backing.text.percent import exact_decimal
from backing.text.tempo import equation, over
from backing.text.times import clock
from backing.text.tuning import tuned
from backing.theory.instruments import GUITAR
from backing.theory.rhythm import note_value_text
from backing.theory.shells import VOICINGS
from backing.verify import Expected
from backing.verify.expected.records import ExpectedPass

WIDTH = 80
NARROWEST, WIDEST = 40, 100
#: Passes of one line that are listed; of more, the first few and the last.
MOST_PASSES = 6


def sketch(form: Form, expected: Expected, columns: int = WIDTH, color: bool = False) -> str:
    """The sketch of a form.

    Args:
        form: as read.
        expected: what it comes to.
        columns: how wide a line may be, at least 40.
        color: whether to style it for a terminal.
    """
    page = TextPage(max(NARROWEST, columns), colored if color else plain)
    named = (form.by and f"by {form.by}", form.student and f"for {form.student}")
    page.across(", ".join(filter(None, (form.title, *named))), "title")
    page.across(", ".join(_facts(form)))
    if form.settings.note:
        page.across(form.settings.note, "quiet")
    _pickup(page, form, expected)
    _lines(page, form, expected)
    page.gap()
    played = {entry.section for entry in form.entries}
    if unplayed := [name for name in form.sections if name not in played]:
        first, *others = after_colon("Not in the form list:", unplayed, "").split(ITEM)
        page.across(first)
        for name in others:
            page.write(Line(text=name))
    page.across(totals(expected))
    return "\n".join(page.lines)


def _lines(page: TextPage, form: Form, expected: Expected) -> None:
    """The lines of the form in playing order; of a group, all in short and then its first round."""
    first_labels: dict[str, str] = {}  # by section, the line under which its bars are written out
    after_bars = False
    names = list(labels(form))
    passes: dict[int, list[ExpectedPass]] = {}
    for row in expected.passes:
        passes.setdefault(row.entry, []).append(row)
    for indexes, text in in_groups(form.entries, list(with_counts(form, names))):
        if form.entries[indexes[0]].groups:
            _group(page, text, [row for index in indexes for row in passes[index]])
            after_bars = False
        for index in indexes:
            entry = form.entries[index]
            section = form.sections[entry.section]
            is_new = section.name not in first_labels
            if after_bars or (is_new and not (entry.groups and index == indexes[0])):
                page.gap()
            after_bars = is_new
            at_once = passes_at_once(entry, section)
            _entry(page, entry, section, passes[index][:at_once], first_labels.get(section.name))
            first_labels.setdefault(section.name, names[index])


def _group(page: TextPage, text: str, passes: Sequence[ExpectedPass]) -> None:
    """A group in short, with the bars and the time of all its rounds."""
    first = min(passes, key=lambda row: row.first_bar)
    last_bar = max(row.first_bar + row.bars - 1 for row in passes)
    seconds = sum((row.seconds for row in passes), Fraction(0))
    end = f"{bar_range(first.first_bar, last_bar)}, {_clock(seconds)}"
    page.gap()
    page.heading(_clock(first.start_s), text, [], end)


def page_width(stream: TextIO) -> int:
    """80 columns; on a terminal its own width, up to 100."""
    if not stream.isatty():
        return WIDTH
    from shutil import get_terminal_size

    return min(get_terminal_size((WIDTH, 24)).columns, WIDEST)


def wants_color(stream: TextIO, environment: Mapping[str, str] = os.environ) -> bool:
    """Whether to style: on a terminal that can, unless NO_COLOR has a value (no-color.org)."""
    dumb = environment.get("TERM") == "dumb"
    return stream.isatty() and not dumb and not environment.get("NO_COLOR")


# Details of a song, a line of the form and a pass


def _facts(form: Form) -> Iterator[str]:
    if form.instrument is not GUITAR:
        yield f"for {form.instrument.name}"
    if form.key is not None:
        yield f"key {form.key}"
    if form.capo:
        yield f"capo {form.capo}"
    if form.own_tuning != form.instrument.tuning:
        yield tuned(form.own_tuning, form.key)
    if VOICINGS[form.voicing]:
        yield VOICINGS[form.voicing]
    yield str(form.meter)
    yield from _settings(form.settings, skip="meter")


def _details(entry: Entry, section: Section, number: int, like: str | None) -> Iterator[str]:
    """How a pass differs from its section as written out under `like`, or from the song."""
    if like is not None and number == 1:
        yield f"as {like}"
    ending = ending_of(entry, section, number)
    if ending is not None and entry.bars is None:
        yield f"ending {ending}"
    if number > 1:
        return
    if entry.bars is not None and entry.label is not None:
        yield f"its {bar_range(*entry.bars)}"
    if entry.transpose:
        yield f"moved {entry.transpose:+d}"
    yield from _settings(entry.settings.under(section.settings) if like is None else entry.settings)


def _settings(settings: Settings, skip: str = "") -> Iterator[str]:
    """Meter, tempo, feel and loudness in words."""
    if settings.meter is not None and skip != "meter":
        yield f"in {settings.meter}"
    if settings.tempo is not None:
        yield from _tempo(settings.tempo)
    if settings.feel is not None:
        yield feel(settings.feel.ratio, settings.feel.level_whole)
    if settings.dynamic is not None:
        yield settings.dynamic
    if settings.arrangement is not None:
        yield f"{settings.arrangement.name} arrangement"


def _tempo(tempo: Tempo) -> Iterator[str]:
    if tempo.bpm is not None and tempo.beat_whole is not None:
        yield equation(note_value_text(tempo.beat_whole), exact_decimal(tempo.bpm))
    if tempo.to_bpm is not None and tempo.over_bars is not None:
        stretch = over(tempo.over_bars, bool(tempo.from_first))
        yield f"to {exact_decimal(tempo.to_bpm)} {stretch}"


# Bars


def _pickup(page: TextPage, form: Form, expected: Expected) -> None:
    """The bar before bar 1, at its time."""
    for start_s, name in expected.lead_in:
        if form.pickup is not None and name == "Pickup":
            page.gap()
            page.heading(_clock(start_s), name, [], "")
            page.bars(_printed(((form.pickup,),)))


def _entry(
    page: TextPage,
    entry: Entry,
    section: Section,
    passes: Sequence[ExpectedPass],
    like: str | None,
) -> None:
    """A line of the form: its passes, and its section's bars unless they stand under `like`."""
    total = len(passes)
    for number, row in enumerate(passes, 1):
        if total > MOST_PASSES and MOST_PASSES // 2 < number < total:
            if number == total - 1:
                page.write(Line(text="and so on, to", style="quiet"))
            continue
        last = row.first_bar + row.bars - 1
        end = f"{bar_range(row.first_bar, last)}, {_clock(row.seconds)}"
        page.heading(
            _clock(row.start_s), row.label, list(_details(entry, section, number, like)), end
        )
        if number == 1 and like is None:
            _section(page, section)
        if number == 1:
            _line_changes(page, entry)


def _section(page: TextPage, section: Section) -> None:
    """A section's bars, its endings, and the bars of passes that have their own."""
    settings = section.settings
    body = _printed(section.rows)
    endings = {
        ranges(numbers, comma=","): _printed(rows) for numbers, rows in same_values(section.endings)
    }
    rows = [row for part in (body, *endings.values()) for row in part]
    widths = bar_widths(rows, page.room)
    page.bars(body, widths, cues=_sung(settings.words, section.rows))
    for (_, ending), (name, part) in zip(
        same_values(section.endings), endings.items(), strict=True
    ):
        cues = _sung(settings.words, section.rows + ending)[len(section.rows) :]
        page.bars(part, widths, f"ending {name}", cues)
    for number, changes in section.on_pass.items():
        _changed_pass(page, number, changes)
    if settings.note:
        page.write(Line(text=settings.note, style="quiet"))


def _line_changes(page: TextPage, entry: Entry) -> None:
    """What a line of the form adds to its section: words, single passes, a note."""
    _own_words(page, entry.settings.words)
    for number, changes in entry.on_pass.items():
        _changed_pass(page, number, changes)
    if entry.settings.note:
        page.write(Line(text=entry.settings.note, style="quiet"))


def _changed_pass(page: TextPage, number: int, changes: PassSettings) -> None:
    """What one pass changes: words for its settings, and its own bars."""
    words = [*_settings(changes.settings), changes.settings.note or ""]
    margin, own = f"pass {number}", changes.settings.words
    if any(words) or changes.rows is None:
        other = "other words" if own is not None else "other parts"
        page.write(Line(margin, ", ".join(filter(None, words)) or other))
        margin = ""
    if changes.rows is not None:
        page.bars(_printed(changes.rows), (), margin, _sung(own, changes.rows))
    else:
        _own_words(page, own)


def _sung(words: WrittenWords | None, rows: Rows) -> list[str]:
    """The words beside each row of bars, "" for none."""
    lengths = [len(row) for row in rows]
    texts = iter(by_bar(words or NO_WORDS, lengths))
    cells = [list(islice(texts, length)) for length in lengths]
    return [print_cells(row) if any(row[1:]) else row[0] if row else "" for row in cells]


def _own_words(page: TextPage, words: WrittenWords | None) -> None:
    """The words of a line of the form or of a pass, a row on each line."""
    for cells in words.rows if words is not None else ():
        page.write(Line(text=print_cells(cells), style="quiet"))
    if words == NO_WORDS:
        page.write(Line(text="no words", style="quiet"))


def _printed(rows: Rows) -> list[list[str]]:
    return [[print_bar(bar) for bar in row] for row in rows]


def _clock(seconds: Fraction) -> str:
    return clock(seconds, decimals=1)
