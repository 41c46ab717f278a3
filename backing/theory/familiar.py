"""Shapes that students learn and players use (common practice), on the guitar and on the ukulele.

Where an instrument's strings have the names that a table is for, its shapes are taught as they
stand. So are a ukulele's on strings tuned alike from any note up: a baritone ukulele's G is the
smaller one's C. Moved up the neck, with the index across what were open strings, shapes are
barre chords.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple, TypeAlias

from backing.theory.chords import Chord, parse_chord
from backing.theory.fretboard import STANDARD_TUNING, STRINGS_WITH_BASS, parse_fingering
from backing.theory.hand import Frets

GUITAR_SHAPES = {
    "C": "x32010", "A": "x02220", "G": "320003", "E": "022100", "D": "xx0232", "F": "133211",
    "Am": "x02210", "Em": "022000", "Dm": "xx0231",
    "A7": "x02020", "B7": "x21202", "C7": "x32310", "D7": "xx0212", "E7": "020100", "G7": "320001",
    "Am7": "x02010", "Bm7": "x20202", "Dm7": "xx0211", "Em7": "022030 020000",
    "Amaj7": "x02120", "Cmaj7": "x32000", "Dmaj7": "xx0222", "Emaj7": "021100", "Fmaj7": "xx3210",
    "Gmaj7": "320002", "Asus2": "x02200", "Dsus2": "xx0230", "Asus4": "x02230", "Dsus4": "xx0233",
    "Esus4": "022200", "A7sus4": "x02030", "E7sus4": "020200", "A5": "x022xx", "E5": "022xxx",
    "D5": "xx023x", "Am6": "x02212", "E9": "020102", "B9": "x21222", "Cadd9": "x32033",
    "Am7b5": "x0101x", "Ddim7": "xx0101", "D/F#": "200232", "G/B": "x20003", "C/G": "332010",
}  # fmt: skip
#: What players use where the easiest shape blurs, grates (see `clarity`) or is clumsy, at any fret.
PLAYERS_SHAPES = {
    "E7#9": "x7678x", "C6/9": "x32233", "Fmaj9": "x8798x", "Am6": "5x455x", "Abm7b5": "4x443x",
    "Bm7b5": "x2323x", "C7b9": "x32323", "Bmaj7b5": "x2334x", "B(b5)": "x2344x", "C#sus4": "x4667x",
}  # fmt: skip
#: The same, but for one root each: on others something else is usual.
PLAYERS_SHAPES_OF_ONE_ROOT = {
    "C#7#9": "x4345x", "F7#9": "x8789x", "F#7#9": "x-9-8-9-10-x", "G7#9": "x-10-9-10-11-x",
    "Ab7#9": "xx6577", "A7#9": "xx7688", "F#7b9": "xx4353", "F9b5": "x87887", "F#9b5": "x98998",
    "F9#11": "x87887", "Cm9": "x31333", "C#m9": "x42444", "Dm9": "x53555", "Cmaj9": "x30000",
    "Emaj9": "021102", "Gmaj9": "3x0202", "Abmaj9": "xx6586", "Amaj9": "x02424", "A13": "x02022",
    "Bb13": "x10133", "C13": "x35355", "Eb13": "x68688", "A6": "x02222", "B6": "x24444",
    "Bm6": "7x677x", "Cm6": "x3x243", "Dm6": "xx0201", "Em6": "022020", "Csus2": "x30013",
    "Dm7b5": "xx0111", "Abdim7": "4x3434", "A/C#": "x42220", "Am/G": "3x2210",
}  # fmt: skip
UKULELE_SHAPES = {
    "C": "0003", "Db": "1114", "D": "2220", "Eb": "0331", "E": "4442 1402", "F": "2010",
    "F#": "3121", "G": "0232", "Ab": "5343", "A": "2100", "Bb": "3211", "B": "4322",
    "Cm": "0333", "C#m": "1104", "Dm": "2210", "Ebm": "3321", "Em": "0432", "Fm": "1013",
    "F#m": "2120", "Gm": "0231", "G#m": "4342", "Am": "2000", "Bbm": "3111", "Bm": "4222",
    "C7": "0001", "Db7": "1112", "D7": "2223", "Eb7": "3334", "E7": "1202", "F7": "2310",
    "F#7": "3424", "G7": "0212", "Ab7": "1323", "A7": "0100", "Bb7": "1211", "B7": "2322",
    "Cm7": "3333", "C#m7": "1102", "Dm7": "2213", "Em7": "0202", "Fm7": "1313", "F#m7": "2424",
    "Gm7": "0211", "G#m7": "1322", "Am7": "0000", "Bbm7": "1111", "Bm7": "2222", "C6": "0000",
    "Cmaj7": "0002", "Dmaj7": "2224", "Fmaj7": "2413", "Gmaj7": "0222", "Amaj7": "1100",
    "Dsus4": "0230", "Gsus4": "0233", "Asus4": "2200", "Fsus4": "3011", "Caug": "1003",
    "Csus2": "0233", "Dsus2": "2200", "Gsus2": "0230",
    "C#dim7": "0101", "Edim7": "0101", "Gdim7": "0101", "Bbdim7": "0101",
    "Ddim7": "1212", "Fdim7": "1212", "G#dim7": "1212", "Bdim7": "1212",
    "Cdim7": "2323", "Ebdim7": "2323", "F#dim7": "2323", "Adim7": "2323",
}  # fmt: skip

_OCTAVE = 12  # frets


class Family(NamedTuple):
    """Shapes for one relative tuning of strings.

    `any_note` is whether they are taught on strings tuned alike from any note up, and `stays`
    whether they aren't moved up the neck.
    """

    tuning: tuple[int, ...]
    shapes: tuple[tuple[str, str], ...]
    any_note: bool = False
    stays: bool = False

    def strings_of(self, tuning: tuple[int, ...]) -> tuple[int, ...] | None:
        """The strings of a tuning that the shapes may be for: the highest of more than six."""
        count = len(self.tuning)
        if len(tuning) < count or (len(tuning) > count and count < STRINGS_WITH_BASS):
            return None
        return tuning[-count:]


FAMILIES = (
    Family(STANDARD_TUNING, tuple(GUITAR_SHAPES.items())),
    Family(STANDARD_TUNING, tuple(PLAYERS_SHAPES.items())),
    Family(STANDARD_TUNING, tuple(PLAYERS_SHAPES_OF_ONE_ROOT.items()), stays=True),
    Family((67, 60, 64, 69), tuple(UKULELE_SHAPES.items()), any_note=True),
)

_Steps: TypeAlias = "tuple[tuple[int, ...], int]"


class Familiar(NamedTuple):
    """A familiar shape of a chord. It is `taught` as it stands, or else moved up the neck."""

    frets: Frets
    taught: bool


@lru_cache(maxsize=1024)
def familiar_shapes(chord: Chord, tuning: tuple[int, ...]) -> tuple[Familiar, ...]:
    """The familiar shapes of a chord, each once; of several that are taught, the first is usual."""
    found: dict[Frets, bool] = {}
    for family, by_steps in zip(FAMILIES, _shapes(), strict=True):
        strings = family.strings_of(tuning)
        if strings is None:
            continue
        silent = (None,) * (len(tuning) - len(strings))
        raised = _raised(family.tuning, strings, (0,) * len(strings))
        alike = raised == {0} or (family.any_note and len(raised) == 1)
        for root, frets in by_steps.get(_steps(chord), ()):
            by = _raised(family.tuning, strings, frets)
            if len(by) != 1:
                continue
            up = (chord.root.pitch_class - root - by.pop()) % 12
            if not (up and family.stays):
                shape = (*silent, *_moved(frets, up))
                found[shape] = found.get(shape, False) or (alike and not up)
    return tuple(Familiar(frets, taught) for frets, taught in found.items())


def _moved(frets: Frets, up: int) -> Frets:
    """A shape so many frets higher, or an octave below that if its frets allow."""
    if min(fret for fret in frets if fret is not None) + up >= _OCTAVE:
        up -= _OCTAVE
    return tuple(None if fret is None else fret + up for fret in frets)


def taught_shape(chord: Chord, tuning: tuple[int, ...]) -> Frets | None:
    """The usual one of a chord's taught shapes; no search needed."""
    return next((frets for frets, taught in familiar_shapes(chord, tuning) if taught), None)


def _raised(usual: tuple[int, ...], strings: tuple[int, ...], frets: Frets) -> set[int]:
    """By how many semitones strings differ from the usual, octaves apart, where frets sound."""
    return {
        (note - other) % 12
        for note, other, fret in zip(strings, usual, frets, strict=True)
        if fret is not None
    }


@lru_cache(maxsize=1)
def _shapes() -> tuple[dict[_Steps, list[tuple[int, Frets]]], ...]:
    """For each family its shapes by what stays the same when they move: root and frets."""
    found = []
    for family in FAMILIES:
        by_steps: dict[_Steps, list[tuple[int, Frets]]] = {}
        for name, texts in family.shapes:
            chord = parse_chord(name)
            shapes = [
                (chord.root.pitch_class, parse_fingering(text).frets) for text in texts.split()
            ]
            by_steps.setdefault(_steps(chord), []).extend(shapes)
        found.append(by_steps)
    return tuple(found)


def _steps(chord: Chord) -> _Steps:
    """What stays the same when a chord is moved."""
    return chord.intervals, (chord.bass_class - chord.root.pitch_class) % 12
