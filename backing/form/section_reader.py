"""Sections from their records: bars, endings and what passes change, laid over their meters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from backing.form.bars import MAX_BARS, ReadBars, read_bars
from backing.form.kinds import Reading, Record, TooManyProblems
from backing.form.layout import LaidBar, LayoutError, lay_out
from backing.form.model import Entry, PartSettings, PassSettings, Section, Settings, WrittenBar
from backing.form.passes import first_meter
from backing.form.riffs import pickup_problem
from backing.form.settings_reader import SettingsReader
from backing.form.tree import Node
from backing.form.words_check import check_section_words
from backing.theory.rhythm import Meter


class _Bars(NamedTuple):
    """A section's own bars and endings where they were written, and the meter they start in."""

    node: Node
    body: ReadBars
    endings: tuple[tuple[Node, ReadBars], ...]
    meter: Meter


class SectionReader:
    """Reads a song's sections and its pickup, and counts their bars.

    Args:
        reading: where problems are noted.
        song: the song's record.
        settings: reads what a section or a pass sets.
    """

    def __init__(self, reading: Reading, song: Record, settings: SettingsReader) -> None:
        self.reading = reading
        self.song = song
        self.settings = settings
        self.bars_left = MAX_BARS
        self.read: dict[str, _Bars] = {}

    def sections(self) -> dict[str, Section]:
        """The sections that can be read, by name; problems are noted."""
        if "sections" not in self.song:
            return {}
        written = self.song["sections"]
        if not written.nodes and not written.node.pairs:
            fix = "Add at least one, with its bars."
            self.reading.report(self.song.nodes["sections"], "there are no sections here.", fix)
        read = [(name, self._section(name, record_)) for name, record_ in written.items()]
        self.reading.hides |= any(section is None for _, section in read)
        return {name: section for name, section in read if section is not None}

    def pickup(
        self, entries: Sequence[Entry], sections: Mapping[str, Section], song: Settings
    ) -> WrittenBar | None:
        """The one bar before bar 1, in its own meter or that of bar 1."""
        if "pickup" not in self.song or not entries:
            return None
        written = self.song["pickup"]
        node = written.get("bars") if isinstance(written, Record) else written
        if node is None:
            return None
        read = self._bars(node)
        if read is None:
            return None
        if len(read.flat) != 1:
            self.reading.report(
                node, "a pickup must be exactly one bar.", 'Write it as  pickup: "| N.C. / / D |"'
            )
            return None
        meter = first_meter(entries[0], sections[entries[0].section], song)
        sound, laid = self._lay(node, read, meter)
        if isinstance(written, Record):
            self._check_pickup(written, laid[0].meter, entries[0].transpose)
        return sound.flat[0]

    def pickup_parts(self) -> dict[str, PartSettings]:
        """What the parts of a pickup play in it, if it is written with them."""
        written = self.song.get("pickup")
        parts = written.get("parts", {}) if isinstance(written, Record) else {}
        return self.settings.parts(parts)

    def _check_pickup(self, written: Record, meter: Meter, transpose: int) -> None:
        """Each riff in a pickup is exactly its bar long, and stays on the neck."""
        riffs = self.song.get("riffs", {})
        for name, part in written.get("parts", {}).items():
            riff = part.get("riff")
            called = f"the riff {riff}" if isinstance(riff, str) else f"{name}'s riff"
            riff = riffs.get(riff) if isinstance(riff, str) else riff
            if riff is None:
                continue
            problem = pickup_problem(
                riff, called, meter, transpose, self.settings.strings.neck_of(name)
            )
            if problem is not None:
                self.reading.report(part.nodes["riff"], problem.message, problem.fix)

    def _section(self, name: str, written: Record) -> Section | None:
        """A section, or None if its bars can't be read, laid out or counted."""
        meter = self.settings.meter(written, self.settings.meter(self.song))
        settings = self.settings.read(written, meter)
        if "bars" not in written:
            return None
        body = self._bars(written["bars"])
        read = [(passes, node, self._bars(node)) for passes, node in written.get("endings", ())]
        if body is None or meter is None or any(ending is None for _, _, ending in read):
            return None
        if {"endings", "times"} & set(written.nodes) - set(written):
            return None
        endings = [(passes, node, ending) for passes, node, ending in read if ending is not None]
        body, ends = self._fitted(
            written["bars"], body, [(node, ending) for _, node, ending in endings], meter
        )
        rows = {
            number: ending.rows
            for (passes, _, _), (_, ending) in zip(endings, ends, strict=True)
            for number in passes
        }
        self.read[name] = _Bars(written["bars"], body, ends, meter)
        on_pass = self.on_pass(name, written)
        if on_pass is None:
            return None
        times = written.get("times", 1)
        section = Section(name, body.rows, times, dict(sorted(rows.items())), settings, on_pass)
        check_section_words(self.reading, written, section)
        return section

    def _fitted(
        self, node: Node, body: ReadBars, endings: Sequence[tuple[Node, ReadBars]], meter: Meter
    ) -> tuple[ReadBars, tuple[tuple[Node, ReadBars], ...]]:
        """A body and its endings with every bar fit for its meter; problems are noted."""
        body, laid = self._lay(node, body, meter)
        return body, tuple((at, self._lay(at, read, meter, laid)[0]) for at, read in endings)

    def on_pass(self, name: str, written: Record) -> dict[int, PassSettings] | None:
        """What passes of section `name` set for themselves, in the section or a line of the form.

        None if a pass's bars don't fit its meter, or `on-pass` can't be read.
        """
        found: dict[int, PassSettings] = {}
        read: dict[int, PassSettings | None] = {}
        for number, (_, record_) in written.get("on-pass", {}).items():
            if id(record_) not in read:
                read[id(record_)] = self._pass(record_, self.read[name])
            settings = read[id(record_)]
            if settings is None:
                return None
            found[number] = settings
        return (
            dict(sorted(found.items()))
            if "on-pass" in written or "on-pass" not in written.nodes
            else None
        )

    def _pass(self, written: Record, usual: _Bars) -> PassSettings | None:
        meter = self.settings.meter(written, usual.meter)
        settings = self.settings.read(written, meter)
        node = written.get("bars", usual.node)
        read = self._bars(node) if "bars" in written else usual.body
        if meter is None or read is None:
            return None
        read, _ = self._fitted(node, read, usual.endings, meter)
        return PassSettings(settings, read.rows if "bars" in written else None)

    def _bars(self, node: Node) -> ReadBars | None:
        if node.kind != "text":
            fix = 'Put them in quotes: "| A | D |"'
            self.reading.report(node, "bars must be text, not a list or keys.", fix)
            return None
        read = read_bars(node.text, self.bars_left)
        for problem in read.problems:
            self.reading.report(node, problem.message, problem.fix, problem.offset)
        if read.problems and len(read.offsets) == self.bars_left:
            raise TooManyProblems
        self.bars_left -= len(read.offsets)
        return read if read.counted else None

    def _lay(
        self, node: Node, read: ReadBars, meter: Meter, before: tuple[LaidBar, ...] = ()
    ) -> tuple[ReadBars, tuple[LaidBar, ...]]:
        """Bars laid out in their meters. Those that don't fit are noted, and N.C. replaces them."""
        problems: list[LayoutError] = []
        laid = lay_out(read.flat, meter, before, problems)
        for problem in problems:
            self.reading.report(node, problem.message, problem.fix, read.offsets[problem.bar])
        return read.without({problem.bar for problem in problems}), laid
