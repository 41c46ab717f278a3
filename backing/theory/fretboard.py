"""The fretboard of an instrument with four to eight strings: fingerings and how they are written.

Strings are listed from the lowest row to the highest as they lie on the neck, whatever they are
tuned to; frets go from 0 (open) to 24, and None is a string that isn't played. Fingerings for
chords are found in `fingerings`, tunings are read in `tunings`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

STANDARD_TUNING = (40, 45, 50, 55, 59, 64)
FEWEST_STRINGS, MOST_STRINGS = 4, 8
#: With this many strings or more, a chord's lowest note is its bass. On fewer, such as a ukulele's,
#: chords sound in any inversion (common practice).
STRINGS_WITH_BASS = 6
HIGHEST_FRET = 24
#: A string that starts at the neck's fifth fret, as on a banjo, is the first of this many.
STRINGS_WITH_SHORT = 5


@dataclass(frozen=True, slots=True)
class Fingering:
    """Frets by string, lowest row first, and perhaps the fingers (1-4, 0 for none).

    Raises:
        ValueError: no instrument has such a shape; the sentence says what to write.
    """

    frets: tuple[int | None, ...]
    fingers: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        sounding = [fret for fret in self.frets if fret is not None]
        if not FEWEST_STRINGS <= len(self.frets) <= MOST_STRINGS:
            raise ValueError(
                f"a shape has {FEWEST_STRINGS} to {MOST_STRINGS} strings, not {len(self.frets)}; "
                f"{_ADVICE}"
            )
        if not sounding:
            raise ValueError(f"no string of {self} sounds; {_ADVICE}")
        if not all(0 <= fret <= HIGHEST_FRET for fret in sounding):
            raise ValueError(f"{self} goes past fret {HIGHEST_FRET}; write frets 0 to 24")
        if self.fingers and len(self.fingers) != len(self.frets):
            raise ValueError(f"write fingers for all {len(self.frets)} strings, as in x01230")
        if not all(0 <= finger <= 4 for finger in self.fingers):
            raise ValueError("fingers are 1 (index) to 4 (little), and 0 or x for none")

    def pitches(
        self, tuning: tuple[int, ...] = STANDARD_TUNING, capo: int = 0
    ) -> tuple[int | None, ...]:
        """Sounding note numbers by string; frets count from the capo."""
        return tuple(
            None if fret is None else open_note + capo + fret
            for open_note, fret in zip(tuning, self.frets, strict=True)
        )

    def __str__(self) -> str:
        texts = ["x" if fret is None else str(fret) for fret in self.frets]
        return ("-" if any(len(text) > 1 for text in texts) else "").join(texts)


class Neck(NamedTuple):
    """What a part's riffs are played on: how many frets, and whether it has a banjo's short string,
    which is only played open."""

    frets: int
    has_short_string: bool = False


def has_short_string(tuning: tuple[int, ...]) -> bool:
    """Whether the first of five strings is a banjo's short one: it is the highest of all."""
    return len(tuning) == STRINGS_WITH_SHORT and tuning[0] == max(tuning)


_ADVICE = "write them low string first, as in x02220 or x-10-12-12-11-10"


def parse_fingering(text: str, fingers: str = "") -> Fingering:
    """Read `x02220` or, above the ninth fret, `x-10-12-12-11-10`; fingers as `x01230`.

    Raises:
        ValueError: it isn't one; the sentence says what to write.
    """
    text = text.strip()
    frets = text.lower().split("-") if "-" in text else list(text.lower())
    if not all(re.fullmatch("x|[0-9]{1,2}", fret) for fret in frets):
        raise ValueError(f"{text!r} isn't a shape; {_ADVICE}")
    if not re.fullmatch("[xX0-4]*", fingers):
        raise ValueError(f"{fingers!r} aren't fingers; write 1 to 4, and 0 or x for none: x01230")
    return Fingering(
        tuple(None if fret == "x" else int(fret) for fret in frets),
        tuple(int(finger) for finger in fingers.lower().replace("x", "0")),
    )
