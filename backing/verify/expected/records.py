"""What a file is compared with: the records that the proof's arithmetic fills in.

Times are exact seconds from the start of the file (count-in included), and places exact
quarter notes from there, both as Fractions.
"""

from fractions import Fraction
from typing import NamedTuple

from backing.theory.rhythm import Meter


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


class ExpectedBar(NamedTuple):
    """A bar line with its meter, and whether the click must sound there."""

    start_s: Fraction
    start_quarters: Fraction
    meter: Meter
    clicked: bool
    only_counts: bool = False
    """Whether it counts in a round of a practice version, and belongs to no pass."""


class Sounding(NamedTuple):
    """A chord as it sounds: its root, its tones and the lowest of them, as pitch classes 0-11."""

    root: int
    tones: frozenset[int]
    lowest: int


class ExpectedChord(NamedTuple):
    """A slot: its written time, the chord that sounds, and the bass note that it needs.

    `sounding` is None at N.C., `bass_class` (0-11) where no bass must be struck; `bass_s` is
    when it must be (a push comes early). `push_quarters` is how early the chord may come at
    most, 0 without a push.
    """

    start_s: Fraction
    written: str
    sounding: Sounding | None
    bass_class: int | None
    bass_s: Fraction
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
    clicks: tuple[ExpectedClick, ...] = ()
    """Every click in order of time, if `expect` was to list them."""
    rounds: int = 1
    absent: frozenset[str] = frozenset()
    """The parts that a practice version leaves out; the click still counts in."""
    guitar_rests: tuple[tuple[Fraction, Fraction], ...] = ()
    """From when to when the guitar must be silent."""

    @property
    def played_bars(self) -> int:
        """How many bars are music, in all rounds."""
        return sum(not bar.only_counts for bar in self.bars)
