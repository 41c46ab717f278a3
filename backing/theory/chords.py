"""Chord symbols: from what musicians write to the tones it stands for.

A symbol is a root, a quality, changes to single tones, and perhaps a slash bass:
`F#m7`, `C6/9`, `G7(b9)`, `D/F#`. Tones are named by degree (`b3`, `#11`) in the tables
and counted in semitones above the root, modulo 12, everywhere else: a ninth is 2.

Where usage differs, we take what guitarists play:

- 11 and maj11 have no third, which would clash with the eleventh, a half step and an
  octave above it. The ninth stays, so C11 sounds as Bb/C with the fifth. m11 keeps its third.
- 13 and maj13 have no eleventh, for the same clash; m13, which has none, keeps it.
- Altered ninths, elevenths and thirteenths leave the fifth alone; only b5 and #5 take
  its place. A change takes the place of its own plain tone: C9b9 has one ninth.
"""

from __future__ import annotations

import re
from functools import lru_cache
from itertools import product
from typing import NamedTuple

from backing.theory.pitch import PitchName, in_step, parse_pitch_name, transposed

# The ways of writing a piece of a quality.
_SPELLINGS = {
    "{m}": ("m", "min", "-"),
    "{M}": ("maj", "Maj", "M", "Δ"),
    "{o}": ("dim", "°", "o"),
    "{+}": ("aug", "+"),
}

#: The tones of each quality, then its names: the one table for reading and checking.
QUALITIES = (
    ("1 3 5", "", "maj", "Maj", "M"),
    ("1 b3 5", "{m}"),
    ("1 b3 b5", "{o}"),
    ("1 3 #5", "{+}"),
    ("1 5", "5"),
    ("1 3 5 6", "6", "{M}6"),
    ("1 b3 5 6", "{m}6"),
    ("1 3 5 6 9", "6/9", "69"),
    ("1 b3 5 6 9", "{m}6/9", "{m}69"),
    ("1 3 5 b7", "7"),
    ("1 b3 5 b7", "{m}7"),
    ("1 3 5 7", "{M}7", "Δ"),
    ("1 b3 5 7", "{m}{M}7", "{m}({M}7)", "{m}Δ"),
    ("1 b3 b5 bb7", "{o}7"),
    ("1 b3 b5 b7", "ø", "ø7"),
    ("1 3 #5 b7", "{+}7"),
    ("1 3 #5 7", "{+}{M}7"),
    ("1 3 5 b7 9", "9"),
    ("1 b3 5 b7 9", "{m}9"),
    ("1 3 5 7 9", "{M}9"),
    ("1 b3 5 7 9", "{m}{M}9", "{m}({M}9)"),
    ("1 3 #5 b7 9", "aug9"),
    ("1 5 b7 9 11", "11"),
    ("1 b3 5 b7 9 11", "{m}11"),
    ("1 5 7 9 11", "{M}11"),
    ("1 3 5 b7 9 13", "13"),
    ("1 b3 5 b7 9 11 13", "{m}13"),
    ("1 3 5 7 9 13", "{M}13"),
)

#: What may follow a quality, in brackets or not: the tone it removes and the one it adds.
CHANGES = {
    "b5": ("5", "b5"),
    "-5": ("5", "b5"),
    "#5": ("5", "#5"),
    "+5": ("5", "#5"),
    "b9": ("9", "b9"),
    "-9": ("9", "b9"),
    "#9": ("9", "#9"),
    "+9": ("9", "#9"),
    "#11": ("11", "#11"),
    "+11": ("11", "#11"),
    "b13": ("13", "b13"),
    "-13": ("13", "b13"),
    "sus2": ("3", "2"),
    "sus4": ("3", "4"),
    "sus": ("3", "4"),
    "add9": ("", "9"),
    "add2": ("", "9"),
    "add11": ("", "11"),
    "add4": ("", "11"),
    "add13": ("", "13"),
    "add6": ("", "13"),
    "no3": ("3", ""),
    "no5": ("5", ""),
}

#: What could mean two chords, or is often typed but isn't a symbol: what to write instead.
INSTEAD = {
    "-5": ("(b5)", "m"),
    "+9": ("9#5", "7#9"),
    "+11": ("11#5", "7#11"),
    "2": ("sus2", "add9"),
    "4": ("sus4", "add11"),
    "m2": ("m(add9)",),
    "m4": ("m(add11)",),
    "7+": ("7#5", "maj7"),
    "alt": ("7b5b9", "7#5#9"),
    "7alt": ("7b5b9", "7#5#9"),
    "7(9)": ("9",),
    "7(13)": ("13", "7add13"),
    "7b6": ("7b13",),
    "6(9)": ("6/9",),
    "dom7": ("7",),
    "major": ("",),
    "minor": ("m",),
}

# One sign for all that look alike, character for character, so that offsets stay right.
_LOOKALIKES = str.maketrans("♯♭△∆ºØ∅−–", "#bΔΔ°øø--")
_DEGREES = {"1": 0, "2": 2, "3": 4, "4": 5, "5": 7, "6": 9, "7": 11, "9": 2, "11": 5, "13": 9}
_ROOT = re.compile("[A-G][#b]?")
_ONE = "|".join(sorted(map(re.escape, CHANGES), key=len, reverse=True))
_CHANGE = re.compile(_ONE)
_TAIL = re.compile(rf"(?:{_ONE})|\((?:{_ONE})(?:[, ]?(?:{_ONE}))*\)")


class ChordError(ValueError):
    """A text that isn't a chord symbol: where it goes wrong, and what to write.

    `offset` counts characters from the start of the text.
    """

    def __init__(self, message: str, offset: int) -> None:
        super().__init__(message)
        self.offset = offset


class Chord(NamedTuple):
    """A chord as its writer typed it, and its tones.

    `quality` is the text after the root as typed, without the slash bass. `intervals`
    are the distinct semitones above the root, sorted, modulo 12 and with 0 among them.
    """

    root: PitchName
    quality: str
    intervals: tuple[int, ...]
    bass: PitchName | None = None

    @property
    def pitch_classes(self) -> frozenset[int]:
        """Pitch classes (0-11) of every tone, the slash bass among them."""
        root = self.root.pitch_class
        return frozenset((root + step) % 12 for step in self.intervals) | {self.bass_class}

    @property
    def bass_class(self) -> int:
        """Pitch class (0-11) of the lowest tone: the slash bass, or the root."""
        return (self.bass or self.root).pitch_class

    def transposed(self, semitones: int, flats: bool) -> Chord:
        """The chord some semitones up; by whole octaves it stays as it is.

        A slash bass keeps its distance in letters, so that A/C# becomes E/G#, unless
        that would take a double sharp or flat.
        """
        if semitones % 12 == 0:
            return self
        root = transposed(self.root, semitones, flats)
        bass = self.bass and (
            in_step(self.bass, self.root, root) or transposed(self.bass, semitones, flats)
        )
        # `Bbb5` moved to C must not become `Cb5`, which is a C flat.
        quality = re.sub("^([#b♯♭][0-9]+)", r"(\1)", self.quality)
        return Chord(root, quality, self.intervals, bass)

    def raised(self, semitones: int) -> Chord:
        """The chord some semitones up, in no key.

        A sharp stays a sharp and a flat a flat; a natural that lands on a black key gets its
        usual name: Eb, Ab, Bb, C#, F# (common practice).
        """
        if self.root.accidental:
            return self.transposed(semitones, self.root.accidental < 0)
        return self.transposed(semitones, (self.root.pitch_class + semitones) % 12 in (3, 8, 10))

    def moved(self, tonic: PitchName, new_tonic: PitchName) -> Chord:
        """The chord as far from a new tonic as it was from the old one, in letters too.

        Bb in G becomes C in A, F#m in D becomes Gm in Eb; where that would take a double
        sharp or flat, the new tonic's own kind of sign is used.
        """
        semitones = new_tonic.pitch_class - tonic.pitch_class
        root = in_step(self.root, tonic, new_tonic)
        flats = new_tonic.accidental < 0 or new_tonic.letter == "F"
        plain = self.transposed(semitones, flats)
        if root is None or plain is self:
            return plain
        bass = self.bass and (in_step(self.bass, self.root, root) or plain.bass)
        return Chord(root, plain.quality, self.intervals, bass)

    def __str__(self) -> str:
        return f"{self.root}{self.quality}" + (f"/{self.bass}" if self.bass else "")


@lru_cache(maxsize=2048)
def parse_chord(text: str) -> Chord:
    """Read a chord symbol.

    Raises:
        ChordError: it isn't one, or could mean two; with the place and what to write.
    """
    plain = text.translate(_LOOKALIKES)
    root = _ROOT.match(plain)
    if not root:
        raise ChordError(_root_advice(text), 0)
    start = root.end()
    _refuse_unclear(plain, start)
    # Several qualities may begin the text ("", "6", "6/9"): the one that explains most of
    # it is meant, and of two that explain the same amount, the longer.
    readings = [
        (*_changed(plain, start + len(name), tones), len(name))
        for name, tones in _TONES.items()
        if plain.startswith(name, start)
    ]
    end, tones, _ = max(readings, key=lambda reading: (reading[0], reading[2]))
    bass = None
    if plain[end:].startswith("/"):
        if not _ROOT.fullmatch(plain, end + 1):
            raise ChordError(
                f"after the slash in {text} write one bass note, as in {text[:end]}/G",
                end + 1,
            )
        bass = parse_pitch_name(plain[end + 1 :])
    elif end < len(plain):
        raise ChordError(_quality_advice(plain, start, end), end)
    intervals = tuple(sorted({_semitones(tone) for tone in tones}))
    return Chord(parse_pitch_name(root[0]), text[start:end], intervals, bass)


def _changed(text: str, at: int, tones: frozenset[str]) -> tuple[int, frozenset[str]]:
    """How far changes to `tones` can be read from `at` on, and the tones they leave."""
    while found := _TAIL.match(text, at):
        changed = tones
        for change in _CHANGE.findall(found[0]):
            taken, brought = CHANGES[change]
            if brought in changed or (change[0] in "sn" and taken not in changed):
                return at, tones  # written twice, or no third to suspend: no chord symbol does that
            changed = (changed - {taken}) | ({brought} if brought else set())
        at, tones = found.end(), changed
    return at, tones


def _semitones(tone: str) -> int:
    degree = tone.lstrip("b#")
    return (_DEGREES[degree] + tone.count("#") - tone.count("b")) % 12


def _names() -> dict[str, frozenset[str]]:
    """Every name in QUALITIES in all its spellings, with its tones."""
    names = {}
    for tones, *patterns in QUALITIES:
        for pattern in patterns:
            pieces = re.findall(r"\{.\}|[^{]+", pattern)
            for spelling in product(*(_SPELLINGS.get(piece, (piece,)) for piece in pieces)):
                names["".join(spelling)] = frozenset(tones.split())
    return names


_TONES = _names()


def _refuse_unclear(text: str, start: int) -> None:
    quality, slash, bass = text[start:].partition("/")
    if quality in INSTEAD:
        root = text[:start]
        offers = [f"{root}{other}{slash}{bass}" for other in INSTEAD[quality]]
        if len(offers) > 1:
            raise ChordError(f"{text} could mean {' or '.join(offers)}: write one", start)
        raise ChordError(f"{text} isn't a chord symbol here; write {offers[0]}", start)


def _root_advice(text: str) -> str:
    capital = text[:1].upper() + text[1:]
    if capital != text and _ROOT.match(capital):
        return f"a chord's root is a capital letter, as in {capital}"
    return f"{text!r} isn't a chord; write a root from A to G and a quality, as in A, F#m7 or D/F#"


def _quality_advice(text: str, start: int, end: int) -> str:
    root, good, rest = text[:start], text[:end], text[end:]
    refused = _CHANGE.search(rest) if _TAIL.match(rest) else None
    if refused:
        return f"{rest} doesn't go with {good}; write {good}, or {root}({refused[0]})"
    quality = text[start:].partition("/")[0]
    changed = [name + change for name in ("", "m", "7", "m7", "maj7", "9") for change in CHANGES]
    known = [name for name in (*_TONES, *changed) if name and name not in INSTEAD]
    lower = quality.lower()
    from difflib import get_close_matches

    near = [lower] if lower in known else get_close_matches(quality, known, 1)
    if near:
        return f"can't read {rest!r} in {text}; did you mean {root}{near[0]}?"
    return (
        f"can't read {rest!r} in {text}; after the root {root} write a quality "
        f"such as m, 7, maj7, m7b5, sus4, dim or add9"
    )
