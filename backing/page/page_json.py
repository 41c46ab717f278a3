"""The JSON in a practice page, as types: all that the page's scripts know of a song.

Times are seconds at the tempo as written, from bar 1's bar line; a pickup's are negative. Bars,
passes, grids, chords, shapes and samples are named by their indexes. `song.js` declares the same
types for the scripts (a test compares the keys).
"""

from __future__ import annotations

from typing import Literal, TypeAlias, TypedDict

Level: TypeAlias = Literal["accent", "group", "beat", "between"]

# How a song is played


class SlotData(TypedDict):
    """A chord in its bar: `at` is when it is struck, `slot` its written time, `share` of the bar.

    `chord` is -1 for no chord; `marks` are push, stop and ring.
    """

    at: float
    slot: float
    share: float
    chord: int
    marks: list[str]


class BarData(TypedDict):
    """A bar as it is played. `number` counts from 1, with 0 for the pickup; `name` is in words.

    `row` counts the rows of its pass, `ending` is the ending that it belongs to, `simile` says
    that it is written as a repeat of the bar before. `bpm` is its first tempo, in the beats that
    the song's tempo counts. `words` are sung from here on, "" for none.
    """

    number: int
    name: str
    start: float
    end: float
    passIndex: int
    grid: int
    beats: list[float]
    row: int
    ending: int | None
    simile: bool
    bpm: float
    chords: list[SlotData]
    words: str


class GridData(TypedDict):
    """A meter with its swing: each beat's click, and its length in the meter's units.

    `divisions` say by note value where the click may divide each beat, as shares of it.
    """

    meter: str
    levels: list[Level]
    beatUnits: list[int]
    divisions: dict[str, list[list[float]]]


class PassClickData(TypedDict):
    """What the form asks of the click: of every `plays[1]` bars the first `plays[0]` click, at a
    `gain` from the form's volume.
    """

    on: bool
    sound: str
    subdivide: str
    accent: bool
    plays: tuple[int, int] | None
    gain: float


class PassData(TypedDict):
    """A pass of a section: pass `number` of `passes`, `text` in words, its first and last bar.

    `alike` is the earlier pass whose bars look the same.
    """

    name: str
    number: int
    passes: int
    text: str
    section: str
    first: int
    last: int
    note: str
    alike: int | None
    click: PassClickData


# Chords and tab


class ChordData(TypedDict):
    """A chord as written and as it sounds; its names and shapes in every key it can move to.

    The lists go from `farthestMove` semitones down to as many up.
    """

    name: str
    sounding: str
    moved: list[str]
    shapes: list[int]


class BarreData(TypedDict):
    """A finger across strings, from the low one to the high one, counted from 0."""

    fret: int
    low: int
    high: int


class ShapeData(TypedDict):
    """A shape, low string first: frets (None is not played) and fingers (0 is none).

    `base` is the first fret that its box shows, `rows` how many; `text` is the shape as typed.
    """

    frets: list[int | None]
    fingers: list[int]
    barres: list[BarreData]
    base: int
    rows: int
    text: str


class TabNoteData(TypedDict):
    """A number of tab: its bar, its place as a share of it, its string from 1 (high).

    `fret` is "x" for a damped string and "r" for one that rests. `how` is the sign before the
    number (h, p, / or \\), those after it (b, ~, .), and ( for a ghost note or < for a harmonic.
    `hand` has the letters of the fingers that pick its column, at its first number alone. The palm
    lies on a `muted` string; `rolled` ones are picked one after another.
    """

    bar: int
    at: float
    end: float
    share: float
    string: int
    fret: str
    how: str
    hand: str
    muted: bool
    rolled: bool


#: A riff from tab; one that isn't shown, of a guitar beside a bass student; a bass student's line.
RiffKind: TypeAlias = Literal["riff", "unseen", "line"]


class RiffData(TypedDict):
    """What a part plays in a pass, as tab: on how many strings, and its notes.

    It is `named` if it isn't clear whose it is. `movable` is whether its notes have other places
    along the neck, whose last fret is `frets`.
    """

    part: str
    title: str
    named: bool
    kind: RiffKind
    strings: int
    frets: int
    movable: bool
    passIndex: int
    pickup: bool
    notes: list[TabNoteData]


# What sounds

#: Start, end (0 rings out), sample, gain, how long before its stroke's place it starts (0 if it
#: isn't in a stroke) and, where it is bent, its bends as [time, semitones].
NoteData: TypeAlias = (
    "tuple[float, float, int, float, float]"
    " | tuple[float, float, int, float, float, list[tuple[float, float]]]"
)


class PartData(TypedDict):
    """A part; `pans` are from -1 (left) to 1, one for each pass."""

    name: str
    title: str
    pans: list[float]
    notes: list[NoteData]


class SampleData(TypedDict):
    """A sample in the sprite, in seconds: its place, length, and loop where it has one.

    `pitch` is None for percussion. Samples of one `instrument` and `layer` differ in pitch alone.
    After a note's end it falls by 26 dB in `release` seconds.
    """

    at: float
    length: float
    loop: tuple[float, float] | None
    pitch: int | None
    instrument: int
    layer: int
    release: float


class ClickPlaces(TypedDict):
    """A click sound's two kinds: the first 16-bit sample and how many there are."""

    accent: tuple[int, int]
    plain: tuple[int, int]


class ClickSoundData(ClickPlaces):
    """A click sound with the gain of each level."""

    gains: dict[str, float]


class ClickData(TypedDict):
    """The click's sounds, whose places are in the samples of `rate` Hz."""

    rate: int
    sounds: dict[str, ClickSoundData]


class SpriteData(TypedDict):
    """The encoded samples: their rate in Hz, where the marker is, how far in it is looked for."""

    mime: str
    rate: int
    marker: float
    markerWithin: float


class SoundfontData(TypedDict):
    """The soundfont that the samples were made with."""

    name: str
    license: str


# What a student can set, and how the page plays


class LimitsData(TypedDict):
    """The limits of what a student can set, and the choices that a control offers.

    Speeds are percent of the tempo as written, `fasterSteps` percentage points of it a round;
    levels are percent; `farthestMove` is semitones up or down; count-ins are bars.
    """

    slowest: int
    fastest: int
    fasterSteps: list[int]
    farthestMove: int
    divisions: list[str]
    mostLevel: int
    mostCountIn: int
    mostBetween: int


class PlaybackData(TypedDict):
    """How notes are placed and ended.

    A note or stroke placed up to `early` seconds before a bar line still belongs to the bar.
    A sample's `release` is `releaseConstants` time constants of an exponential fall.
    """

    early: float
    releaseConstants: float


class TempoData(TypedDict):
    """The song's tempo: a number of beats a minute, the beat's name, and both as printed."""

    bpm: float
    beat: str
    text: str


class SongData(TypedDict):
    """All that the page shows of a song, and what its click needs.

    `notes` are on the whole song and on exercises.
    """

    title: str
    by: str
    id: str
    lang: str
    key: str
    soundingKey: str
    capo: int
    instrument: str
    tuning: str
    voicing: str
    meter: str
    feel: str
    notes: list[str]
    tempo: TempoData
    countIn: int
    end: float
    ring: float
    grids: list[GridData]
    bars: list[BarData]
    chords: list[ChordData]
    shapes: list[ShapeData]
    passes: list[PassData]
    riffs: list[RiffData]
    limits: LimitsData
    playback: PlaybackData


class PageData(SongData):
    """All of a page: the song, and its parts as samples."""

    gain: float
    parts: list[PartData]
    click: ClickData
    sprite: SpriteData
    samples: list[SampleData]
    soundfont: SoundfontData
