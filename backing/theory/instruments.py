"""The instruments that a student plays: strings, frets, sound and the reach of the hand.

Tunings, frets and sounds are common practice, from memory; the standard tunings are checked
against published ones in `tests/outside/`. General MIDI (RP-003) has no ukulele, so a nylon
guitar sounds for it. How far a hand reaches follows from the length of the strings: 860 mm on a
bass, 650 on a guitar, 510 on a baritone ukulele and 350 to 430 on smaller ones.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from backing.theory.fretboard import HIGHEST_FRET, STANDARD_TUNING
from backing.theory.hand import REACHES

#: A bass guitar's open strings: E1 A1 D2 G2.
BASS_TUNING = (28, 33, 38, 43)


class Instrument(NamedTuple):
    """An instrument that a form can name.

    `player` is what one who plays it is called. `tuning` has note numbers from the lowest row to
    the highest as they lie on the neck. `part` is the part of the band that the student plays, and
    `sound` what the part sounds like unless the form says otherwise. `reach` counts the frets from
    the index to the little finger.
    """

    name: str
    title: str
    player: str
    tuning: tuple[int, ...]
    frets: int
    part: str
    sound: str
    reach: int

    @property
    def is_bass(self) -> bool:
        """Whether the student plays the bass line, and the band has a guitar besides."""
        return self.part == "bass"

    def frets_of(self, part: str) -> int:
        """How many frets a part of the band has, where this is the student's instrument."""
        return self.frets if (part == "bass") == self.is_bass else HIGHEST_FRET


GUITAR = Instrument(
    "guitar", "Guitar", "guitarist", STANDARD_TUNING, HIGHEST_FRET, "guitar", "steel", REACHES[6]
)
_ROWS = (
    GUITAR,
    Instrument(
        "ukulele", "Ukulele", "ukulele player", (67, 60, 64, 69), 20, "guitar", "nylon", REACHES[4]
    ),
    Instrument(
        "baritone ukulele", "Baritone ukulele", "ukulele player", (50, 55, 59, 64), 21, "guitar",
        "nylon", REACHES[4],
    ),
    Instrument("bass", "Bass", "bass player", BASS_TUNING, HIGHEST_FRET, "bass", "fingered", 2),
    Instrument(
        "five-string bass", "Bass", "bass player", (23, *BASS_TUNING), HIGHEST_FRET, "bass",
        "fingered", 2,
    ),
)  # fmt: skip
#: Every instrument by its name.
INSTRUMENTS: Mapping[str, Instrument] = MappingProxyType({row.name: row for row in _ROWS})
