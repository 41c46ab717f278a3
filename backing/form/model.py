"""What a form's writer wrote: records that never change, no positions, no sound.

Lengths are fractions of a whole note. `None` in a setting means "not written here";
`Settings.under` merges song, section, entry and pass, the nearer one winning.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from math import prod
from typing import Any, Literal, NamedTuple, TypeVar

from backing.form.pattern_records import PickPattern, StrumPattern
from backing.form.practice_records import Practice
from backing.form.tab import Riff
from backing.theory.chords import Chord
from backing.theory.fretboard import STANDARD_TUNING, Fingering, Neck, has_short_string
from backing.theory.instruments import BASS_TUNING, GUITAR, Instrument
from backing.theory.keys import Key
from backing.theory.rhythm import COMMON_TIME, Meter
from backing.theory.shells import FULL

#: What a mapping holds where nothing is written; never written to.
NOTHING: Mapping[str, Any] = {}

Mark = Literal["push", "stop", "ring"]

#: How human the players' time and touch are, in percent of the most, where no form says.
USUALLY_HUMAN = 75


class Cell(NamedTuple):
    """One slot as typed: a chord, `N.C.` (`chord` is None) or `/` (`goes_on`)."""

    chord: Chord | None = None
    marks: frozenset[Mark] = frozenset()
    goes_on: bool = False


class WrittenBar(NamedTuple):
    """One bar as typed: an optional new meter, then its cells, or `%` (`again`)."""

    cells: tuple[Cell, ...] = ()
    meter: Meter | None = None
    again: bool = False


Rows = tuple[tuple[WrittenBar, ...], ...]


class WrittenWords(NamedTuple):
    """Words to sing in rows as typed: one cue for a row of bars, or a cell for each bar.

    An empty cell is a bar without words; no rows at all say that nothing is sung.
    """

    rows: tuple[tuple[str, ...], ...]


class Tempo(NamedTuple):
    """A tempo, an even change of tempo, or both.

    `bpm` counts `beat_whole` notes a minute and is None where only a change is
    written; `to_bpm` is reached over `over_bars` bars, the entry's last ones or,
    with `from_first`, its first ones.
    """

    bpm: Fraction | None = None
    beat_whole: Fraction | None = None
    to_bpm: Fraction | None = None
    over_bars: int | None = None
    from_first: bool | None = None

    def under(self, outer: "Tempo") -> "Tempo":
        """This tempo laid over `outer`; a beat goes with its bpm."""
        return _merged(outer, self)


class Feel(NamedTuple):
    """Swing: the first of two notes of `level_whole` lasts `ratio` times the second.

    1 is straight; None takes the ratio from the tempo.
    """

    ratio: Fraction | None = Fraction(1)
    level_whole: Fraction = Fraction(1, 8)


#: A part does one of these: each displaces the others.
ONE_OF_THESE = ("strum", "pick", "riff", "line")


class PartSettings(NamedTuple):
    """What a form says of one part at one level; `on` is None where it says nothing.

    `values` hold what each key was given, as `backing.form.parts` lists and types the keys.
    Names of strums, picks and riffs are looked up in the Form; what is written in place
    is here itself.
    """

    on: bool | None = None
    values: Mapping[str, Any] = NOTHING

    @property
    def volume(self) -> int | None:
        """From 0 to 127."""
        volume: int | None = self.values.get("volume")
        return volume

    @property
    def pan(self) -> int | None:
        """From -64 (left) to 63."""
        pan: int | None = self.values.get("pan")
        return pan

    @property
    def sound(self) -> str | None:
        """What it is played on."""
        sound: str | None = self.values.get("sound")
        return sound

    @property
    def strum(self) -> str | StrumPattern | None:
        """A strum's name, or one written in place."""
        strum: str | StrumPattern | None = self.values.get("strum")
        return strum

    @property
    def pick(self) -> str | PickPattern | None:
        """A pick's name, or one written in place."""
        pick: str | PickPattern | None = self.values.get("pick")
        return pick

    @property
    def riff(self) -> str | Riff | None:
        """A riff's name, or one written in place."""
        riff: str | Riff | None = self.values.get("riff")
        return riff

    def having(self, **values: object) -> "PartSettings":
        """These settings with some values put in place of their own."""
        return self._replace(values={**self.values, **values})

    def under(self, outer: "PartSettings") -> "PartSettings":
        """These settings laid over `outer`, key by key."""
        before = outer.values
        if any(key in self.values for key in ONE_OF_THESE):
            before = {key: value for key, value in before.items() if key not in ONE_OF_THESE}
        return PartSettings(outer.on if self.on is None else self.on, {**before, **self.values})


class Arrangement(NamedTuple):
    """A named set of part settings."""

    name: str
    parts: Mapping[str, PartSettings] = NOTHING


class Settings(NamedTuple):
    """What a song, section, entry or pass may set for itself.

    An `arrangement` overrides the `parts` beside it, key by key.
    """

    tempo: Tempo | None = None
    meter: Meter | None = None
    feel: Feel | None = None
    dynamic: str | None = None
    lift: bool | None = None
    note: str | None = None
    words: WrittenWords | None = None
    per_row: int | None = None
    parts: Mapping[str, PartSettings] = NOTHING
    arrangement: Arrangement | None = None

    @property
    def arranged_parts(self) -> Mapping[str, PartSettings]:
        """The parts with those of the arrangement over them."""
        return laid_over(self.parts, self.arrangement.parts) if self.arrangement else self.parts

    def under(self, outer: "Settings") -> "Settings":
        """These settings laid over `outer`, key by key; arrangements become parts."""
        parts = laid_over(outer.arranged_parts, self.arranged_parts)
        tempo = (
            self.tempo.under(outer.tempo)
            if self.tempo and outer.tempo
            else self.tempo or outer.tempo
        )
        return _merged(outer, self)._replace(parts=parts, tempo=tempo, arrangement=None)


def laid_over(
    outer: Mapping[str, PartSettings], inner: Mapping[str, PartSettings]
) -> dict[str, PartSettings]:
    """Part settings with nearer ones over them, part by part and key by key."""
    parts = dict(outer)
    for name, part in inner.items():
        parts[name] = part.under(parts[name]) if name in parts else part
    return parts


NO_SETTINGS = Settings()


class PassSettings(NamedTuple):
    """What one pass sets for itself; `rows` are bars in place of the section's own."""

    settings: Settings = Settings()
    rows: Rows | None = None

    def under(self, outer: "PassSettings") -> "PassSettings":
        """These laid over `outer`, key by key; bars are one key."""
        return PassSettings(
            self.settings.under(outer.settings), outer.rows if self.rows is None else self.rows
        )


#: What a line holds whose passes set nothing for themselves; never written to.
NO_PASSES: Mapping[int, PassSettings] = {}


@dataclass(frozen=True, slots=True)
class Section:
    """A section: its bars in rows, how often they play, and its endings by number."""

    name: str
    rows: Rows
    times: int = 1
    endings: Mapping[int, Rows] = field(default_factory=dict)
    settings: Settings = NO_SETTINGS
    on_pass: Mapping[int, PassSettings] = field(default_factory=dict)
    #: How many bars the rows hold, and those of each ending; counted once, asked often.
    body_bars: int = field(init=False, repr=False, compare=False)
    ending_bars: Mapping[int, int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        endings = {number: sum(map(len, rows)) for number, rows in self.endings.items()}
        object.__setattr__(self, "body_bars", sum(map(len, self.rows)))
        object.__setattr__(self, "ending_bars", endings)


class Group(NamedTuple):
    """Lines of the form that repeat together; `number` tells groups apart."""

    number: int
    times: int = 1


class Entry(NamedTuple):
    """One line of the form list. `times` is the entry's own `xN`; `bars` is (A, B).

    `on_pass` is what single passes of this line set, numbered from 1 over all rounds of its
    `groups`, of which the outermost comes first.
    """

    section: str
    times: int = 1
    bars: tuple[int, int] | None = None
    ending: int | None = None
    label: str | None = None
    settings: Settings = Settings()
    transpose: int = 0
    on_pass: Mapping[int, PassSettings] = NO_PASSES
    groups: tuple[Group, ...] = ()

    @property
    def rounds(self) -> int:
        """How many times the groups around it play it."""
        return prod(group.times for group in self.groups)


class Form(NamedTuple):
    """A whole song as its writer typed it.

    `student` is whom it is printed for; `capo` is a fret, 0 to 11; `count_in_bars` is 0 or more;
    `instrument` is what the student plays; `tuning` is four to eight MIDI note numbers, lowest row
    first, for the guitars, and `bass_tuning` the bass's; `pitch_hz` is the A above middle C;
    `human` is 0 to 100 percent; `voicing` is "full" or "shell". `pickup_parts` are the
    parts that play a riff in the pickup.
    """

    title: str
    settings: Settings
    sections: Mapping[str, Section]
    entries: tuple[Entry, ...]
    by: str = ""
    student: str = ""
    key: Key | None = None
    capo: int = 0
    count_in_bars: int = 1
    pickup: WrittenBar | None = None
    pickup_parts: Mapping[str, PartSettings] = NOTHING
    instrument: Instrument = GUITAR
    tuning: tuple[int, ...] = STANDARD_TUNING
    bass_tuning: tuple[int, ...] = BASS_TUNING
    pitch_hz: Fraction = Fraction(440)
    human: int = USUALLY_HUMAN
    shapes: Mapping[str, Fingering] = NOTHING
    voicing: str = FULL
    strums: Mapping[str, StrumPattern] = NOTHING
    picks: Mapping[str, PickPattern] = NOTHING
    riffs: Mapping[str, Riff] = NOTHING
    arrangements: Mapping[str, Arrangement] = NOTHING
    practice: Practice = Practice()

    @property
    def own_tuning(self) -> tuple[int, ...]:
        """The student's open strings: of the bass, or of the guitars."""
        return self.bass_tuning if self.instrument.is_bass else self.tuning

    def strings_of(self, part: str) -> tuple[int, ...]:
        """What a part's strings sound at fret 0, lowest row first: a guitar's frets count from
        the capo."""
        if part == "bass":
            return self.bass_tuning
        return tuple(note + self.capo for note in self.tuning)

    def neck_of(self, part: str) -> Neck:
        """The neck that a part's riffs are played on."""
        short = has_short_string(self.strings_of(part))
        return Neck(self.instrument.frets_of(part), short)

    @property
    def meter(self) -> Meter:
        """The song's own meter."""
        return self.settings.meter or COMMON_TIME


_T = TypeVar("_T", Settings, Tempo)


def _merged(outer: _T, inner: _T) -> _T:
    written: dict[str, Any] = dict(zip(inner._fields, inner, strict=True))
    return outer._replace(**{name: value for name, value in written.items() if value is not None})
