"""What a chart shows, as records: places in bars, but none on paper yet.

Places and lengths are fractions of a whole note; places count from their bar line.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from backing.form.model import Cell
from backing.theory.fretboard import Fingering
from backing.theory.rhythm import Meter


class ChartOptions(NamedTuple):
    """What a user can choose for a chart.

    `paper` is a4 or letter; `sounding` prints chords as they sound with the capo; `times`
    puts each line's time beside the roadmap; `left_handed` mirrors the shape boxes.
    """

    paper: str = "a4"
    shapes: bool = True
    sounding: bool = False
    left_handed: bool = False
    times: bool = False


class Shown(NamedTuple):
    """A slot as it is written: its place, and its cell with the chord named as on this chart."""

    at: Fraction
    cell: Cell


class Sign(NamedTuple):
    """A sign on the line of the bar.

    `slash`, `stopped` and `ringing` are a beat; `rest` lasts `whole`; `simile` and `bar-rest`
    stand in the middle of their bar; `push` is struck `whole` before its place and tied to it.
    """

    at: Fraction
    kind: str
    whole: Fraction = Fraction(0)


#: The lane of strokes; staves of tab are numbered from 0.
STRUM = -1


class Stroke(NamedTuple):
    """A stroke of the strumming hand: D, U or x, which may run upward, or the thumb, p or p2."""

    at: Fraction
    move: str
    accent: bool = False
    upward: bool = False
    short: bool = False


class Fret(NamedTuple):
    """A number on a string of tab; `link` leads to it, `after` follows it, `finger` plucks it.

    `text` is "r" for a rest. The palm lies on a `muted` string; `rolled` ones are picked one after
    another; a `held` one started in the bar before. In `after`, b is a bend, ~ vibrato and . a dot.
    """

    at: Fraction
    string: int
    text: str
    link: str = ""
    after: str = ""
    finger: str = ""
    muted: bool = False
    rolled: bool = False
    held: bool = False


class Tab(NamedTuple):
    """A bar of tab."""

    frets: tuple[Fret, ...]
    #: Where something is struck and how long until the next; None is a rest.
    rhythm: tuple[tuple[Fraction, Fraction, bool], ...]


class Bar(NamedTuple):
    """A bar as it is drawn. `number` counts the section's bars from 1.

    `ending` is the label of the bracket that it stands under; `opens` and `closes` are
    repeat signs; `alike` holds the lanes (STRUM or the number of a staff) in which the playing
    continues unchanged from here. `early` is how long before the bar's end the next bar's first
    chord is struck. `words` has what each verse sings from here on. A bar too wide for the page is
    cut: each piece goes from `start` to `until`.
    """

    meter: Meter
    shows_meter: bool
    again: bool
    slots: tuple[Shown, ...]
    signs: tuple[Sign, ...]
    strokes: tuple[Stroke, ...] = ()
    tabs: tuple[Tab | None, ...] = ()
    alike: tuple[int, ...] = ()
    words: tuple[str, ...] = ()
    ending: str = ""
    opens: bool = False
    closes: bool = False
    end: str = "plain"
    start: Fraction = Fraction(0)
    until: Fraction | None = None
    early: Fraction = Fraction(0)

    @property
    def whole(self) -> Fraction:
        """Its length."""
        return (self.meter.bar_whole if self.until is None else self.until) - self.start


class Line(NamedTuple):
    """A line in the margin: `note` (the teacher's), `tempo` (a note value and a number) or words.

    For a change of tempo `how` says which way, `to` where to and `over` for how long.
    """

    kind: str
    text: str
    beat: Fraction | None = None
    how: str = ""
    to: str = ""
    over: str = ""

    @property
    def words(self) -> str:
        """As plain text, without the note's glyph."""
        change = " ".join(filter(None, (self.how, self.to, self.over)))
        tempo = f"tempo {self.text}" if self.kind == "tempo" and self.text else self.text
        return ", ".join(filter(None, (tempo, change)))


class Staff(NamedTuple):
    """A staff of tab: the name of who plays it, and how many strings it has."""

    name: str
    strings: int


class Block(NamedTuple):
    """A section, once: what stands beside it, and its bars in rows.

    `joined` rows begin below the first ending of the row that holds it.
    """

    name: str
    lines: tuple[Line, ...]
    rows: tuple[tuple[Bar, ...], ...]
    joined: frozenset[int] = frozenset()
    staves: tuple[Staff, ...] = ()
    #: What stands before the words of each verse in a row.
    verses: tuple[str, ...] = ()


class Stop(NamedTuple):
    """A line of the roadmap: its first bar and time, its name, its details and how long it is."""

    bar: int
    seconds: Fraction
    name: str
    details: str
    bars: str
    note: str = ""


class Shape(NamedTuple):
    """A shape box: the chord as printed, the chord that the shape is named after where that is
    another one, and how it is held.
    """

    symbol: str
    played_as: str
    fingering: Fingering
    fingers: tuple[int, ...]


class Head(NamedTuple):
    """The top of the page: `by` who and for whom, `facts` lines of words, `tempo` beat and number.

    `notes` are on the whole song and on exercises.
    """

    title: str
    by: str
    tempo: Line
    facts: tuple[str, ...]
    notes: tuple[str, ...]


class Chart(NamedTuple):
    """All of a chart."""

    head: Head
    roadmap: tuple[Stop, ...]
    total: str
    blocks: tuple[Block, ...]
    shapes: tuple[Shape, ...]
    shapes_note: str
    options: ChartOptions
