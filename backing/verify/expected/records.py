"""What a file is compared with: the records that the proof's arithmetic fills in.

Times are exact seconds from the start of the file (count-in included), and places exact
quarter notes from there, both as Fractions.
"""

from collections.abc import Mapping
from fractions import Fraction
from typing import NamedTuple

from backing.form.model import NOTHING
from backing.theory.chords import Chord
from backing.theory.fretboard import STANDARD_TUNING, Fingering
from backing.theory.instruments import BASS_TUNING, GUITAR, Instrument
from backing.theory.keys import Key
from backing.theory.rhythm import Meter
from backing.verify.expected.plans import Plan, Swing


class ExpectedPass(NamedTuple):
    """One row of the table. `first_bar` counts from 1; it is 0 for bars that only count.

    `entry` is the line of the form that it belongs to, from 0.
    """

    label: str
    first_bar: int
    bars: int
    start_s: Fraction
    seconds: Fraction
    entry: int = 0


class Clicking(NamedTuple):
    """How a bar clicks: its sound, whether its first click is accented, what divides its beats."""

    sound: str = "wood"
    accented: bool = True
    step_whole: Fraction | None = None
    swing: Swing | None = None


#: Plain beats, as a count-in has them.
PLAIN_CLICKS = Clicking()


class ExpectedBar(NamedTuple):
    """A bar line with its meter, whether the click must sound there, and how it clicks if so."""

    start_s: Fraction
    start_quarters: Fraction
    meter: Meter
    clicked: bool
    only_counts: bool = False
    """Whether it counts in a round of a practice version, and belongs to no pass."""
    clicking: Clicking = PLAIN_CLICKS
    words: str = ""
    """What is sung from here on."""


class Sounding(NamedTuple):
    """A chord as it sounds: its root, its tones and the lowest of them, as pitch classes 0-11."""

    root: int
    tones: frozenset[int]
    lowest: int


class ExpectedChord(NamedTuple):
    """A slot: its written time, and the chord that sounds.

    `sounding` is None at N.C. From `struck_s` on the chord is played: a push comes early, by
    `push_quarters` at most, 0 without a push.
    """

    start_s: Fraction
    written: str
    sounding: Sounding | None
    struck_s: Fraction
    start_quarters: Fraction
    push_quarters: Fraction


class ExpectedClick(NamedTuple):
    """A click and its sound. Where `plays` is False none may sound there."""

    at_s: Fraction
    sound: str
    accented: bool
    plays: bool


class ExpectedTempo(NamedTuple):
    """From here on, `quarter_bpm` quarters a minute."""

    start_s: Fraction
    start_quarters: Fraction
    quarter_bpm: Fraction


class PlayedBar(NamedTuple):
    """A bar in which parts play. `start` is in quarters from the file's start.

    `pattern_bar` is which bar of a pattern it takes, from 0; `number` is as the song counts its
    bars, 0 for the pickup.
    """

    start: Fraction
    meter: Meter
    plan: Plan
    pattern_bar: int
    number: int

    @property
    def end(self) -> Fraction:
        """The next bar line."""
        return self.start + self.meter.bar_whole * 4


class PlayedChord(NamedTuple):
    """A chord (None is N.C.) that parts play; places are quarters from the file's start.

    It sounds from `struck` to `end`, and is written at `slot`: a push comes before that.
    `chord` is as its writer typed it, and sounds `up` semitones higher.
    """

    struck: Fraction
    slot: Fraction
    end: Fraction
    chord: Chord | None
    marks: frozenset[str]
    plan: Plan
    up: int


class PlayedRound(NamedTuple):
    """What parts play from, for one round; places are quarters from the file's start.

    `start` is the first bar's line, the pickup's bar excepted, and `end` the last bar line.
    Nothing sounds from `sounds_until` on. `counted` is the bar before bar 1 that is counted or
    played, if there is one: its start and meter. In `rests` the student's part is silent.
    """

    start: Fraction
    end: Fraction
    sounds_until: Fraction
    counted: tuple[Fraction, Meter] | None
    bars: tuple[PlayedBar, ...]
    chords: tuple[PlayedChord, ...]
    rests: tuple[tuple[Fraction, Fraction], ...] = ()


class Band(NamedTuple):
    """What a version's guitars are tuned to and hold.

    `instrument` is the student's, and `tuning` lists its strings from the lowest row up. Frets
    count from `capo`. Chords are named `by` semitones higher than they are written, from `key` to
    `new_key` where the song has a key. `shapes` are the writer's own, by chord symbol; with
    `easier` a shape may be replaced by an easier one. With `shells` other chords are held as shell
    voicings. A riff's fret 0 sounds `riff_up` semitones
    above the open string and, with `riff_octaves`, perhaps some octaves from there. The bass has
    its own strings, `bass_tuning`, and no capo: its riffs sound `bass_up` semitones higher.
    """

    instrument: Instrument = GUITAR
    tuning: tuple[int, ...] = STANDARD_TUNING
    capo: int = 0
    by: int = 0
    key: Key | None = None
    new_key: Key | None = None
    shapes: Mapping[str, Fingering] = NOTHING
    easier: bool = False
    shells: bool = False
    riff_up: int = 0
    riff_octaves: bool = False
    bass_tuning: tuple[int, ...] = BASS_TUNING
    bass_up: int = 0


class ExpectedKey(NamedTuple):
    """From here on, this key sounds: its tonic's pitch class (0-11), and whether it is minor."""

    start_s: Fraction
    tonic: int
    minor: bool


class Expected(NamedTuple):
    """All that a file is compared with. `seconds` is the form alone; `end_s` the file's end."""

    title: str
    count_in_s: Fraction
    seconds: Fraction
    end_s: Fraction
    passes: tuple[ExpectedPass, ...]
    bars: tuple[ExpectedBar, ...]
    count_in_bars: tuple[ExpectedBar, ...]
    """The bars before bar 1, the pickup among them."""
    lead_in: tuple[tuple[Fraction, str], ...]
    """The markers before bar 1, with their times."""
    chords: tuple[ExpectedChord, ...]
    tempos: tuple[ExpectedTempo, ...]
    human_s: Fraction
    """How far a player's time may stray; the click, bars, markers, chords and tempos never do."""
    rounds: int = 1
    absent: frozenset[str] = frozenset()
    """The parts that a practice version leaves out; the click still counts in."""
    played: tuple[PlayedRound, ...] = ()
    """What parts play from, round by round."""
    band: Band = Band()
    pitch_hz: Fraction = Fraction(440)
    keys: tuple[ExpectedKey, ...] = ()

    @property
    def played_bars(self) -> int:
        """How many bars are music, in all rounds."""
        return sum(not bar.only_counts for bar in self.bars)
