"""The guitar's fretboard: tunings, fingerings, and a fingering for any chord.

Strings are listed low string first, frets 0 (open) to 24; None is a string that is
not to sound. A fingering is found in three steps: the open shapes every guitarist
learns, the movable barre shapes, and else a small search of our own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from backing.theory.chords import Chord, parse_chord
from backing.theory.pitch import note_number

STANDARD_TUNING = (40, 45, 50, 55, 59, 64)
STRINGS = 6
HIGHEST_FRET = 24
_FAR = 10  # a barre shape past this fret gives way to the search

#: Open shapes (common practice), by the chord they are.
OPEN_SHAPES = {
    "C": "x32010", "A": "x02220", "G": "320003", "E": "022100", "D": "xx0232",
    "Am": "x02210", "Em": "022000", "Dm": "xx0231",
    "A7": "x02020", "B7": "x21202", "C7": "x32310", "D7": "xx0212", "E7": "020100",
    "G7": "320001", "Am7": "x02010", "Bm7": "x20202", "Dm7": "xx0211", "Em7": "022030",
    "Amaj7": "x02120", "Cmaj7": "x32000", "Dmaj7": "xx0222", "Emaj7": "021100",
    "Fmaj7": "xx3210", "Gmaj7": "320002", "AmMaj7": "x02110",
    "A6": "x02222", "C6": "x32210", "D6": "xx0202", "E6": "022120", "G6": "320000",
    "Am6": "x02212", "Dm6": "xx0201", "Em6": "022020",
    "Asus2": "x02200", "Dsus2": "xx0230", "Asus4": "x02230", "Dsus4": "xx0233",
    "Esus4": "022200", "Csus2": "x30033", "Esus2": "024400", "Fsus2": "xx3013",
    "Gsus2": "300033", "Csus4": "x33011", "Gsus4": "3x0013", "A7sus4": "x02030", "D7sus4": "xx0213",
    "E7sus4": "020200", "D5": "xx023x", "Eaug": "032110",
    "Aadd9": "x02420", "Cadd9": "x32033", "Eadd9": "024100", "Fadd9": "xx3213",
    "Gadd9": "320203", "Am(add9)": "x02410", "Em(add9)": "024000",
    "E9": "020102", "Cmaj9": "x30000",
    "A/C#": "x42220", "A/E": "002220", "A/G": "3x2220", "Am/E": "002210", "Am/F#": "2x2210",
    "Am/G": "3x2210", "C/B": "x22010", "C/D": "xx0010", "C/E": "032010", "C/G": "332010",
    "D/A": "x00232", "D/C": "x30232", "D/F#": "200232", "Dm/A": "x00231", "Dm/C": "x30231",
    "Dm/F": "1x0231", "E/B": "x22100", "E/G#": "4x2400", "Em/B": "x22000", "Em/D": "xx0000",
    "Em/G": "3x2000", "F/A": "x03211", "F/C": "x33211", "F/G": "3x3211", "G/A": "x00003",
    "G/B": "x20003", "G/D": "xx0003", "G/F#": "2x0003",
}  # fmt: skip

#: Shapes that move along the neck (common practice), by a chord they make low down.
MOVABLE_SHAPES = {
    "F": "133211", "Fm": "133111", "F7": "131211", "Fm7": "131111", "Fmaj7": "1x221x",
    "Fsus4": "133311", "F7sus4": "131311", "F6": "1x021x", "Fm6": "1x011x", "F5": "133xxx",
    "Faug": "1x322x", "F7#5": "1x122x", "F9": "131213", "Fm9": "131113", "F9sus4": "131313",
    "F7b9": "131212", "F13": "1x1233", "Fadd9": "1x3213", "F#dim7": "2x121x", "F#m7b5": "2x221x",
    "Bb": "x13331", "Bbm": "x13321", "Bb7": "x13131", "Bbm7": "x13121", "Bbmaj7": "x13231",
    "Bbsus4": "x13341", "Bbsus2": "x13311", "Bb7sus4": "x13141", "Bb6": "x13333",
    "Bbm6": "x1302x", "Bb5": "x133xx", "Bb6/9": "x10011", "BbmMaj7": "x13221",
    "Bbdim": "x1232x", "Bbdim7": "x1202x", "Bbm7b5": "x1212x", "Caug": "x3211x",
    "C9": "x32333", "Cm9": "x3133x", "Cmaj9": "x3243x", "C7b9": "x3232x", "C7#9": "x3234x",
    "C7b5": "x3435x", "C13": "x32335", "C9sus4": "x33333", "Ebdim7": "xx1212", "Ebm7b5": "xx1222",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Fingering:
    """Frets by string, low string first, and perhaps the fingers (1-4, 0 for none).

    Raises ValueError, with a sentence, for what no six-string guitar can hold.
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
            raise ValueError(f"fingers are written for {STRINGS} strings, as in x01230")
        if not all(0 <= finger <= 4 for finger in self.fingers):
            raise ValueError("fingers are 1 (index) to 4 (little), 0 or x for none")

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

    Raises ValueError, with a sentence that says what to write.
    """
    text = text.strip()
    frets = text.lower().split("-") if "-" in text else list(text.lower())
    if not all(re.fullmatch("x|[0-9]{1,2}", fret) for fret in frets):
        raise ValueError(f"{text!r} is no shape; {_ADVICE}")
    if not re.fullmatch("[xX0-4]*", fingers):
        raise ValueError(f"{fingers!r} names no fingers; write 1 to 4, 0 or x for none: x01230")
    return Fingering(
        tuple(None if fret == "x" else int(fret) for fret in frets),
        tuple(int(finger) for finger in fingers.lower().replace("x", "0")),
    )


def parse_tuning(text: str) -> tuple[int, ...]:
    """Read six notes, low string first: `D2 A2 D3 G3 B3 E4`.

    Raises ValueError, with a sentence that says what to write.
    """
    notes = tuple(note_number(note) for note in text.split())
    if len(notes) != STRINGS:
        raise ValueError(f"a tuning has six notes, not {len(notes)}; write D2 A2 D3 G3 B3 E4")
    if notes[0] > notes[-1]:
        raise ValueError(f"{text!r} starts with the high string; write the low string first")
    return notes


@lru_cache(maxsize=1024)
def fingering_for(chord: Chord, tuning: tuple[int, ...] = STANDARD_TUNING) -> Fingering:
    """A fingering for any chord in any tuning: its lowest note the bass, no foreign notes.

    `tuning` is six note numbers. The fifth, and in large chords other tones, may be
    missing; third, seventh and altered tones go last.
    """
    shape = _open_shapes().get((chord.pitch_classes, chord.bass_class))
    if shape and _raised(shape, tuning) == 0:
        return shape
    moved = min(_moved_shapes(chord, tuning), key=_highest, default=None)
    return moved if moved and _highest(moved) <= _FAR else _searched(chord, tuning)


@lru_cache(maxsize=1)
def _open_shapes() -> dict[tuple[frozenset[int], int], Fingering]:
    chords = {parse_chord(name): parse_fingering(shape) for name, shape in OPEN_SHAPES.items()}
    return {(chord.pitch_classes, chord.bass_class): shape for chord, shape in chords.items()}


@lru_cache(maxsize=1)
def _movable_shapes() -> tuple[tuple[tuple[int, ...], Fingering], ...]:
    return tuple(
        (parse_chord(name).intervals, parse_fingering(shape))
        for name, shape in MOVABLE_SHAPES.items()
    )


def _moved_shapes(chord: Chord, tuning: tuple[int, ...]) -> Iterator[Fingering]:
    if chord.bass_class != chord.root.pitch_class:
        return
    for intervals, shape in _movable_shapes():
        if intervals != chord.intervals or _raised(shape, tuning) is None:
            continue
        lowest = next(note for note in shape.pitches(tuning) if note is not None)
        up = (chord.bass_class - lowest) % 12
        if up + min(fret for fret in shape.frets if fret is not None) >= 12:
            up -= 12
        yield Fingering(tuple(None if fret is None else fret + up for fret in shape.frets))


def _raised(shape: Fingering, tuning: tuple[int, ...]) -> int | None:
    """Semitones that `tuning` lies above the standard on the strings used; None if uneven."""
    steps = {
        note - standard
        for note, standard, fret in zip(tuning, STANDARD_TUNING, shape.frets, strict=True)
        if fret is not None
    }
    return steps.pop() if len(steps) == 1 else None


def _highest(shape: Fingering) -> int:
    return max(fret for fret in shape.frets if fret is not None)


_SPAN = 4  # frets a hand covers
# What it costs to leave out a tone, by semitones above the root; any other costs more.
_COSTS = {7: 1, 0: 2, 2: 3}
_DEAR = 10
_MUTED = 2  # what a muted string costs, in frets up the neck


def _searched(chord: Chord, tuning: tuple[int, ...]) -> Fingering:
    """The fingering within one hand's span that leaves out least, then lies low and full."""
    root = chord.root.pitch_class
    costs = [((root + step) % 12, _COSTS.get(step, _DEAR)) for step in chord.intervals]

    def cost(frets: tuple[int | None, ...]) -> tuple[int, int]:
        sounding = {
            (note + fret) % 12 for note, fret in zip(tuning, frets, strict=True) if fret is not None
        }
        missing = sum(price for tone, price in costs if tone not in sounding)
        return missing, _MUTED * frets.count(None) + max(fret or 0 for fret in frets)

    return Fingering(min(_playable(chord, tuning), key=cost))


def _playable(chord: Chord, tuning: tuple[int, ...]) -> Iterator[tuple[int | None, ...]]:
    for string in range(3):
        bass_fret = (chord.bass_class - tuning[string]) % 12
        lowest = range(max(1, bass_fret - _SPAN + 1), bass_fret + 1) if bass_fret else range(1, 8)
        for first in lowest:
            choices = [
                [
                    fret
                    for fret in (0, *range(first, first + _SPAN))
                    if note + fret > tuning[string] + bass_fret
                    and (note + fret) % 12 in chord.pitch_classes
                ]
                for note in tuning[string + 1 :]
            ]
            for upper in product(*([*frets, None] for frets in choices)):
                fretted = [fret for fret in (bass_fret, *upper) if fret]
                # Four fingers: one a fret, or the index across the lowest of them.
                if len(fretted) <= 4 or len(fretted) - fretted.count(min(fretted)) < 4:
                    yield (*(None,) * string, bass_fret, *upper)
