"""YAML text to a Form: the language's tables first, then checks that tables can't make.

All problems of a form are collected and raised together, each with its place.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path

from backing.errors import FormError, Problem
from backing.form.bars import MAX_BARS, ReadBars, read_bars
from backing.form.entries import EntryReader
from backing.form.kinds import Reading, Record, TooManyProblems, quoted, record, suggestion
from backing.form.language import SONG, SONG_REQUIRED
from backing.form.layout import LaidBar, LayoutError, lay_out
from backing.form.model import (
    ONE_OF_THESE,
    USUALLY_HUMAN,
    Entry,
    Form,
    PartSettings,
    PassSettings,
    Section,
    Settings,
    Tempo,
    WrittenBar,
)
from backing.form.passes import first_meter
from backing.form.source import read_data, read_source
from backing.form.tree import Node, compose
from backing.theory.fretboard import STANDARD_TUNING
from backing.theory.picks import PICKS
from backing.theory.rhythm import COMMON_TIME, Meter


def read_form(path: str | Path) -> Form:
    """Read a form's file.

    Args:
        path: a YAML file, as `forms/README.md` describes it.

    Raises:
        FormError: everything that is wrong with the form, with lines and columns.
        BackingError: there is no such file, or it can't be opened.
    """
    return read_form_bytes(read_data(path), str(path))


def read_form_text(text: str, name: str = "form") -> Form:
    """Read a form from its text.

    Args:
        text: YAML, as `forms/README.md` describes it.
        name: what messages call it.

    Raises:
        FormError: everything that is wrong with the form, with lines and columns.
    """
    return read_form_bytes(text.encode("utf-8", "surrogatepass"), name)


def read_form_bytes(data: bytes, name: str) -> Form:
    """Read a form from its bytes; raises FormError."""
    source = read_source(data, name)
    root = compose(source)
    if root is None or (root.kind == "text" and not root.text.strip()):
        raise FormError(
            name, [Problem(1, 1, "this form is empty.", "Start it with  title: ...")], source.lines
        )
    reading, form, rest = Reading(source), None, ""
    try:
        written = reading.value(record("a form", SONG, SONG_REQUIRED), root)
        form = _Reader(reading, written).form() if written is not None else None
    except TooManyProblems:
        rest = f"{name}: there may be more problems. Fix these first, then try again."
    if reading.problems or form is None:
        raise FormError(name, reading.problems, source.lines, rest)
    return form


class _Reader:
    """Builds the Form from the song's record, and notes what doesn't fit together."""

    def __init__(self, reading: Reading, written: Record) -> None:
        self.reading = reading
        self.written = written
        self.settings = self._settings(written, self._meter(written))
        self.bars_left = MAX_BARS

    def form(self) -> Form:
        written = self.written
        sections = {
            name: section
            for name, record_ in written.get("sections", {}).items()
            if (section := self._section(name, record_)) is not None
        }
        if (
            "sections" in written
            and not written["sections"].nodes
            and not written["sections"].node.pairs
        ):
            fix = "Add at least one, with its bars."
            self.reading.report(written.nodes["sections"], "there are no sections here.", fix)
        entries = EntryReader(
            self.reading, written, sections, self.settings, self._settings
        ).entries()
        form = Form(
            title=written.get("title", ""),
            settings=self.settings,
            sections=sections,
            entries=entries,
            by=written.get("by", ""),
            key=written.get("key"),
            capo=written.get("capo", 0),
            count_in_bars=written.get("count-in", 1),
            pickup=self._pickup(entries, sections),
            tuning=written.get("tuning", STANDARD_TUNING),
            pitch_hz=written.get("pitch", Fraction(440)),
            human=written.get("human", USUALLY_HUMAN),
            shapes=dict(written.get("shapes", {})),
            strums=dict(written.get("strums", {})),
            picks=dict(written.get("picks", {})),
            riffs=dict(written.get("riffs", {})),
        )
        if "practice" not in written:
            return form
        from backing.form.practice_list import practice_of

        practice = practice_of(self.reading, written["practice"], written.nodes["practice"], form)
        return form._replace(practice=practice)

    # What a song, section or entry sets

    def _meter(self, written: Record, outer: Meter | None = COMMON_TIME) -> Meter | None:
        """The meter that a record's bars are in; None if it was written but can't be read."""
        return written.get("meter") if "meter" in written.nodes else outer

    def _settings(self, written: Record, meter: Meter | None) -> Settings:
        return Settings(
            tempo=self._tempo(written, meter),
            **{
                key: written.get(key)
                for key in ("meter", "feel", "dynamic", "lift", "note", "words")
            },
            per_row=written.get("per-row"),
            parts={name: self._part(part) for name, part in written.get("parts", {}).items()},
        )

    def _tempo(self, written: Record, meter: Meter | None) -> Tempo | None:
        if "tempo" not in written or meter is None:
            return None
        tempo, node = written["tempo"], written.nodes["tempo"]
        keys = tempo if isinstance(tempo, Record) else {"bpm": tempo}
        bpm, beat = keys.get("bpm"), keys.get("beat")
        if isinstance(tempo, Record):
            self._check_tempo_keys(tempo)
        if bpm is not None and beat is None:
            beat = meter.beat_whole
            if beat is None:
                counted = tempo.nodes["bpm"] if isinstance(tempo, Record) else node
                what = f"the beats of {meter} differ in length, so a number alone isn't enough."
                fix = f"Say which note the tempo counts: {{bpm: {counted.text.strip()}, beat: 1/8}}"
                self.reading.report(counted, what, fix)
                return None
        if bpm is not None and beat is not None and not 5 <= bpm * beat * 4 <= 1000:
            what = "this tempo isn't between 5 and 1000 quarter notes a minute."
            self.reading.report(node, what, "Choose another bpm or beat.")
            return None
        return Tempo(
            bpm,
            beat if bpm is not None else None,
            keys.get("to"),
            keys.get("over"),
            keys.get("from"),
        )

    def _check_tempo_keys(self, tempo: Record) -> None:
        nodes = tempo.nodes
        if "beat" in nodes and "bpm" not in nodes:
            fix = "Write both: {bpm: 60, beat: 3/8}"
            self.reading.report(nodes["beat"], "beat needs bpm next to it.", fix)
        if "to" in nodes and "over" not in nodes:
            what = "this tempo change doesn't say how many bars it takes."
            self.reading.report(nodes["to"], what, "Add  over: 1")
        for key in ("over", "from"):
            if key in nodes and "to" not in nodes:
                what = f"{key} needs the tempo to change to."
                self.reading.report(nodes[key], what, "Add  to: 60")
        if not tempo.node.pairs:
            fix = "Write a number, or bpm and beat."
            self.reading.report(tempo.node, "this tempo is empty.", fix)

    def _part(self, written: bool | Record) -> PartSettings:
        if isinstance(written, bool):
            return PartSettings(on=written)
        played = [key for key in ONE_OF_THESE if key in written.nodes]
        for key in played[1:]:
            what = f"this part already has a {played[0]}, and plays only one of these."
            self.reading.report(
                written.keys_at[key], what, "Keep one. For a second guitar, use the part lead."
            )
        for key in played:
            if isinstance(name := written.get(key), str):
                self._check_name(f"{key}s", name, written.nodes[key])
        return PartSettings(on=True, values=dict(written))

    def _check_name(self, table: str, name: str, node: Node) -> None:
        """Refuse the name of a strum, pick or riff that the song doesn't write."""
        if table in self.written.nodes and table not in self.written:
            return
        known = [*(self.written[table].nodes if table in self.written else ())]
        known += PICKS if table == "picks" else ()
        if name in known:
            return
        fix = suggestion(name, known) or f"Write it under {table} first."
        if table == "strums" and re.fullmatch(r"([DUx]>?|-)(\s+([DUx]>?|-))*", name):
            fix = f'To write it right here:  strum: {{step: 1/8, play: "{name}"}}'
        self.reading.report(node, f"there is no {table[:-1]} {quoted(name)}.", fix)

    # Sections

    def _section(self, name: str, written: Record) -> Section | None:
        """A section, or None if its bars can't be read, laid out or counted."""
        meter = self._meter(written, self._meter(self.written))
        settings = self._settings(written, meter)
        if "bars" not in written:
            return None
        body = self._bars(written["bars"])
        endings = [(passes, node, self._bars(node)) for passes, node in written.get("endings", ())]
        if body is None or meter is None:
            return None
        fits = self._fits(written["bars"], body, [(node, read) for _, node, read in endings], meter)
        if not fits or {"endings", "times"} & set(written.nodes) - set(written):
            return None
        rows = {number: read.rows for passes, _, read in endings if read for number in passes}
        on_pass = self._on_pass(written, [(node, read) for _, node, read in endings if read], meter)
        if on_pass is None:
            return None
        times = written.get("times", 1)
        return Section(name, body.rows, times, dict(sorted(rows.items())), settings, on_pass)

    def _fits(
        self,
        node: Node,
        body: ReadBars,
        endings: Sequence[tuple[Node, ReadBars | None]],
        meter: Meter,
    ) -> bool:
        """Whether a body and its endings could be read and fit their meters."""
        laid = self._lay(node, body, meter)
        if laid is None:
            return False
        fits = [  # a list, so that every ending's problems are found
            read is not None and self._lay(at, read, meter, laid) is not None
            for at, read in endings
        ]
        return all(fits)

    def _on_pass(
        self, written: Record, endings: Sequence[tuple[Node, ReadBars]], meter: Meter
    ) -> dict[int, PassSettings] | None:
        """What passes set for themselves; None if a pass's bars don't fit its meter."""
        body = written["bars"]
        found: dict[int, PassSettings] = {}
        read: dict[int, PassSettings | None] = {}
        for number, (_, record_) in written.get("on-pass", {}).items():
            if id(record_) not in read:
                read[id(record_)] = self._pass(record_, body, endings, meter)
            settings = read[id(record_)]
            if settings is None:
                return None
            found[number] = settings
        return (
            dict(sorted(found.items()))
            if "on-pass" in written or "on-pass" not in written.nodes
            else None
        )

    def _pass(
        self, written: Record, body: Node, endings: Sequence[tuple[Node, ReadBars]], outer: Meter
    ) -> PassSettings | None:
        meter = self._meter(written, outer)
        settings = self._settings(written, meter)
        node = written.get("bars", body)
        read = self._bars(node)
        if meter is None or read is None:
            return None
        if not self._fits(node, read, endings, meter):
            return None
        return PassSettings(settings, read.rows if "bars" in written else None)

    def _pickup(
        self, entries: Sequence[Entry], sections: Mapping[str, Section]
    ) -> WrittenBar | None:
        """The one bar before bar 1, in its own meter or that of bar 1."""
        if "pickup" not in self.written or not entries:
            return None
        node = self.written["pickup"]
        read = self._bars(node)
        if read is None:
            return None
        if len(read.flat) != 1:
            self.reading.report(
                node, "a pickup must be exactly one bar.", 'Write it as  pickup: "| N.C. / / D |"'
            )
            return None
        meter = first_meter(entries[0], sections[entries[0].section], self.settings)
        return read.flat[0] if self._lay(node, read, meter) is not None else None

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
        return None if read.problems else read

    def _lay(
        self, node: Node, read: ReadBars, meter: Meter, before: tuple[LaidBar, ...] = ()
    ) -> tuple[LaidBar, ...] | None:
        """Bars laid out in their meters, or None with every problem noted."""
        problems: list[LayoutError] = []
        laid = lay_out(read.flat, meter, before, problems)
        for problem in problems:
            self.reading.report(node, problem.message, problem.fix, read.offsets[problem.bar])
        return None if problems else laid
