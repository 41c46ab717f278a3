"""Built-in beats against grooves as drummers write them down, and the brush set as published.

Each groove is counted out here as a drummer counts it, apart from the table. Sources:

* rock, half-time, six-eight: the backbeat and eighths of any drum method (common practice);
* shuffle: the hand plays first and third of each triplet; the snare's notes before the backbeat
  are soft (as taught in drum courses for the Chicago or double shuffle; common practice);
* swing: ride on 1, 2, 2-and, 3, 4, 4-and, the hi-hat's foot on 2 and 4, the kick feathered (as
  taught in jazz drum courses; common practice); jazz waltz: ride on 1, 2, 2-and, 3, foot on 2;
* brushes: one hand sweeps in quarters, the foot is on 2 and 4 (common practice);
* train: sixteenths on the snare with an accent on each "and" (common practice);
* waltz: low, high, high (common practice).
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from backing.players.drum_beats import beat_for, beat_hits
from backing.theory.built_in_beats import BEATS, SLAP, SWIRL, TAP
from backing.theory.general_midi import BRUSH_KIT, BRUSHES, percussion_number
from backing.theory.rhythm import parse_meter

KICK, SNARE, RIDE = (percussion_number(name) for name in ("kick", "snare", "ride"))
HAT, FOOT = percussion_number("closed hi-hat"), percussion_number("pedal hi-hat")
#: Below this a stroke is a ghost note, a feathered kick or a sweep: softer than any backbeat.
SOFT = 70

#: What each drum plays, counted in beats from 1: (strokes that are heard, soft strokes).
GROOVES = {
    ("eighths", "4/4"): {SNARE: ("2 4", ""), HAT: ("1 1+ 2 2+ 3 3+ 4 4+", "")},
    ("half-time", "4/4"): {SNARE: ("3", ""), HAT: ("1 1+ 2 2+ 3 3+ 4 4+", "")},
    ("shuffle", "4/4"): {SNARE: ("2 4", "1a 3a"), HAT: ("1 1a 2 2a 3 3a 4 4a", "")},
    ("swing", "4/4"): {RIDE: ("1 2 2a 3 4 4a", ""), FOOT: ("2 4", ""), KICK: ("", "1 2 3 4")},
    ("swing", "3/4"): {RIDE: ("1 2 2a 3", ""), FOOT: ("2", ""), KICK: ("", "1")},
    ("waltz", "3/4"): {KICK: ("1", ""), SNARE: ("2 3", "")},
    ("brushes", "4/4"): {SWIRL: ("1 2 3 4", ""), FOOT: ("2 4", ""), SLAP: ("2 4", "")},
    ("brushes", "3/4"): {SWIRL: ("1 2 3", ""), FOOT: ("2 3", ""), SLAP: ("2 3", "")},
    ("train", "4/4"): {
        TAP: ("1+ 2+ 3+ 4+", "1 1e 1u 2 2e 2u 3 3e 3u 4 4e 4u"),
        FOOT: ("2 4", ""),
    },
}
#: Where a count falls after its beat: e, and, u (sixteenths), a (the third of a triplet).
AFTER = {
    "": 0,
    "e": Fraction(1, 16),
    "+": Fraction(1, 8),
    "u": Fraction(3, 16),
    "a": Fraction(1, 6),
}


def counted(text: str) -> set[Fraction]:
    return {Fraction(int(count[0]) - 1, 4) + AFTER[count[1:]] for count in text.split()}


@pytest.mark.parametrize(("name", "meter"), GROOVES)
def test_a_groove_is_the_drummers(name: str, meter: str) -> None:
    hits = beat_hits(name, parse_meter(meter), "medium", 0, True)
    for drum, (heard, soft) in GROOVES[name, meter].items():
        found = {hit.offset_whole: hit.velocity for hit in hits if hit.pitch == drum}
        assert set(found) == counted(heard) | counted(soft)
        if heard and soft:
            softest = min(found[at] for at in counted(heard))
            assert all(found[at] < softest for at in counted(soft))
        assert all(found[at] <= SOFT for at in counted(soft))


def test_six_eight_has_its_backbeat_on_the_second_beat() -> None:
    hits = beat_hits("six-eight", parse_meter("6/8"), "medium")
    assert [hit.offset_whole for hit in hits if hit.pitch == SNARE] == [Fraction(3, 8)]
    assert [hit.offset_whole for hit in hits if hit.pitch == HAT] == [
        Fraction(i, 8) for i in range(6)
    ]


def test_a_kick_opens_every_bar_of_every_groove() -> None:
    for row in BEATS:
        for place in range(4):
            hits = beat_hits(row.name, parse_meter(row.meters[0]), "medium", place)
            assert (0, KICK) in {hit[:2] for hit in hits}


def test_the_brush_set_is_general_midi_2s() -> None:
    """RP-024's table from memory; the same in a Roland SC-8850 owner's manual (page 191).

    Fluid R3's preset 128:40 has "Brush Snr 1", "Brush Snr 2" and "Brush Swirl" on these keys.
    """
    assert BRUSHES == {38: "Brush Tap", 39: "Brush Slap", 40: "Brush Swirl"}
    assert (TAP, SLAP, SWIRL) == (38, 39, 40)
    assert BRUSH_KIT == 40
    brushed = {row.name for row in BEATS if row.kit == BRUSH_KIT}
    assert brushed == {"brushes", "train"}
    for name in brushed:
        row = beat_for(name, parse_meter("4/4"))
        assert {voice for voice, _ in row.lines} & {"tap", "slap", "swirl"}
        assert "snare" not in {voice for voice, _ in row.lines}
