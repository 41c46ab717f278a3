"""The guitar's fretboard: tunings and fingerings, and how they are written.

Strings are listed low string first, frets from 0 (open) to 24; None is a string that isn't
played. Fingerings for chords are found in `fingerings`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from backing.theory.pitch import note_number

STANDARD_TUNING = (40, 45, 50, 55, 59, 64)
STRINGS = 6
#: The range of open strings, from below a bass guitar's: C1 to C6.
LOWEST_OPEN, HIGHEST_OPEN = 24, 84
HIGHEST_FRET = 24


@dataclass(frozen=True, slots=True)
class Fingering:
    """Frets by string, low string first, and perhaps the fingers (1-4, 0 for none).

    Raises:
        ValueError: a six-string guitar has no such shape; the sentence says what to write.
    """

    frets: tuple[int | None, ...]
    fingers: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        sounding = [fret for fret in self.frets if fret is not None]
        if len(self.frets) != STRINGS:
            raise ValueError(f"a shape has {STRINGS} strings, not {len(self.frets)}; {_ADVICE}")
        if not sounding:
            raise ValueError(f"no string of {self} sounds; {_ADVICE}")
        if not all(0 <= fret <= HIGHEST_FRET for fret in sounding):
            raise ValueError(f"{self} goes past fret {HIGHEST_FRET}; write frets 0 to 24")
        if self.fingers and len(self.fingers) != STRINGS:
            raise ValueError(f"write fingers for all {STRINGS} strings, as in x01230")
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


def parse_tuning(text: str) -> tuple[int, ...]:
    """Read six notes, low string first: `D2 A2 D3 G3 B3 E4`.

    Raises:
        ValueError: it isn't one; the sentence says what to write.
    """
    notes = tuple(note_number(note) for note in text.split())
    if len(notes) != STRINGS:
        raise ValueError(f"a tuning has six notes, not {len(notes)}; write D2 A2 D3 G3 B3 E4")
    if not all(LOWEST_OPEN <= note <= HIGHEST_OPEN for note in notes):
        raise ValueError(f"{text!r} isn't a guitar tuning; write notes from C1 to C6")
    if notes[0] > notes[-1]:
        raise ValueError(f"{text!r} starts with the high string; write the low string first")
    return notes
