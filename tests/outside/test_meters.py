"""Bar lengths against music21's own meters, and beats against the handbooks."""

from __future__ import annotations

from fractions import Fraction

import pytest
from music21 import meter as music21_meter

from backing.theory.rhythm import parse_meter

METERS = (
    "2/2",
    "3/2",
    "2/4",
    "3/4",
    "4/4",
    "5/4",
    "6/4",
    "7/4",
    "3/8",
    "5/8",
    "6/8",
    "7/8",
    "9/8",
    "12/8",
    "4/1",
    "3/16",
    "6/16",
    "12/16",
)


@pytest.mark.parametrize("text", METERS)
def test_bar_lengths(text: str) -> None:
    """music21 counts bars in quarters, as MusicXML 4.0's `divisions` do."""
    quarters = music21_meter.TimeSignature(text).barDuration.quarterLength
    assert parse_meter(text).bar_whole == Fraction(quarters) / 4


# Simple and compound time as handbooks of theory teach it (common practice): the
# beat of 6/8, 9/8 and 12/8 is a dotted quarter. music21 agrees on all of these.
BEATS = (
    ("2/4", 2, Fraction(1, 4)),
    ("3/4", 3, Fraction(1, 4)),
    ("4/4", 4, Fraction(1, 4)),
    ("2/2", 2, Fraction(1, 2)),
    ("3/2", 3, Fraction(1, 2)),
    ("6/8", 2, Fraction(3, 8)),
    ("9/8", 3, Fraction(3, 8)),
    ("12/8", 4, Fraction(3, 8)),
    ("6/16", 2, Fraction(3, 16)),
)


@pytest.mark.parametrize(("text", "count", "beat_whole"), BEATS)
def test_beats(text: str, count: int, beat_whole: Fraction) -> None:
    ours = parse_meter(text)
    assert (len(ours.beats), ours.beat_whole) == (count, beat_whole)
    theirs = music21_meter.TimeSignature(text)
    assert theirs.beatCount == count
    assert Fraction(theirs.beatDuration.quarterLength) / 4 == beat_whole


def test_the_metronome_click_of_six_eight() -> None:
    """SMF 1.0 (RP-001) writes 6/8 clicked in dotted quarters as 36 MIDI clocks, 24 a quarter."""
    beat = parse_meter("6/8").beat_whole
    assert beat is not None
    assert beat * 4 * 24 == 36
