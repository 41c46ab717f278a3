"""What a student can set on the page, and how its player treats notes.

The page gets these numbers in its JSON, so that its scripts, its controls and the samples, which
must last at the slowest speed, agree.
"""

from __future__ import annotations

from fractions import Fraction

from backing.page.page_json import LimitsData, PlaybackData
from backing.players.human import FARTHEST_S

#: Speeds, in percent of the tempo as written.
SLOWEST_PERCENT, FASTEST_PERCENT = 30, 130
#: How far the key can be moved, in semitones up or down.
FARTHEST_MOVE = 6
#: What the beats can be divided into.
DIVISIONS = ("1/8", "1/8t", "1/16")
#: A player who is early still means the bar: a little more than anyone strays.
EARLY_S = float(FARTHEST_S + Fraction(3, 1000))
#: A release is this many time constants of an exponential fall, which is 26 dB.
RELEASE_CONSTANTS = 3.0

LIMITS: LimitsData = {
    "slowest": SLOWEST_PERCENT,
    "fastest": FASTEST_PERCENT,
    "fasterSteps": [0, 1, 2, 3, 5, 10],
    "farthestMove": FARTHEST_MOVE,
    "divisions": ["", *DIVISIONS],
    "mostLevel": 150,
    "mostCountIn": 4,
    "mostBetween": 2,
}
PLAYBACK: PlaybackData = {"early": EARLY_S, "releaseConstants": RELEASE_CONSTANTS}


def longest_s(seconds: float) -> float:
    """How long a sound lasts at the page's slowest speed, given its length at the full tempo."""
    return seconds * 100 / SLOWEST_PERCENT
