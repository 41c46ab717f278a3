"""A song's instrument and tuning, and whether its shapes and riffs are for those strings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from backing.form.kinds import BadValue, Reading, Record, parse_text
from backing.form.tab import Riff
from backing.form.tab_cells import notes
from backing.form.tab_names import name_problem
from backing.form.tab_rows import RowName, TabProblem, row_names
from backing.form.tree import Node
from backing.text.counts import number
from backing.theory.fretboard import (
    FEWEST_STRINGS,
    MOST_STRINGS,
    STANDARD_TUNING,
    STRINGS_WITH_BASS,
    Fingering,
    Neck,
    has_short_string,
)
from backing.theory.instruments import BASS_TUNING, GUITAR, Instrument
from backing.theory.shells import SHELL
from backing.theory.tunings import parse_tuning

#: A shape for each number of strings.
_SHAPES = {4: "2010", 5: "02012", 6: "x02220", 7: "xx02220", 8: "xxx02220"}


class StringsReader:
    """Reads a song's instrument and tuning, and checks what is written for its strings.

    Args:
        reading: where problems are noted.
        song: the song's record.
    """

    def __init__(self, reading: Reading, song: Record) -> None:
        self.reading = reading
        self.song = song
        self.instrument: Instrument = song.get("instrument", GUITAR)
        own = self._tuning()
        is_bass = self.instrument.is_bass
        #: The guitars' strings and the bass's, lowest row first; None where they can't be read.
        self.tuning = STANDARD_TUNING if is_bass else own
        self.bass_tuning = own if is_bass else BASS_TUNING

    def check(self) -> None:
        """Note what is written for other strings: shapes, tab, voicings, and a capo on a bass."""
        self._check_shapes()
        self._check_tabs()
        self._check_voicing()
        if self.instrument.is_bass and self.song.get("capo"):
            fix = "Leave it out, and write the chords as they sound."
            self.reading.report(self.song.nodes["capo"], "a bass has no capo.", fix)

    def strings_of(self, part: str) -> tuple[int, ...] | None:
        """The strings that a part's riffs are written for."""
        return self.bass_tuning if part == "bass" else self.tuning

    def neck_of(self, part: str) -> Neck:
        """The neck that a part's riffs are played on."""
        strings = self.strings_of(part)
        short = strings is not None and has_short_string(strings)
        return Neck(self.instrument.frets_of(part), short)

    def _tuning(self) -> tuple[int, ...] | None:
        """The student's strings; None where the instrument or tuning can't be read."""
        if "instrument" in self.song.nodes and "instrument" not in self.song:
            return None
        if "tuning" not in self.song.nodes:
            return self.instrument.tuning
        if "tuning" not in self.song:
            return None
        node = self.song.nodes["tuning"]
        try:
            return parse_text(
                node, self.song["tuning"], lambda text: parse_tuning(text, self.instrument)
            )
        except BadValue as bad:
            self.reading.report(node, bad.message, bad.fix, bad.offset)
            return None

    def _check_shapes(self) -> None:
        """Note every shape of the song that its strings can't play."""
        shapes: Mapping[str, Fingering] = self.song.get("shapes", {})
        for name, shape in shapes.items():
            node = _inside(self.song["shapes"].nodes[name], "frets")
            self._check_shape(shape, node)

    def _check_shape(self, shape: Fingering, node: Node) -> None:
        tuning = self.tuning
        if tuning is None:
            return
        strings = len(tuning)
        if len(shape.frets) != strings:
            message = f"a shape has {strings} strings, not {len(shape.frets)}"
            fix = f"Write the low string first, as in {_SHAPES[strings]}."
            self.reading.report(node, f"{message}.", fix)
            return
        self._check_frets(
            (fret for fret in shape.frets if fret is not None),
            self.instrument.frets_of("guitar"),
            node,
        )
        if has_short_string(tuning) and shape.frets[0]:
            self._refuse_short_string(node)

    def _check_voicing(self) -> None:
        """Note shell voicings on fewer strings than they need."""
        tuning = self.tuning
        if self.song.get("voicing") != SHELL or tuning is None:
            return
        if len(tuning) < STRINGS_WITH_BASS:
            message = (
                "a shell voicing has its root on the fifth or sixth string, and there are only "
                f"{number(len(tuning))} strings."
            )
            self.reading.report(self.song.nodes["voicing"], message, "Leave voicing out.")

    def _check_tabs(self) -> None:
        """Note every tab whose rows aren't those of the strings."""
        own = self.bass_tuning if self.instrument.is_bass else self.tuning
        others = BASS_TUNING if not self.instrument.is_bass else STANDARD_TUNING
        if own is None:
            return
        for tab in self.reading.tabs:
            names = row_names(tab.text)
            fitting = [strings for strings in (own, others) if len(strings) == len(names)]
            problem = _wrong_number(names, tab.text, len(own)) if not fitting else None
            wrong = [name_problem(names, strings) for strings in fitting]
            if wrong and None not in wrong:
                problem = wrong[0]
            if problem is not None:
                self.reading.report(tab, problem.message, problem.fix, problem.offset)

    def check_riff(self, part: str, riff: Riff, node: Node) -> None:
        """Note what a part can't play of a riff.

        Args:
            part: the part that plays it.
            riff: the riff, as it was read.
            node: where it is written.
        """
        tuning = self.strings_of(part)
        if tuning is None:
            return
        tab = _inside(node, "tab")
        names = row_names(tab.text)
        problem = _wrong_number(names, tab.text, len(tuning)) or name_problem(names, tuning)
        if problem is not None:
            self.reading.report(tab, problem.message, problem.fix, problem.offset)
            return
        frets = (note.fret for note in notes(riff) if note.fret is not None)
        self._check_frets(frets, self.instrument.frets_of(part), tab)
        if self.neck_of(part).has_short_string and any(
            note.fret for note in notes(riff) if note.string == riff.strings
        ):
            self._refuse_short_string(tab)

    def _check_frets(self, frets: Iterable[int], last: int, node: Node) -> None:
        highest = max(frets, default=0)
        if highest > last:
            message = f"there is no fret {highest} on a {self.instrument.name}."
            self.reading.report(node, message, f"Write frets 0 to {last}.")

    def _refuse_short_string(self, node: Node) -> None:
        message = "the short fifth string of this tuning is only played open."
        self.reading.report(node, message, "Write 0 on it, or leave it out.")


def _wrong_number(names: Sequence[RowName], text: str, strings: int) -> TabProblem | None:
    """A number of rows that some instruments have, but not this one."""
    rows = len(names)
    if rows == strings or not FEWEST_STRINGS <= rows <= MOST_STRINGS:
        return None
    at = len(text.rstrip()) if rows < strings else names[strings].offset
    fix = f"Write {number(strings)}, one for each string, highest first."
    return TabProblem(at, f"this tab has {rows} rows.", fix)


def _inside(node: Node, key: str) -> Node:
    """The value of a mapping's key, or the node itself."""
    return next((value for name, value in node.pairs if name.text == key), node)
