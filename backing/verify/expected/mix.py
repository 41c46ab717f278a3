"""What each pitched part sounds like in each pass: its program, its volume and its pan.

A pass's settings hold from where its first chord sounds, and the first pass's from the start
of the file. Percussion shares a channel, so its volume is in its velocities.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import log2
from typing import NamedTuple

from backing.form.parts import PARTS, Part
from backing.theory.instruments import Instrument
from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.plans import Plan
from backing.verify.expected.records import Expected

#: The A above middle C of a file that sets no tuning.
STANDARD_HZ = 440
#: The middle of a pan as a controller has it.
_MIDDLE = 64


class Mix(NamedTuple):
    """A General MIDI program (from 0), and a volume and a pan as controllers have them (0-127)."""

    program: int
    volume: int
    pan: int


class MixStretch(NamedTuple):
    """A part's mix from `start_s` on, where an eighth note lasts `eighth_s`; both in seconds."""

    start_s: float
    mix: Mix
    eighth_s: float


class _Pass(NamedTuple):
    """Where a pass starts to sound, how long an eighth note lasts there, and its plan."""

    start_s: float
    eighth_s: float
    plan: Plan


class ExpectedMix(NamedTuple):
    """A part's mix through the song: stretches of which no two neighbors are alike."""

    part: str
    stretches: tuple[MixStretch, ...]


def expected_mix(expected: Expected, clock: Clockwork) -> dict[str, ExpectedMix]:
    """The mix of each pitched part that plays."""
    passes = _passes(expected, clock)
    return {
        name: ExpectedMix(name, _stretches(part, passes, expected.band.instrument))
        for name, part in PARTS.items()
        if part.programs and name not in expected.absent
    }


def tuning_cents(expected: Expected) -> float:
    """How much higher than at A = 440 Hz everything pitched sounds, in cents."""
    return 1200 * log2(expected.pitch_hz / STANDARD_HZ)


def _passes(expected: Expected, clock: Clockwork) -> Sequence[_Pass]:
    """The passes of all rounds."""
    found: list[_Pass] = []
    for round_ in expected.played:
        before = None
        for chord in round_.chords:
            if chord.plan is not before:
                before = chord.plan
                at_s = clock.seconds(chord.struck)
                eighth_s = at_s - clock.seconds(chord.struck - Fraction(1, 2))
                found.append(_Pass(at_s if found else 0.0, eighth_s, chord.plan))
    return found


def _stretches(
    part: Part, passes: Sequence[_Pass], instrument: Instrument
) -> tuple[MixStretch, ...]:
    found: list[MixStretch] = []
    for start_s, eighth_s, plan in passes:
        mix = _mix(part, plan, instrument)
        if not found or found[-1].mix != mix:
            found.append(MixStretch(start_s, mix, eighth_s))
    return tuple(found)


def _mix(part: Part, plan: Plan, instrument: Instrument) -> Mix:
    """A part's mix in a pass; the student's instrument sounds like itself, in its part's hands."""
    values = plan.parts[part.name].values
    is_students = instrument.part in (part.name, part.player)
    first = part.programs[instrument.sound] if is_students else next(iter(part.programs.values()))
    return Mix(
        part.programs.get(values.get("sound", ""), first),
        values.get("volume", part.volume),
        values.get("pan", part.pan) + _MIDDLE,
    )
