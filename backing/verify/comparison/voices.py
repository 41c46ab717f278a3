"""A file's voices given to the parts that play them, whatever their tracks are named.

A part may be split over several voices, renamed, moved to another channel or merged into one
track with others. A voice goes to the part whose moments its notes fit best; moments that
another voice has covered count less, so two guitars that play alike go to two parts. Where
two parts fit equally well its program decides, then its name, then which part allows fewer
pitches, and then the order of parts. A voice whose notes fit no part, but that is named after one
that nothing else plays, plays that part wrong.

Percussion is all that sounds on channel 10.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import NamedTuple

from backing.form.parts import GUITARS, PARTS
from backing.theory.general_midi import MUTED_GUITAR
from backing.theory.instruments import INSTRUMENTS
from backing.verify.comparison.doubles import doubles, strings_alike
from backing.verify.comparison.fits import Fit, Line, at_any_pitch, fit, line_of
from backing.verify.comparison.leeway import Leeway
from backing.verify.expected.band import ExpectedPart
from backing.verify.readers.voices import NO_NOTES, Notes, Voice, merged
from backing.verify.report import Fault, quoted

#: A voice whose notes fit a part this well, and cover as much of it, is given to it at once.
SURE = 0.95
#: The share of fitting notes from which a voice plays a part right.
GOOD = 0.8
#: A voice with a smaller share plays none of the form's parts.
LEAST = 1 / 3
#: The share of notes at a part's times from which a voice is that part, played wrong.
IN_TIME = 0.5
#: More voices than a band has, with a voice for each string and for each sound.
MOST_VOICES = 64
MOST_FAULTS = 20
#: How much of what a voice covers must be new for it to be one more voice of a part.
NEW = 0.3


class Assignment(NamedTuple):
    """Which voices play which part, and what plays that the form doesn't have.

    `unassigned` is how many notes voices without a part have, and `faults` what is wrong
    with the tracks as such.
    """

    parts: Mapping[str, Sequence[Voice]]
    percussion: Sequence[Voice]
    unassigned: int = 0
    faults: tuple[Fault, ...] = ()

    def exchanged(self, one: str, other: str) -> Assignment:
        """The same with the voices of two parts exchanged."""
        swapped = {one: self.parts.get(other, ()), other: self.parts.get(one, ())}
        return self._replace(parts={**self.parts, **swapped})

    def notes(self, part: str) -> Notes:
        """A pitched part's notes."""
        return merged(voice.notes for voice in self.parts.get(part, ()))

    @property
    def percussion_notes(self) -> Notes:
        """The notes of the click and the drums."""
        return merged(voice.notes for voice in self.percussion) if self.percussion else NO_NOTES


def assign(
    band: Mapping[str, ExpectedPart],
    voices: Sequence[Voice],
    leeway: Leeway,
    left_out: Callable[[], Mapping[str, ExpectedPart]] = dict,
) -> Assignment:
    """Find out which voices play which part.

    Args:
        band: what each part must play.
        voices: what a reader found.
        left_out: what the parts would play that a practice version leaves out; called only
            where a voice plays none of the others.
    """
    return _Assigner(band, voices, leeway, left_out).assign()


class _Assigner:
    """The voices that have no part yet, and what is taken of each part."""

    def __init__(
        self,
        band: Mapping[str, ExpectedPart],
        voices: Sequence[Voice],
        leeway: Leeway,
        left_out: Callable[[], Mapping[str, ExpectedPart]],
    ) -> None:
        self.band = band
        self.leeway = leeway
        self.left_out = left_out
        self.percussion = [voice for voice in voices if voice.is_percussion]
        pitched = [voice for voice in voices if not voice.is_percussion]
        largest = sorted(pitched, key=lambda voice: -len(voice.notes.starts))[:MOST_VOICES]
        considered = {id(voice) for voice in largest}
        self.waiting = [voice for voice in pitched if id(voice) in considered]
        self.too_many = [voice for voice in pitched if id(voice) not in considered]
        self.pitched = {
            name: line_of(part.moments) for name, part in band.items() if PARTS[name].programs
        }
        self.struck = {
            name: line_of(part.moments, whole_pitches=True)
            for name, part in band.items()
            if not PARTS[name].programs
        }
        self.parts: dict[str, list[Voice]] = {}
        self.taken: dict[str, int] = {}
        self.fits: dict[tuple[int, str], Fit] = {}
        self.faults: list[Fault] = []
        self.left_out_names: list[str] = []

    def assign(self) -> Assignment:
        self._take_sure_ones()
        self._take_moved_percussion()
        self._ask_for_left_out_parts()
        self._take_best_ones(GOOD)
        self._take_by_name()
        self._take_best_ones(LEAST)
        self._drop_left_out_parts()
        self._drop_doubles()
        leftover = [*self.waiting, *self.too_many]
        unassigned = sum(len(voice.notes.starts) for voice in leftover)
        self.faults += [
            Fault(
                voice.notes.starts[0],
                f"a track plays that the form doesn't have: {_named(voice)}, {_count(voice)}",
            )
            for voice in leftover
        ]
        faults = tuple(sorted(self.faults)[:MOST_FAULTS])
        return Assignment(self.parts, self.percussion, unassigned, faults)

    def _fit(self, voice: Voice, part: str) -> Fit:
        key = (id(voice), part)
        if key not in self.fits:
            self.fits[key] = fit(voice.notes, self.pitched[part], self.leeway)
        return self.fits[key]

    def _give(self, voice: Voice, part: str) -> None:
        self.waiting = [other for other in self.waiting if other is not voice]
        self.parts.setdefault(part, []).append(voice)
        self.taken[part] = self.taken.get(part, 0) | self._fit(voice, part).covered

    def _take_sure_ones(self) -> None:
        """Voices that play all of a part and nothing else, the narrowest such part first."""
        for voice in list(self.waiting):
            for part in sorted(self.pitched, key=partial(self._order, voice)):
                found = self._fit(voice, part)
                is_new = found.worth(self.taken.get(part, 0)) >= SURE
                if found.share >= SURE and (is_new or _hints(voice, part) == ALL_HINTS):
                    self._give(voice, part)
                    break

    def _order(self, voice: Voice, part: str) -> tuple[int, int]:
        """Which of the parts that a voice fits equally well comes first, as keys for sorting."""
        return -_hints(voice, part), round(self.pitched[part].width)

    def _hinted(self, voice: Voice, part: str) -> bool:
        return _is_named(voice, part) or _has_program(voice, part)

    def _take_moved_percussion(self) -> None:
        """Voices that play the click or the drums on a channel where they sound as pitches."""
        for voice in list(self.waiting):
            for part, line in self.struck.items():
                if line.times and fit(voice.notes, line, self.leeway).share >= GOOD:
                    self.waiting = [other for other in self.waiting if other is not voice]
                    self.percussion.append(voice)
                    verb, they = (
                        ("are", "they sound") if PARTS[part].is_plural else ("is", "it sounds")
                    )
                    says = (
                        f"the {part} {verb} on channel {voice.channel + 1}, "
                        f"where {they} as pitched notes"
                    )
                    self.faults.append(Fault(voice.notes.starts[0], says))
                    break

    def _take_best_ones(self, least: float) -> None:
        """The best pair of a voice and a part, again and again, while enough notes fit."""
        while self.waiting:
            _, voice, part = max(
                (
                    (self._rank(voice, part), voice, part)
                    for voice in self.waiting
                    for part in self.pitched
                    if self._fit(voice, part).share >= least and self._may_join(voice, part)
                ),
                key=lambda pair: pair[0],
                default=((), None, ""),
            )
            if voice is None:
                return
            self._give(voice, part)

    def _may_join(self, voice: Voice, part: str) -> bool:
        """Whether a voice can be one more of a part's: a bass fits the strokes of a guitar, too."""
        others = self.parts.get(part, [])
        if not others or self._hinted(voice, part):
            return True
        covered, taken = self._fit(voice, part).covered, self.taken[part]
        if (covered & ~taken).bit_count() > NEW * covered.bit_count() or not covered:
            return True
        return any(second for second, _ in doubles([*others, voice]) if second == len(others))

    def _rank(self, voice: Voice, part: str) -> tuple[float, ...]:
        """The higher, the better a part suits a voice; of equal ones the first is the best."""
        hints, width = self._order(voice, part)
        worth = self._fit(voice, part).worth(self.taken.get(part, 0))
        return round(worth, 2), -hints, -width

    def _take_by_name(self) -> None:
        """Voices that are named after a part that no voice plays: they play it wrong.

        A voice with only its program is a part if its notes are at the part's times.
        """
        for hinted in (_is_named, _has_program):
            for voice in list(self.waiting):
                for part, line in self.pitched.items():
                    if part in self.parts or not line.times or not hinted(voice, part):
                        continue
                    if hinted is _is_named or self._in_time(voice, line):
                        self._give(voice, part)
                        break

    def _in_time(self, voice: Voice, line: Line) -> bool:
        return fit(voice.notes, at_any_pitch(line), self.leeway).share >= IN_TIME

    def _ask_for_left_out_parts(self) -> None:
        """Let voices that are none of the parts for sure play those that are left out."""
        if self.waiting:
            for name, part in self.left_out().items():
                if PARTS[name].programs:
                    self.pitched[name] = line_of(part.moments)
                    self.left_out_names.append(name)

    def _drop_left_out_parts(self) -> None:
        for part in self.left_out_names:
            for voice in self.parts.pop(part, [])[:1]:
                says = f"the {part} plays, which this version leaves out"
                self.faults.append(Fault(voice.notes.starts[0], says))

    def _drop_doubles(self) -> None:
        """Keep one of two voices that play the same notes of a part."""
        for part, voices in self.parts.items():
            alike = strings_alike(self.band.get(part), self.leeway)
            twice = dict(doubles(voices, alike))
            for double, first in twice.items():
                self.faults.append(
                    Fault(
                        voices[double].notes.starts[0],
                        f"the {part} is played twice, by the tracks {_named(voices[first])} "
                        f"and {_named(voices[double])}",
                    )
                )
            self.parts[part] = [voice for index, voice in enumerate(voices) if index not in twice]


def _hints(voice: Voice, part: str) -> int:
    """How much a voice looks like a part: its program counts for more than its name."""
    return 2 * _has_program(voice, part) + _is_named(voice, part)


#: A voice with a part's program and its name.
ALL_HINTS = 3


def _is_named(voice: Voice, part: str) -> bool:
    """Whether a voice has the name of a part, or of an instrument that a student plays in it."""
    name = voice.name.strip().casefold()
    titles = [PARTS[part].title, *(one.title for one in INSTRUMENTS.values() if one.part == part)]
    return any(name == title or name.startswith(f"{title} ") for title in map(str.casefold, titles))


def _has_program(voice: Voice, part: str) -> bool:
    programs = voice.settings.programs
    own = {*PARTS[part].programs.values(), *([MUTED_GUITAR] if PARTS[part] in GUITARS else ())}
    return any(program in own for _, program in programs or ())


def _named(voice: Voice) -> str:
    return quoted(voice.name) if voice.name else f"on channel {voice.channel + 1}"


def _count(voice: Voice) -> str:
    count = len(voice.notes.starts)
    return f"{count:,} note{'s' * (count != 1)}"
