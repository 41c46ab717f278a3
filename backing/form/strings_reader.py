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
    Fingering,
    has_short_string,
)
from backing.theory.instruments import GUITAR, Instrument
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
        self.tuning = self._tuning()

    def _tuning(self) -> tuple[int, ...] | None:
        """The strings, lowest row first; None where the instrument or tuning can't be read."""
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

    def check_shapes(self) -> None:
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
        self._check_frets((fret for fret in shape.frets if fret is not None), node)
        if has_short_string(tuning) and shape.frets[0]:
            self._refuse_short_string(node)

    def check_tabs(self) -> None:
        """Note every tab whose rows aren't those of the strings."""
        if self.tuning is None:
            return
        for tab in self.reading.tabs:
            names = row_names(tab.text)
            problem = _wrong_number(names, tab.text, len(self.tuning))
            problem = problem or name_problem(names, self.tuning)
            if problem is not None:
                self.reading.report(tab, problem.message, problem.fix, problem.offset)

    def check_riff(self, riff: Riff, node: Node) -> None:
        """Note what can't be played of a riff.

        Args:
            riff: the riff, as it was read.
            node: where it is written.
        """
        tuning = self.tuning
        if tuning is None or riff.strings != len(tuning):
            return  # the number of rows is checked with their names
        tab = _inside(node, "tab")
        self._check_frets((note.fret for note in notes(riff) if note.fret is not None), tab)
        if has_short_string(tuning) and any(
            note.fret for note in notes(riff) if note.string == riff.strings
        ):
            self._refuse_short_string(tab)

    def _check_frets(self, frets: Iterable[int], node: Node) -> None:
        highest = max(frets, default=0)
        if highest > self.instrument.frets:
            message = f"there is no fret {highest} on a {self.instrument.name}."
            self.reading.report(node, message, f"Write frets 0 to {self.instrument.frets}.")

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
