"""What a file sets its channels to, against what the form asks for.

* Another program is a disagreement, and so is another tuning, by more than `CENTS`, or a pitch
  wheel that isn't at rest where a note starts. Another volume, pan or reverb is only noted.
* A guitar's muted notes have the program of the muted guitar: which of them is in `muting`.
* What a file doesn't set at all is lost: another program dropped it.
* Around a boundary between passes a note may have the settings of either one, if it sounds
  within an eighth note of it and what a player's time may stray.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

from backing.form.parts import GUITARS, PARTS
from backing.theory.device_levels import MUTED_REVERB
from backing.theory.general_midi import MUTED_GUITAR
from backing.verify.comparison.expression import check_expression
from backing.verify.comparison.reading import Reading
from backing.verify.expected.mix import (
    STANDARD_HZ,
    ExpectedMix,
    MixStretch,
    expected_mix,
    tuning_cents,
)
from backing.verify.readers.voices import Voice, latest
from backing.verify.report import Fault, Finding, Verdict

#: How far a tuning may be off, and a wheel at rest: less than is heard.
CENTS = 2.0
MOST_FAULTS = 20
_MIDDLE = 64
#: What the form calls programs, whatever the part.
_WORDS = {program: word for part in PARTS.values() for word, program in part.programs.items()}
_WORDS[MUTED_GUITAR] = "muted"
_GUITARS = {part.name for part in GUITARS}
_PROGRAM, _VOLUME, _PAN, _REVERB = 0, 1, 2, 3


class _Kind(NamedTuple):
    """A setting: what it is called, where a file has it, and its place in a `Mix`."""

    name: str
    plural: str
    of_voice: str
    place: int
    only_told: bool


_KINDS = (
    _Kind("program", "programs", "programs", 0, only_told=False),
    _Kind("volume", "volumes", "volumes", _VOLUME, only_told=True),
    _Kind("pan", "pans", "pans", _PAN, only_told=True),
    _Kind("reverb", "reverb sends", "reverbs", _REVERB, only_told=True),
)


class _Difference(NamedTuple):
    """A note that has another value than the form asks for there."""

    at_s: float
    found: int
    expected: int


@dataclass
class _Answer:
    """What was found about one question, over all parts.

    `known` is how many parts the reader can tell something about, `lost` those that the file
    says nothing about.
    """

    name: str
    plural: str
    known: int = 0
    lost: list[str] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    noted: list[str] = field(default_factory=list)

    def findings(self, reading: Reading) -> Iterator[Finding]:
        if self.faults:
            yield reading.differs(self.plural, self.faults[:MOST_FAULTS])
        for says in dict.fromkeys(self.noted):
            yield Finding(reading.account.reader, self.plural, Verdict.NOTED, says)
        if self.lost and len(self.lost) == self.known:
            yield reading.lost(self.plural, self.plural)
        else:
            for part in self.lost:
                yield reading.lost(self.plural, f"the {part}'s {self.name}")
        if self.known and not (self.faults or self.noted or self.lost):
            says = f"{self.known} part{'s' * (self.known != 1)} as the form asks"
            yield reading.agrees(self.plural, says)


def check_mix(reading: Reading, parts: Mapping[str, Sequence[Voice]]) -> Iterator[Finding]:
    """Compare programs, controllers, the tuning and the wheel, each over all pitched parts.

    What the reader can't tell isn't compared.
    """
    mixes = expected_mix(reading.expected, reading.form)
    played = {name: voices for name, voices in parts.items() if name in mixes and voices}
    for kind in _KINDS:
        yield from _check_kind(reading, kind, mixes, played).findings(reading)
    yield from check_expression(reading, mixes, played)
    yield from _check_tuning(reading, played).findings(reading)
    yield from _check_wheel(reading, played)


def _check_kind(
    reading: Reading,
    kind: _Kind,
    mixes: Mapping[str, ExpectedMix],
    parts: Mapping[str, Sequence[Voice]],
) -> _Answer:
    answer = _Answer(kind.name, kind.plural)
    for part, voices in parts.items():
        also = _of_muted_notes(kind, mixes[part]) if part in _GUITARS else frozenset[int]()
        _note_lost(answer, part, [getattr(voice.settings, kind.of_voice) for voice in voices])
        for voice in voices:
            found = _first_difference(reading, kind, mixes[part].stretches, voice, also)
            if found is None:
                continue
            if kind.only_told:
                answer.noted.append(_other_value(kind, part, found))
            else:
                answer.faults.append(Fault(found.at_s, _other_program(part, found)))
    return answer


def _of_muted_notes(kind: _Kind, mix: ExpectedMix) -> Set[int]:
    """What the channel of a guitar's muted notes may be set to besides."""
    if kind.place == _PROGRAM:
        return {MUTED_GUITAR}
    if kind.place == _REVERB:
        return {MUTED_REVERB}
    return mix.muted_volumes if kind.place == _VOLUME else frozenset()


def _note_lost(
    answer: _Answer, part: str, settings: Sequence[Sequence[object] | None], needed: bool = True
) -> None:
    """Note whether the reader can tell a part's settings, and whether a voice has none."""
    known = [each for each in settings if each is not None]
    answer.known += bool(known)
    if needed and not all(known):
        answer.lost.append(part)


def _first_difference(
    reading: Reading,
    kind: _Kind,
    stretches: Sequence[MixStretch],
    voice: Voice,
    also: Set[int],
) -> _Difference | None:
    """The first note of a voice with a setting that it may not have; `also` may be anywhere."""
    settings: Sequence[tuple[float, int]] = getattr(voice.settings, kind.of_voice) or ()
    allowed = {stretch.mix[kind.place] for stretch in stretches}
    if len(allowed) == 1 and all(value in allowed or value in also for _, value in settings):
        return None
    human_s = float(reading.expected.human_s)
    margins = [
        stretch.eighth_s + human_s + reading.tolerance(stretch.start_s) for stretch in stretches
    ]
    starts = [stretch.start_s for stretch in stretches]
    for start, end in zip(voice.notes.starts, voice.notes.ends, strict=True):
        value = latest(settings, start)
        at = max(0, bisect_right(starts, start) - 1)
        expected = stretches[at].mix[kind.place]
        if value is not None and value != expected and value not in also:
            near = _near(starts, margins, at, start, max(start, end))
            if value not in {stretches[index].mix[kind.place] for index in near}:
                return _Difference(start, int(value), expected)
    return None


def _near(
    starts: Sequence[float], margins: Sequence[float], at: int, start: float, end: float
) -> range:
    """The stretches that a note may belong to which starts in the one at place `at`."""
    before = at and start <= starts[at] + margins[at]
    after = at + 1
    while after < len(starts) and starts[after] - margins[after] <= end:
        after += 1
    return range(at - 1 if before else at, after)


def _other_program(part: str, found: _Difference) -> str:
    return f"the {part}'s program is {_program(found.found)}, not {_program(found.expected)}"


def _program(number: int) -> str:
    word = _WORDS.get(number)
    return f"{number} ({word})" if word else str(number)


def _other_value(kind: _Kind, part: str, found: _Difference) -> str:
    off = _MIDDLE if kind.place == _PAN else 0
    return f"The {part}'s {kind.name} is {found.found - off}, not {found.expected - off}."


def _check_tuning(reading: Reading, parts: Mapping[str, Sequence[Voice]]) -> _Answer:
    """A part that sets no tuning is at A = 440 Hz, which is lost where the form has another."""
    wanted = tuning_cents(reading.expected)
    answer = _Answer("tuning", "tuning")
    for part, voices in parts.items():
        tunings = [voice.settings.tuning for voice in voices]
        _note_lost(answer, part, tunings, needed=abs(wanted) > CENTS)
        faults = (_first_out_of_tune(part, voice, wanted) for voice in voices)
        answer.faults += [fault for fault in faults if fault is not None]
    return answer


def _first_out_of_tune(part: str, voice: Voice, wanted: float) -> Fault | None:
    tunings = voice.settings.tuning or ()
    if all(abs(cents - wanted) <= CENTS for _, cents in tunings):
        return None
    for start in voice.notes.starts:
        cents = latest(tunings, start)
        if cents is not None and abs(cents - wanted) > CENTS:
            return Fault(start, f"the {part} is tuned to {_pitch(cents)}, not {_pitch(wanted)}")
    return None


def _check_wheel(reading: Reading, parts: Mapping[str, Sequence[Voice]]) -> Iterator[Finding]:
    """Where a note starts its channel's pitch wheel is at rest, within a tick."""
    faults: list[Fault] = []
    known = 0
    for part, voices in parts.items():
        for voice in voices:
            known += voice.settings.bends is not None
            bends = voice.settings.bends or ()
            if all(abs(cents) <= CENTS for _, cents in bends):
                continue
            for start in voice.notes.starts:
                bent = _bent(bends, start, reading.tolerance(start))
                if bent:
                    faults.append(Fault(start, f"a note of the {part} starts {_off(bent)}"))
                    break
    if faults:
        yield reading.differs("pitch wheel", faults[:MOST_FAULTS])
    elif known:
        yield reading.agrees("pitch wheel", "at rest where notes start")


def _bent(bends: Sequence[tuple[float, float]], start: float, within: float) -> float:
    """How far from rest a note starts, in cents; 0 if the wheel is at rest near its start."""
    cents = latest(bends, start)
    if cents is None or abs(cents) <= CENTS:
        return 0.0
    first = bisect_right(bends, (start - 2 * within, inf)) - 1
    last = bisect_right(bends, (start + 2 * within, inf))
    near = (value for _, value in bends[max(0, first) : last])
    return 0.0 if first < 0 or any(abs(each) <= CENTS for each in near) else cents


def _pitch(cents: float) -> str:
    """A tuning in words."""
    return f"A = {STANDARD_HZ * 2 ** (cents / 1200):.1f} Hz"


def _off(cents: float) -> str:
    """How a wheel that isn't at rest makes a note sound."""
    return f"{abs(cents):.0f} cents too {'high' if cents > 0 else 'low'}, by the pitch wheel"
