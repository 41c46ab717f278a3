"""The form list: each line read as an Entry and checked against the section that it plays."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import NamedTuple

from backing.form.advice import suggestion
from backing.form.bars import MAX_BARS
from backing.form.groups import read_group, split_groups
from backing.form.kinds import BadValue, Reading, Record, quoted
from backing.form.language import MAX_TIMES
from backing.form.model import Entry, Group, Section, Settings
from backing.form.passes import (
    bars_played,
    full_bars,
    pass_bars,
    pass_settings,
    passes_played,
    varied_passes,
)
from backing.form.riffs import RiffCheck, RiffProblem
from backing.form.section_reader import SectionReader
from backing.form.settings_reader import SettingsReader
from backing.form.tree import Node
from backing.form.words_check import check_line_words
from backing.theory.rhythm import COMMON_TIME

_ENTRY = re.compile(
    r"(?P<name>.+?)"
    r"(?:\s+bars\s+(?P<first>[0-9]{1,9})(?:\s*-\s*(?P<last>[0-9]{1,9}))?)?"
    r"(?:\s+x(?P<times>[0-9]{1,9}))?"
)


class _Line(NamedTuple):
    """A line where it was written: its node, its keys' nodes, and for a line of a group its place
    in the group's text, its own text and its groups. `record` is None where it is typed as text.
    """

    node: Node
    offset: int = 0
    nodes: Mapping[str, Node] = MappingProxyType({})
    text: str = ""
    groups: tuple[Group, ...] = ()
    record: Record | None = None


class EntryReader:
    """Reads the form list of a song whose sections are known.

    Args:
        reading: where problems are noted.
        written: the song's record.
        sections: those that could be read.
        settings: the song's own.
        settings_reader: reads what a line sets.
        section_reader: reads what single passes of a line set.
    """

    def __init__(
        self,
        reading: Reading,
        written: Record,
        sections: Mapping[str, Section],
        settings: Settings,
        settings_reader: SettingsReader,
        section_reader: SectionReader,
    ) -> None:
        self.reading = reading
        self.written = written
        self.sections = sections
        self.settings = settings
        self.settings_reader = settings_reader
        self.section_reader = section_reader
        neck_of = settings_reader.strings.neck_of
        self.riff_check = RiffCheck(written.get("riffs", {}), settings, neck_of)
        self.refused: set[RiffProblem] = set()
        #: Every section that was named, good or bad.
        self.names = written["sections"].keys_at if "sections" in written else {}

    def entries(self) -> tuple[Entry, ...]:
        """The form's lines, those with problems left out."""
        entries, total = [], 0
        for line, entry in self._lines() if self.names else ():
            if entry is None or entry.section not in self.sections:
                self.reading.hides = True
                continue
            section = self.sections[entry.section]
            if not self._plays(line, entry, section):
                self.reading.hides = True
                continue
            total += bars_played(entry, section)
            if total > MAX_BARS:
                what = f"with this line the form plays more than {MAX_BARS:,} bars."
                self._report(line, "times", what, "Use fewer repeats.")
                self.reading.hides = True
                break
            entries.append(entry)
        return tuple(entries)

    def _lines(self) -> Iterator[tuple[_Line, Entry | None]]:
        """Every line, those of groups one by one, with its entry if it can be read."""
        written = split_groups(self.reading, self.written)
        groups = 1
        for node, value in written:
            if isinstance(value, Record):
                yield _Line(node, 0, value.nodes, record=value), self._mapping(value)
            elif not value.startswith("(") or self._is_plain(value):
                yield _Line(node), self._text(_Line(node), value)
            else:
                for line in self._group(node, groups):
                    yield line, self._text(line, line.text, line.groups)
                groups += node.text.count("(")

    def _group(self, node: Node, since: int) -> Iterator[_Line]:
        try:
            for line in read_group(node.text, self.names, since):
                yield _Line(node, line.offset, {}, " ".join(line.text.split()), line.groups)
        except BadValue as bad:
            self.reading.report(node, bad.message, bad.fix, bad.offset)
            self.reading.hides = True

    def _is_plain(self, written: str) -> bool:
        """Whether a line that starts with a parenthesis is a section whose name does."""
        match = _ENTRY.fullmatch(written)
        return written in self.names or (match is not None and match["name"] in self.names)

    def _text(self, line: _Line, written: str, groups: tuple[Group, ...] = ()) -> Entry | None:
        if written in self.names:
            return Entry(written, groups=groups)
        match = _ENTRY.fullmatch(written)
        if match is None or match["name"] not in self.names:
            self._no_section(line.node, match["name"] if match else written, line.offset)
            return None
        times = int(match["times"] or 1)
        if not 1 <= times <= MAX_TIMES:
            what = f"a section can play from 1 to {MAX_TIMES} times."
            at = line.offset + written.rfind("x") if groups else line.node.text.rfind("x")
            self.reading.report(line.node, what, "Write a smaller number, such as x4.", at)
            return None
        first, last = match["first"], match["last"] or match["first"]
        cut = (int(first), int(last)) if first else None
        return Entry(match["name"], times, cut, groups=groups)

    def _report(self, line: _Line, key: str, message: str, fix: str) -> None:
        """Note a problem of a line at one of its keys, or where the line starts."""
        if key in line.nodes:
            self.reading.report(line.nodes[key], message, fix)
        else:
            self.reading.report(line.node, message, fix, line.offset)

    def _mapping(self, written: Record) -> Entry | None:
        name = written.get("section")
        if name is None:
            return None
        if name not in self.names:
            self._no_section(written.nodes["section"], name)
            return None
        section = self.sections.get(name)
        meter = (section.settings if section else Settings()).meter or self.settings.meter
        settings = self.settings_reader.read(written, meter or COMMON_TIME)
        on_pass = self.section_reader.on_pass(name, written) if section is not None else None
        if set(written.nodes) - set(written) or on_pass is None:
            return None
        return Entry(
            name,
            written.get("times", 1),
            written.get("bars"),
            written.get("ending"),
            written.get("label"),
            settings,
            written.get("transpose", 0),
            on_pass,
        )

    def _no_section(self, node: Node, name: str, offset: int = 0) -> None:
        known = [known for known in self.names if name.startswith(f"{known} ")]
        fix = suggestion(name, self.names)
        if known:
            one = max(known, key=len)
            fix = f"Write  {one},  {one} x2,  {one} bars 5-8  or  {one} bars 5-8 x2."
        if "," in name and all(self._is_plain(piece.strip()) for piece in name.split(",")):
            fix = f"Write each on a line of its own, or put them in parentheses:  - ({name[:80]})"
        self.reading.report(node, f"there is no section {quoted(name)}.", fix, offset)

    def _plays(self, line: _Line, entry: Entry, section: Section) -> bool:
        """Whether an entry can be played: its bars and its ending exist. Problems are noted."""
        highest = max(section.endings, default=0)
        if entry.ending is not None and entry.ending not in section.endings:
            fix = f"It has endings 1 to {highest}." if highest else "Remove the key ending."
            what = f"{section.name} has no ending {entry.ending}."
            self._report(line, "ending", what, fix)
            return False
        if entry.bars is not None:
            first, last = entry.bars
            passes = {1, *varied_passes(entry, section)}
            full = min(full_bars(entry, section, number) for number in passes)
            if not 1 <= first <= last <= full:
                what = (
                    f"{section.name} has bars 1-{full}, so there are no bars {first}-{last} in it."
                )
                fix = f"Write the first bar, then the last, such as: 1-{full}"
                self._report(line, "bars", what, fix)
                return False
        elif highest and entry.ending is None and passes_played(entry, section) % highest:
            total = passes_played(entry, section)
            played = "1 pass" if total == 1 else f"{total} passes"
            what = f"{played} of {section.name} would stop partway through its {highest} endings."
            fix = f"Play a multiple of {highest} passes"
            if not entry.groups:
                named = f"{{section: {section.name}, ending: {highest}}}"
                fix += f", or name the ending: {named}"
            self._report(line, "times", what, fix)
        if line.record is not None:
            check_line_words(self.reading, line.record, entry, section)
        self._check_tempo(line, entry, section)
        self._check_riffs(line, entry, section)
        return True

    def _check_riffs(self, line: _Line, entry: Entry, section: Section) -> None:
        """Check the riffs played; a problem that an earlier line had too is reported once."""
        problems = set(self.riff_check.problems(entry, section))
        for problem in sorted(problems - self.refused, key=str):
            self._report(line, problem.key or "", problem.message, problem.fix)
        self.refused |= {problem for problem in problems if problem.key is None}

    def _check_tempo(self, line: _Line, entry: Entry, section: Section) -> None:
        total = passes_played(entry, section)
        for number in sorted({1, total, *varied_passes(entry, section)}):
            if not self._pass_tempo_fits(line, entry, section, number):
                break

    def _pass_tempo_fits(self, line: _Line, entry: Entry, section: Section, number: int) -> bool:
        tempo = pass_settings(self.settings, entry, section, number).tempo
        if tempo is None or tempo.over_bars is None or tempo.to_bpm is None:
            return True
        of = pass_bars(entry, section, number)
        if tempo.over_bars > of:
            what = f"the tempo change takes {tempo.over_bars} bars, but this pass has only {of}."
            self._report(line, "tempo", what, f"Write  over: {of}")
            return False
        if tempo.beat_whole and not 5 <= tempo.to_bpm * tempo.beat_whole * 4 <= 1000:
            what = "the new tempo isn't between 5 and 1000 quarter notes a minute."
            self._report(line, "tempo", what, "Choose another tempo or another beat.")
            return False
        return True
