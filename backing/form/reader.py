"""YAML text to a Form: the language's tables first, then what the tables can't see.

All problems of a form are gathered and raised together, each at its place.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import fields
from pathlib import Path

from backing.errors import BackingError, FormError, Problem
from backing.form.bars import ReadBars, read_bars
from backing.form.kinds import Desk, Record, near, record, shown
from backing.form.language import SONG, SONG_REQUIRED
from backing.form.layout import Misfit, lay_out
from backing.form.model import Entry, Form, PartSettings, Section, Settings, Tempo, WrittenBar
from backing.form.passes import bars_played, pass_bars, passes_played
from backing.form.tree import MAX_BYTES, Node, compose, read_source
from backing.theory.rhythm import COMMON_TIME, Meter

MAX_BARS = 20_000


def read_form(path: str | Path) -> Form:
    """Read a form's file.

    Raises:
        FormError: all that is wrong with the form, with places.
        BackingError: the file can't be read at all.
    """
    name = str(path)
    try:
        with open(path, "rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise BackingError(
            f"{name}: can't be read ({error.strerror or error}). Give a form's file."
        ) from None
    return read_form_bytes(data, name)


def read_form_text(text: str, name: str = "form") -> Form:
    """Read a form from its text; raises FormError."""
    return read_form_bytes(text.encode("utf-8", "surrogatepass"), name)


def read_form_bytes(data: bytes, name: str) -> Form:
    """Read a form from its bytes; raises FormError."""
    source = read_source(data, name)
    root = compose(source)
    if root is None or (root.kind == "text" and not root.text.strip()):
        raise FormError(
            name, [Problem(1, 1, "this form is empty.", "Start it with  title: ...")], source.lines
        )
    desk = Desk(source)
    said = desk.take(record("a form", SONG, SONG_REQUIRED), root)
    form = _Reader(desk, said).form() if said is not None else None
    if desk.problems or form is None:
        raise FormError(name, desk.problems, source.lines)
    return form


class _Reader:
    """Builds the Form from the song's record, noting at the desk what doesn't hold together."""

    def __init__(self, desk: Desk, said: Record) -> None:
        self.desk = desk
        self.said = said
        self.settings = self._settings(said, said.get("meter", COMMON_TIME))
        self.bars_read: dict[int, ReadBars] = {}

    def form(self) -> Form:
        said = self.said
        sections = {
            name: section
            for name, record_ in said.get("sections", {}).items()
            if (section := self._section(name, record_)) is not None
        }
        if not said.get("sections") and "sections" in said:
            self.desk.refuse(
                said.nodes["sections"],
                "there are no sections here.",
                "Write at least one with its bars.",
            )
        entries = tuple(self._entries(sections))
        return Form(
            title=said.get("title", ""),
            settings=self.settings,
            sections=sections,
            entries=entries,
            by=said.get("by", ""),
            key=said.get("key"),
            capo=said.get("capo", 0),
            count_in_bars=said.get("count-in", 1),
            shapes=said.get("shapes", {}),
            strums=said.get("strums", {}),
        )

    # What a song, section or entry sets

    def _settings(self, said: Record, meter: Meter) -> Settings:
        return Settings(
            tempo=self._tempo(said, meter),
            meter=said.get("meter"),
            parts={name: self._part(part) for name, part in said.get("parts", {}).items()},
        )

    def _tempo(self, said: Record, meter: Meter) -> Tempo | None:
        if "tempo" not in said:
            return None
        tempo, node = said["tempo"], said.nodes["tempo"]
        written = tempo if isinstance(tempo, Record) else {"bpm": tempo}
        bpm, beat = written.get("bpm"), written.get("beat")
        if isinstance(tempo, Record):
            self._check_tempo_keys(tempo)
        if bpm is not None and beat is None:
            beat = meter.beat_whole
            if beat is None:
                self.desk.refuse(
                    node,
                    f"the beats of {meter} differ in length, so a bare number is no tempo.",
                    f"Say which note it counts: {{bpm: {float(bpm):g}, beat: 1/{meter.unit}}}",
                )
                return None
        if bpm is not None and beat is not None and not 5 <= bpm * beat * 4 <= 1000:
            self.desk.refuse(
                node,
                "this comes to fewer than 5 or more than 1000 quarter notes a minute.",
                "Choose another bpm or beat.",
            )
        return Tempo(
            bpm,
            beat if bpm is not None else None,
            written.get("to"),
            written.get("over"),
            written.get("from"),
        )

    def _check_tempo_keys(self, tempo: Record) -> None:
        nodes = tempo.nodes
        if "beat" in nodes and "bpm" not in nodes:
            self.desk.refuse(
                nodes["beat"], "a beat without its bpm.", "Write both: {bpm: 60, beat: 3/8}"
            )
        if "to" in nodes and "over" not in nodes:
            self.desk.refuse(
                nodes["to"], "how many bars this change takes is missing.", "Add  over: 1"
            )
        for key in ("over", "from"):
            if key in nodes and "to" not in nodes:
                self.desk.refuse(
                    nodes[key], f"{key} says nothing without the tempo to reach.", "Add  to: 60"
                )
        if not nodes:
            self.desk.refuse(
                tempo.node, "this tempo says nothing.", "Write a number, or bpm and beat."
            )

    def _part(self, said: bool | Record) -> PartSettings:
        if isinstance(said, bool):
            return PartSettings(on=said)
        strum = said.get("strum")
        if isinstance(strum, str) and strum not in self.said.get("strums", {}):
            if strum not in getattr(self.said.get("strums"), "nodes", {}):
                self.desk.refuse(
                    said.nodes["strum"],
                    f"there is no strum {shown(strum)}.",
                    near(strum, self.said.get("strums", {})) or "Write it under strums first.",
                )
        known = {field.name for field in fields(PartSettings)}
        values = {_FIELDS.get(key, key): value for key, value in said.items()}
        return PartSettings(
            on=True, **{key: value for key, value in values.items() if key in known}
        )

    # Sections

    def _section(self, name: str, said: Record) -> Section | None:
        if "bars" not in said:
            return None
        meter = said.get("meter") or self.settings.meter or COMMON_TIME
        body = self._bars(said["bars"])
        endings: dict[int, ReadBars] = {}
        for passes, node in said.get("endings", ()):
            read = self._bars(node)
            endings.update(dict.fromkeys(passes, read))
        whole = [body, *endings.values()]
        if any(read.faults for read in whole):
            return None
        if not self._fits(said, body, meter):
            return None
        fits = [
            self._fits(said, body, meter, node, endings[passes[0]])
            for passes, node in said.get("endings", ())
        ]
        if not all(fits):
            return None
        settings = self._settings(said, meter)
        rows = {number: read.rows for number, read in sorted(endings.items())}
        return Section(name, body.rows, said.get("times", 1), rows, settings)

    def _bars(self, node: Node) -> ReadBars:
        if node.kind != "text":
            self.desk.refuse(
                node, f"bars are text, not a {node.kind}.", 'Put them in quotes: "| A | D |"'
            )
            return read_bars("| N.C. |")
        read = read_bars(node.text)
        for fault in read.faults:
            self.desk.refuse(node, fault.message, fault.mend, fault.offset)
        return read

    def _fits(
        self,
        said: Record,
        body: ReadBars,
        meter: Meter,
        ending_node: Node | None = None,
        ending: ReadBars | None = None,
    ) -> bool:
        bars: tuple[WrittenBar, ...] = body.flat + (ending.flat if ending else ())
        try:
            lay_out(bars, meter)
        except Misfit as misfit:
            node, offsets, at = said.nodes["bars"], body.offsets, misfit.bar
            if ending is not None and ending_node is not None and at >= len(body.flat):
                node, offsets, at = ending_node, ending.offsets, at - len(body.flat)
            self.desk.refuse(node, misfit.message, misfit.mend, offsets[at])
            return False
        return True

    # The form list

    def _entries(self, sections: Mapping[str, Section]) -> Iterator[Entry]:
        total = 0
        for node, said in self.said.get("form", ()):
            entry = self._entry(node, said)
            if entry is None or entry.section not in sections:
                continue
            section = sections[entry.section]
            if self._plays(node, entry, section):
                total += bars_played(entry, section)
                if total > MAX_BARS:
                    self.desk.refuse(
                        node,
                        f"with this line the form plays more than {MAX_BARS:,} bars.",
                        "Repeat less.",
                    )
                    return
                yield entry

    def _entry(self, node: Node, said: str | Record) -> Entry | None:
        if isinstance(said, Record):
            return self._entry_mapping(said)
        names = self.said["sections"].nodes if "sections" in self.said else {}
        match = _ENTRY.fullmatch(said)
        assert match is not None  # the pattern's name takes any text
        name = match["name"]
        if said in names:
            return Entry(said)
        if name not in names:
            self.desk.refuse(node, f"there is no section {shown(name)}.", near(name, names))
            return None
        times = int(match["times"] or 1)
        if not 1 <= times <= 9999:
            self.desk.refuse(
                node, "a section is played from 1 to 9999 times.", "Write fewer, such as x4."
            )
            return None
        bars = (
            (int(match["first"]), int(match["last"] or match["first"])) if match["first"] else None
        )
        return Entry(name, times, bars)

    def _entry_mapping(self, said: Record) -> Entry | None:
        names = self.said["sections"].nodes if "sections" in self.said else {}
        name = said.get("section")
        if name is None:
            return None
        if name not in names:
            self.desk.refuse(
                said.nodes["section"], f"there is no section {shown(name)}.", near(name, names)
            )
            return None
        section = self.said.get("sections", {}).get(name)
        meter = (section.get("meter") if section else None) or self.settings.meter or COMMON_TIME
        return Entry(
            name,
            said.get("times", 1),
            said.get("bars"),
            said.get("ending"),
            said.get("label"),
            self._settings(said, meter),
        )

    def _plays(self, node: Node, entry: Entry, section: Section) -> bool:
        """Whether an entry's bars, ending and passes exist in its section."""
        highest = max(section.endings, default=0)
        if entry.ending is not None and entry.ending not in section.endings:
            mend = (
                f"It has endings up to {highest}." if highest else "It has none: leave the key out."
            )
            self.desk.refuse(node, f"{section.name} has no ending {entry.ending}.", mend)
            return False
        length = pass_bars(entry, section, 1)
        if entry.bars is not None:
            first, last = entry.bars
            full = pass_bars(Entry(entry.section, ending=entry.ending), section, 1)
            if not 1 <= first <= last <= full:
                self.desk.refuse(
                    node,
                    f"{section.name} has the bars 1-{full}, not {first}-{last}.",
                    "Write the first bar, then the last.",
                )
                return False
        elif highest and entry.ending is None and passes_played(entry, section) % highest:
            self.desk.refuse(
                node,
                f"{section.name} would be played {passes_played(entry, section)} times, which leaves off in the middle of "
                f"its {highest} endings.",
                f"Play a multiple of {highest} passes, or name the ending: {{section: {section.name}, ending: {highest}}}",
            )
            return False
        return self._ramp_fits(node, entry, section, length)

    def _ramp_fits(self, node: Node, entry: Entry, section: Section, length: int) -> bool:
        tempo = entry.settings.under(section.settings).tempo
        if tempo is None or tempo.over_bars is None:
            return True
        of = pass_bars(entry, section, 1 if tempo.from_first else passes_played(entry, section))
        if tempo.over_bars > of:
            self.desk.refuse(
                node,
                f"the tempo changes over {tempo.over_bars} bars, but this pass of {section.name} has only {of}.",
                f"Write  over: {of}",
            )
            return False
        return True


_ENTRY = re.compile(
    r"(?P<name>.+?)(?:\s+bars\s+(?P<first>\d{1,9})(?:\s*-\s*(?P<last>\d{1,9}))?)?(?:\s+x(?P<times>\d{1,9}))?",
    re.DOTALL,
)
_FIELDS = {"subdivide": "subdivide_whole"}
