"""Chord symbols: from what musicians write to the tones it stands for.

A symbol is a root, a quality, changes to single tones, and perhaps a slash bass:
`F#m7`, `C6/9`, `G7(b9)`, `D/F#`. Tones are named by degree (`b3`, `#11`) in the tables
(`chord_spellings`) and counted in semitones above the root, modulo 12, everywhere else: a
ninth is 2.

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
from typing import NamedTuple

from backing.theory.chord_spellings import CHANGES, EXTENSIONS, INSTEAD, spellings
from backing.theory.keys import Key
from backing.theory.pitch import PitchName, on_circle, parse_pitch_name, transposed

# One sign for all that look alike, character for character, so that offsets stay right.
_LOOKALIKES = str.maketrans("♯♭△∆ºØ∅−–", "#bΔΔ°øø--")
_DEGREES = {"1": 0, "2": 2, "3": 4, "4": 5, "5": 7, "6": 9, "7": 11, "9": 2, "11": 5, "13": 9}
_ROOT = re.compile("[A-G][#b]?")
_ONE = "|".join(sorted(map(re.escape, CHANGES), key=len, reverse=True))
_TONES = spellings()
_INSIDE = f"{_ONE}|{'|'.join(EXTENSIONS)}"
_CHANGE = re.compile(_INSIDE)
_TAIL = re.compile(rf"(?:{_ONE})|\((?:{_INSIDE})(?:[, ]*(?:{_INSIDE}))*\)")
_SEVENTHS = {"7", "b7", "bb7"}


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

        A slash bass keeps its distance in letters, so that A/C# becomes E/G#, where that gives
        it a usual name.
        """
        if semitones % 12 == 0:
            return self
        root = transposed(self.root, semitones, flats)
        bass = self.bass and on_circle(root.fifths + self.bass.fifths - self.root.fifths)
        if bass and self.bass and not bass.is_usual:
            bass = transposed(self.bass, semitones, flats)
        return Chord(root, self._own_quality(), self.intervals, bass)

    def raised(self, semitones: int) -> Chord:
        """The chord some semitones up, in no key.

        A sharp stays a sharp and a flat a flat; a natural that lands on a black key gets its
        usual name: Eb, Ab, Bb, C#, F# (common practice).
        """
        if self.root.accidental:
            return self.transposed(semitones, self.root.accidental < 0)
        return self.transposed(semitones, (self.root.pitch_class + semitones) % 12 in (3, 8, 10))

    def moved(self, key: Key, new_key: Key) -> Chord:
        """The chord in another key, as far from its tonic as before, by a practical name.

        Chords of the key stay chords of the key: F#m in D becomes Gm in Eb. Others keep their
        distance in letters too (Bb in G becomes C in A), but for names that were already chosen
        because they are easy to read: in Eb, B7 stands for Cb7, and becomes Ab7 in C. E#, B#,
        Cb and Fb are written only where they belong to the key (common practice).
        """
        if key.tonic == new_key.tonic:
            return self
        steps = self.root.fifths - key.tonic.fifths
        if not key.has(self.root):
            steps = _meant(steps, has_major_third=4 in self.intervals)
        root = new_key.practical(new_key.tonic.fifths + steps)
        bass = self.bass and new_key.practical(root.fifths + self.bass.fifths - self.root.fifths)
        return Chord(root, self._own_quality(), self.intervals, bass)

    def _own_quality(self) -> str:
        """The quality for another root: `Bbb5` moved to C must not become `Cb5`, a C flat."""
        return re.sub("^([#b♯♭][0-9]+)", r"(\1)", self.quality)

    def __str__(self) -> str:
        return f"{self.root}{self.quality}" + (f"/{self.bass}" if self.bass else "")


def _meant(fifths: int, has_major_third: bool) -> int:
    """A chromatic root's distance from the tonic, in fifths, by what it stands for.

    From a flat fifth below to a sharp one above: an augmented second was written for a minor
    third, a diminished octave for a major seventh, and a major chord on the sharp fifth for one
    on the flat sixth.
    """
    if fifths > 8 or (fifths == 8 and has_major_third):
        return fifths - 12
    return fifths + 12 if fifths < -6 else fifths


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
        raise ChordError(_quality_advice(plain, start, end, tones), end)
    intervals = tuple(sorted({_semitones(tone) for tone in tones}))
    return Chord(parse_pitch_name(root[0]), text[start:end], intervals, bass)


def _changed(text: str, at: int, tones: frozenset[str]) -> tuple[int, frozenset[str]]:
    """How far changes to `tones` can be read from `at` on, and the tones they leave."""
    while found := _TAIL.match(text, at):
        changed = tones
        for change in _CHANGE.findall(found[0]):
            taken, brought = {**CHANGES, **EXTENSIONS}[change]
            twice = not changed.isdisjoint(brought.split())
            nothing_taken = change[0] in "sn" and taken not in changed
            if twice or nothing_taken or (change in EXTENSIONS and not changed & _SEVENTHS):
                return at, tones
            changed = (changed - {taken}) | set(brought.split())
        at, tones = found.end(), changed
    return at, tones


def _semitones(tone: str) -> int:
    degree = tone.lstrip("b#")
    return (_DEGREES[degree] + tone.count("#") - tone.count("b")) % 12


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


def _quality_advice(text: str, start: int, end: int, tones: frozenset[str]) -> str:
    root, good, rest = text[:start], text[:end], text[end:]
    refused = _CHANGE.search(rest) if _TAIL.match(rest) else None
    if refused and refused[0] in EXTENSIONS and not tones & _SEVENTHS:
        stacked = good[len(root) :] + refused[0]
        offers = [f"{root}{stacked}"] * (stacked in _TONES) + [f"{good}(add{refused[0]})"]
        return f"{rest} doesn't go with {good}, which has no seventh; write {' or '.join(offers)}"
    if refused:
        return f"{rest} doesn't go with {good}; write {good}, or {root}({refused[0]})"
    near = _near(re.split(r"/(?!9)", text[start:])[0])
    if near:
        return f"can't read {rest!r} in {text}; did you mean {root}{near}?"
    return (
        f"can't read {rest!r} in {text}; after the root {root} write a quality "
        f"such as m, 7, maj7, m7b5, sus4, dim or add9"
    )


class _Kept(NamedTuple):
    minor: bool
    major_seventh: bool
    numbers: tuple[str, ...]


def _near(quality: str) -> str | None:
    """The quality or change that a misspelled one resembles most.

    Only what keeps its third and its numbers: m is never taken for M, nor 11 for #11.
    """
    from difflib import get_close_matches

    known = _known().get(_kept(quality), [])
    lower = quality.lower()
    if lower in known:
        return lower
    return next(iter(get_close_matches(quality, known, 1)), None)


@lru_cache(maxsize=1)
def _known() -> dict[_Kept, list[str]]:
    """Qualities and the usual changed ones, by what advice must keep of them."""
    changed = [name + change for name in ("", "m", "7", "m7", "maj7", "9") for change in CHANGES]
    known: dict[_Kept, list[str]] = {}
    for name in (*_TONES, *changed):
        if name and name not in INSTEAD:
            known.setdefault(_kept(name), []).append(name)
    return known


def _kept(quality: str) -> _Kept:
    """What advice must not change: minor, a major seventh, and the numbers with their signs."""
    minor = re.match(r"m(?!a|A)|M[iI]|-(?![0-9])", quality) is not None
    major = re.search(r"M(?![iI])|m[aA]|Δ", quality) is not None
    once = re.sub(r"([5-9])\1+", r"\1", quality)
    numbers = re.findall(r"[b#+-]?[0-9]+", once)
    signed = sorted(number.replace("+", "#").replace("-", "b") for number in numbers)
    return _Kept(minor, major, tuple(signed))
