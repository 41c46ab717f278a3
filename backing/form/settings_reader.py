"""What a song, a section, a line of the form or a pass sets: its tempo, its parts and the rest."""

from __future__ import annotations

import re
from collections.abc import Mapping

from backing.form.advice import suggestion
from backing.form.kinds import Reading, Record, quoted
from backing.form.model import ONE_OF_THESE, Arrangement, PartSettings, Settings, Tempo
from backing.form.strings_reader import StringsReader
from backing.form.tab import Riff
from backing.form.tree import Node
from backing.theory.picks import PICKS
from backing.theory.rhythm import COMMON_TIME, Meter


class SettingsReader:
    """Reads the settings of a song's records.

    Args:
        reading: where problems are noted.
        song: the song's record, which holds the strums, picks and riffs that parts may name.
        strings: the strings that riffs are written for.
    """

    def __init__(self, reading: Reading, song: Record, strings: StringsReader) -> None:
        self.reading = reading
        self.song = song
        self.strings = strings
        #: Every arrangement of the song that can be read, by name.
        self.arrangements = {
            name: Arrangement(name, self.parts(written))
            for name, written in song.get("arrangements", {}).items()
        }

    def meter(self, written: Record, outer: Meter | None = COMMON_TIME) -> Meter | None:
        """The meter that a record's bars are in; None if it was written but can't be read."""
        return written.get("meter") if "meter" in written.nodes else outer

    def read(self, written: Record, meter: Meter | None) -> Settings:
        """What a record sets; its tempo counts the beats of `meter`."""
        return Settings(
            tempo=self._tempo(written, meter),
            **{
                key: written.get(key)
                for key in ("meter", "feel", "dynamic", "lift", "note", "words")
            },
            per_row=written.get("per-row"),
            parts=self.parts(written.get("parts", {})),
            arrangement=self._arrangement(written),
        )

    def parts(self, written: Mapping[str, bool | Record]) -> dict[str, PartSettings]:
        """What a record sets of each part, by the part's name."""
        return {name: self._part(name, part) for name, part in written.items()}

    def _arrangement(self, written: Record) -> Arrangement | None:
        """The arrangement that a record asks for; a name that the song doesn't have is refused."""
        if "arrangement" not in written:
            return None
        name = written["arrangement"]
        self._check_name("arrangements", name, written.nodes["arrangement"])
        return self.arrangements.get(name)

    def _tempo(self, written: Record, meter: Meter | None) -> Tempo | None:
        if "tempo" not in written or meter is None:
            self.reading.hides |= "tempo" in written.nodes
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

    def _part(self, name: str, written: bool | Record) -> PartSettings:
        if isinstance(written, bool):
            return PartSettings(on=written)
        played = [key for key in ONE_OF_THESE if key in written.nodes]
        for key in played[1:]:
            what = f"this part already has a {played[0]}, and plays only one of these."
            second = " The part lead can play the other." if name == "guitar" else ""
            self.reading.report(written.keys_at[key], what, f"Keep one.{second}")
        for key in played:
            if key != "line" and isinstance(named := written.get(key), str):
                self._check_name(f"{key}s", named, written.nodes[key])
        if "riff" in written:
            self._check_riff(name, written["riff"], written.nodes["riff"])
        return PartSettings(on=True, values=dict(written))

    def _check_riff(self, part: str, written: str | Riff, node: Node) -> None:
        """Check that a riff, written in place or named, is for the strings of its part."""
        if isinstance(written, Riff):
            self.strings.check_riff(part, written, node)
        elif written in (riffs := self.song.get("riffs", {})):
            self.strings.check_riff(part, riffs[written], riffs.nodes[written])

    def _check_name(self, table: str, name: str, node: Node) -> None:
        """Refuse the name of a strum, pick, riff or arrangement that the song doesn't define."""
        if table in self.song.nodes and table not in self.song:
            return
        known = [*(self.song[table].nodes if table in self.song else ())]
        known += PICKS if table == "picks" else ()
        if name in known:
            return
        fix = suggestion(name, known) or f"Write it under {table} first."
        if table == "strums" and re.fullmatch(r"([DUxp]2?>?\.?|-)(\s+([DUxp]2?>?\.?|-))*", name):
            fix = f'To write it right here:  strum: {{step: 1/8, play: "{name}"}}'
        self.reading.report(node, f"there is no {table[:-1]} {quoted(name)}.", fix)
        self.reading.hides |= table in ("riffs", "arrangements")
