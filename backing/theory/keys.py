"""Keys: their names, signatures and transposition.

A signature counts sharps (+) or flats (-), -7 to 7, as key signatures are printed
and as MIDI's key signature event stores them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from backing.theory.pitch import LETTERS, PitchName, on_circle, parse_pitch_name

_SPELLINGS = tuple(PitchName(letter, accidental) for accidental in (0, -1, 1) for letter in LETTERS)
_KEY = re.compile(r"([A-G][#♯b♭]?)(?:(m)|\s*(minor|min|major|maj))?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Key:
    """A major or minor key that a signature of at most seven accidentals can show.

    Raises:
        ValueError: it would need more; the sentence names the key to write.
    """

    tonic: PitchName
    minor: bool = False

    def __post_init__(self) -> None:
        if abs(self.signature) > 7:
            kind = "minor" if self.minor else "major"
            instead = min(_same_sound(self.tonic.pitch_class, self.minor), key=_accidentals)
            raise ValueError(
                f"{self.tonic} {kind} would need {abs(self.signature)} "
                f"{'sharps' if self.signature > 0 else 'flats'}; write {instead}"
            )

    @property
    def signature(self) -> int:
        """Sharps (positive) or flats (negative) in the key signature."""
        return _signature(self.tonic, self.minor)

    @property
    def flats(self) -> bool:
        """Whether notes outside the key are better spelled flat.

        True in flat keys, and in C major and A minor, whose borrowed chords are
        mostly on Bb, Eb and Ab (common practice).
        """
        return self.signature <= 0

    def has(self, name: PitchName) -> bool:
        """Whether a note is of the key's scale; a minor one has both sixths and both sevenths."""
        steps = name.fifths - self.signature
        return -1 <= steps <= 5 or (self.minor and steps in (6, 8))

    def practical(self, fifths: int) -> PitchName:
        """What a note of the key, or outside it, is called.

        E#, B#, Cb and Fb are names only of the key's own notes, and names with double sharps and
        flats of none: other notes have the name that sounds the same.

        Args:
            fifths: how many fifths above C it is.
        """
        name = on_circle(fifths)
        while not (name.is_usual or (self.has(name) and abs(name.accidental) == 1)):
            name = on_circle(name.fifths + (12 if name.fifths < 0 else -12))
        return name

    def transposed(self, semitones: int) -> Key:
        """The key some semitones up, in the spelling with fewer accidentals.

        Six sharps or six flats tie (F#/Gb, D#m/Ebm): a key written with sharps gives
        the sharp one, any other the flat one. By whole octaves a key stays as it is.
        """
        if semitones % 12 == 0:
            return self
        wanted = 1 if self.signature > 0 else -1
        choices = _same_sound(self.tonic.pitch_class + semitones, self.minor)
        return min(choices, key=lambda key: (_accidentals(key), key.signature * wanted < 0))

    def __str__(self) -> str:
        return f"{self.tonic}m" if self.minor else str(self.tonic)


def parse_key(text: str) -> Key:
    """Read a key: `A`, `F#m`, `Bb minor`, `C major`.

    Raises:
        ValueError: it isn't one; the sentence says what to write.
    """
    found = _KEY.fullmatch(text.strip())
    # A capital M or a small letter could mean major or minor, so neither is accepted.
    if not found or found[1][0].islower() or found[1][1:] == "B" or found[2] == "M":
        raise ValueError(
            f"{text!r} isn't a key; write a letter, as in A or Bb, with m for minor: F#m"
        )
    minor = found[2] == "m" or (found[3] or "").lower().startswith("min")
    return Key(parse_pitch_name(found[1]), minor)


def _signature(tonic: PitchName, minor: bool) -> int:
    return tonic.fifths - (3 if minor else 0)


def _accidentals(key: Key) -> int:
    return abs(key.signature)


def _same_sound(pitch_class: int, minor: bool) -> list[Key]:
    return [
        Key(name, minor)
        for name in _SPELLINGS
        if name.pitch_class == pitch_class % 12 and abs(_signature(name, minor)) <= 7
    ]
