"""What a form's writer wrote: records that never change, no positions, no sound.

Lengths are fractions of a whole note. `None` in a setting means "not said here";
`Settings.under` merges song, section, entry and pass, the nearer one winning.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Literal, NamedTuple, TypeVar

from backing.form.tab import Riff
from backing.theory.chords import Chord
from backing.theory.fretboard import STANDARD_TUNING, Fingering
from backing.theory.keys import Key
from backing.theory.rhythm import COMMON_TIME, Meter

#: What a mapping holds where nothing is said; never written to.
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


class Heard(NamedTuple):
    """Of every `cycle` bars the first `bars` click."""

    bars: int
    cycle: int


class Stroke(NamedTuple):
    """One step of a strum: `D`, `U`, `x` (damped) or `-` (the hand passes)."""

    move: Literal["D", "U", "x", "-"]
    accent: bool = False


class StrumPattern(NamedTuple):
    """Strokes a step apart; one inner tuple a bar where bar lines are written."""

    step_whole: Fraction
    bars: tuple[tuple[Stroke, ...], ...]


class PickPattern(NamedTuple):
    """Fingers a step apart: `p` (thumb, bass string), `p2`, `i`, `m`, `a`; () is a rest."""

    step_whole: Fraction
    bars: tuple[tuple[tuple[str, ...], ...], ...]


class BassPattern(NamedTuple):
    """Degrees above the chord's root a step apart (`1`, `b3`, `5`, `8`); `-` goes on."""

    step_whole: Fraction
    bars: tuple[tuple[str, ...], ...]


class DrumPattern(NamedTuple):
    """Lines by General MIDI percussion number; a step is 0 (none), 1 (struck) or 2 (accented)."""

    step_whole: Fraction
    lines: tuple[tuple[int, tuple[tuple[int, ...], ...]], ...]


class Feel(NamedTuple):
    """Swing: the first of two notes of `level_whole` lasts `ratio` times the second.

    1 is straight; None takes the ratio from the tempo.
    """

    ratio: Fraction | None = Fraction(1)
    level_whole: Fraction = Fraction(1, 8)


class PartSettings(NamedTuple):
    """What a form says of one part at one level; None is "not said here".

    Names of strums, picks and riffs are looked up in the Form; what is written in place
    stands here itself. `strum`, `pick` and `riff` displace one another.
    """

    on: bool | None = None
    volume: int | None = None
    pan: int | None = None
    sound: str | None = None
    subdivide_whole: Fraction | None = None
    accent: bool | None = None
    heard: Heard | None = None
    line: str | BassPattern | None = None
    strum: str | StrumPattern | None = None
    pick: str | PickPattern | None = None
    riff: str | Riff | None = None
    beat: str | DrumPattern | None = None
    fill: bool | None = None
    level: str | None = None

    def under(self, outer: "PartSettings") -> "PartSettings":
        """These settings laid over `outer`, key by key."""
        if self.strum is not None or self.pick is not None or self.riff is not None:
            outer = outer._replace(strum=None, pick=None, riff=None)
        return _merged(outer, self)


class Settings(NamedTuple):
    """What a song, section, entry or pass may set for itself."""

    tempo: Tempo | None = None
    meter: Meter | None = None
    feel: Feel | None = None
    dynamic: str | None = None
    lift: bool | None = None
    note: str | None = None
    words: tuple[str, ...] | None = None
    per_row: int | None = None
    parts: Mapping[str, PartSettings] = NOTHING

    def under(self, outer: "Settings") -> "Settings":
        """These settings laid over `outer`, key by key and part by part."""
        parts = dict(outer.parts)
        for name, part in self.parts.items():
            parts[name] = part.under(parts[name]) if name in parts else part
        tempo = (
            self.tempo.under(outer.tempo)
            if self.tempo and outer.tempo
            else self.tempo or outer.tempo
        )
        return _merged(outer, self)._replace(parts=parts, tempo=tempo)


NO_SETTINGS = Settings()


class PassSettings(NamedTuple):
    """What one pass sets for itself; `rows` are bars in place of the section's own."""

    settings: Settings = Settings()
    rows: Rows | None = None


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


class Entry(NamedTuple):
    """One line of the form list. `times` is the entry's own `xN`; `bars` is (A, B)."""

    section: str
    times: int = 1
    bars: tuple[int, int] | None = None
    ending: int | None = None
    label: str | None = None
    settings: Settings = Settings()
    transpose: int = 0


#: A ladder's rung where nobody says another, as a share of the tempo.
USUAL_RUNG = Fraction(5, 100)


class Exercise(NamedTuple):
    """One line of the set: a file, or one a speed.

    Speeds, ladder ends and rungs are shares of the written tempo. `speeds` are written
    unless there is a `ladder` (first, last). `section` names the first and the last.
    """

    speeds: tuple[Fraction, ...] = (Fraction(1),)
    ladder: tuple[Fraction, Fraction] | None = None
    rung: Fraction = USUAL_RUNG
    section: tuple[str, str] | None = None
    bars: tuple[int, int] | None = None
    loop: int = 1
    between: int | None = None
    without: tuple[str, ...] = ()
    only: tuple[str, ...] = ()
    answer: int = 0
    key: Key | None = None
    capo: int | None = None
    transpose: int = 0
    keep_shapes: bool = False
    easier: bool = False


class Practice(NamedTuple):
    """The week's set: formats by name (none: the usual), exercises in order (none: the usual)."""

    formats: tuple[str, ...] = ()
    exercises: tuple[Exercise, ...] = ()


class Form(NamedTuple):
    """A whole song as its writer typed it.

    `capo` is a fret, 0 to 11; `count_in_bars` is 0 or more; `tuning` is six MIDI note numbers,
    low string first; `pitch_hz` is the A above middle C; `human` is 0 to 100 percent.
    """

    title: str
    settings: Settings
    sections: Mapping[str, Section]
    entries: tuple[Entry, ...]
    by: str = ""
    key: Key | None = None
    capo: int = 0
    count_in_bars: int = 1
    pickup: WrittenBar | None = None
    tuning: tuple[int, ...] = STANDARD_TUNING
    pitch_hz: Fraction = Fraction(440)
    human: int = USUALLY_HUMAN
    shapes: Mapping[str, Fingering] = NOTHING
    strums: Mapping[str, StrumPattern] = NOTHING
    picks: Mapping[str, PickPattern] = NOTHING
    riffs: Mapping[str, Riff] = NOTHING
    practice: Practice = Practice()

    @property
    def meter(self) -> Meter:
        """The song's own meter."""
        return self.settings.meter or COMMON_TIME


_T = TypeVar("_T", PartSettings, Settings, Tempo)


def _merged(outer: _T, inner: _T) -> _T:
    said: dict[str, Any] = dict(zip(inner._fields, inner, strict=True))
    return outer._replace(**{name: value for name, value in said.items() if value is not None})
