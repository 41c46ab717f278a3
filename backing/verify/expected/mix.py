"""What each pitched part sounds like in each pass: its program, volume, pan and reverb.

A pass's settings hold from where its first chord sounds, and the first pass's from the start
of the file. A channel's volume is that of its sound on most devices, times the form's: where a
held sound's expression isn't at its most, the volume makes up for it. Percussion shares a
channel, so its volume is in its velocities.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import log2
from typing import NamedTuple

from backing.form.parts import PARTS, Part
from backing.theory.device_levels import (
    DEVICE_VOLUMES,
    IN_BALANCE,
    MOST,
    RESTING_EXPRESSION,
    USUAL_DEVICE_VOLUME,
)
from backing.theory.general_midi import MUTED_GUITAR, SUSTAINED
from backing.theory.instruments import Instrument
from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.plans import Plan
from backing.verify.expected.records import Expected

#: The A above middle C of a file that sets no tuning.
STANDARD_HZ = 440
#: The middle of a pan as a controller has it.
_MIDDLE = 64
#: What dynamics multiply the expression by, and what it has grown by at a lift's end.
_LEVELS = {"soft": Fraction(4, 5), "medium": Fraction(1), "loud": Fraction(6, 5)}
_LIFTED = Fraction(7, 6)


class Mix(NamedTuple):
    """A General MIDI program (from 0), and what controllers are set to (0-127)."""

    program: int
    volume: int
    pan: int
    reverb: int


class MixStretch(NamedTuple):
    """A part's mix from `start_s` on, where an eighth note lasts `eighth_s`; both in seconds."""

    start_s: float
    mix: Mix
    eighth_s: float


class _Pass(NamedTuple):
    """Where a pass starts to sound, how long an eighth note lasts there, its plan, its round, and
    where its last bar starts.
    """

    start_s: float
    eighth_s: float
    plan: Plan
    round: int
    last_bar_s: float


class Swell(NamedTuple):
    """A held sound's expression over a stretch of time, which goes evenly from first to last."""

    start_s: float
    end_s: float
    first: int
    last: int


class ExpectedMix(NamedTuple):
    """A part's mix through the song: stretches of which no two neighbors are alike.

    `swells` are the expression of a part that can hold its sounds; `muted_volumes` are those that
    the muted guitar has where the part has its own.
    """

    part: str
    stretches: tuple[MixStretch, ...]
    swells: tuple[Swell, ...] = ()
    muted_volumes: frozenset[int] = frozenset()


def expected_mix(expected: Expected, clock: Clockwork) -> dict[str, ExpectedMix]:
    """The mix of each pitched part that plays."""
    passes = _passes(expected, clock)
    return {
        name: ExpectedMix(
            name,
            _stretches(part, passes, expected.band.instrument),
            tuple(_swells(part, passes, float(expected.end_s))) if swells(part) else (),
            frozenset(_volume(part, MUTED_GUITAR, _written(part, one.plan)) for one in passes),
        )
        for name, part in PARTS.items()
        if part.programs and name not in expected.absent
    }


def tuning_cents(expected: Expected) -> float:
    """How much higher than at A = 440 Hz everything pitched sounds, in cents."""
    return 1200 * log2(expected.pitch_hz / STANDARD_HZ)


def _passes(expected: Expected, clock: Clockwork) -> Sequence[_Pass]:
    """The passes of all rounds."""
    found: list[_Pass] = []
    for number, round_ in enumerate(expected.played):
        last_bars = {id(bar.plan): bar.start for bar in round_.bars}
        before = None
        for chord in round_.chords:
            if chord.plan is not before:
                before = chord.plan
                at_s = clock.seconds(chord.struck)
                eighth_s = at_s - clock.seconds(chord.struck - Fraction(1, 2))
                last = last_bars.get(id(chord.plan), chord.struck)
                last_s = clock.seconds(max(last, chord.struck))
                start_s = at_s if found else 0.0
                found.append(_Pass(start_s, eighth_s, chord.plan, number, last_s))
    return found


def _swells(part: Part, passes: Sequence[_Pass], end_s: float) -> Iterator[Swell]:
    """A part's expression pass by pass, with the bar before a lift apart."""
    for one, following in zip(passes, [*passes[1:], None], strict=True):
        until_s = end_s if following is None else following.start_s
        rest = Fraction(RESTING_EXPRESSION)
        if _program(part, one.plan, None) not in SUSTAINED:
            yield Swell(one.start_s, until_s, round(rest), round(rest))
            continue
        rest *= _LEVELS[one.plan.dynamic]
        first, last = (min(MOST, round(value)) for value in (rest, rest * _LIFTED))
        if following is None or not _grows_into(one, following):
            yield Swell(one.start_s, until_s, first, first)
        else:
            yield Swell(one.start_s, one.last_bar_s, first, first)
            yield Swell(one.last_bar_s, until_s, first, last)


def _grows_into(one: _Pass, following: _Pass) -> bool:
    return (
        following.plan.lifted
        and one.round == following.round
        and one.plan.entry != following.plan.entry
    )


def _stretches(
    part: Part, passes: Sequence[_Pass], instrument: Instrument
) -> tuple[MixStretch, ...]:
    found: list[MixStretch] = []
    for one in passes:
        mix = _mix(part, one.plan, instrument)
        if not found or found[-1].mix != mix:
            found.append(MixStretch(one.start_s, mix, one.eighth_s))
    return tuple(found)


def _mix(part: Part, plan: Plan, instrument: Instrument) -> Mix:
    """A part's mix in a pass; the student's instrument sounds like itself, in its part's hands."""
    values = plan.parts[part.name].values
    program = _program(part, plan, instrument)
    return Mix(
        program,
        _volume(part, program, _written(part, plan)),
        values.get("pan", part.pan) + _MIDDLE,
        part.reverb,
    )


def _program(part: Part, plan: Plan, instrument: Instrument | None) -> int:
    is_students = instrument is not None and instrument.part in (part.name, part.player)
    programs = part.programs
    first = next(iter(programs.values()))
    usual = programs[instrument.sound] if instrument and is_students else first
    return programs.get(plan.parts[part.name].values.get("sound", ""), usual)


def _written(part: Part, plan: Plan) -> int:
    volume: int = plan.parts[part.name].values.get("volume", IN_BALANCE)
    return volume


def _volume(part: Part, program: int, written: int) -> int:
    """What the channel's volume is on a device of which nothing is known."""
    percent = DEVICE_VOLUMES.get(program, USUAL_DEVICE_VOLUME) * Fraction(written, IN_BALANCE)
    if swells(part):
        percent = percent * MOST / RESTING_EXPRESSION
    return min(MOST, round(percent))


def swells(part: Part) -> bool:
    """Whether any of a part's sounds lasts as long as it is held."""
    return any(program in SUSTAINED for program in part.programs.values())
