"""MIDI controllers: a channel's volume, pan, expression, reverb and tuning.

Source: MIDI 1.0 (MIDI Manufacturers Association): controllers 7 volume, 10 pan and 11
expression; 91 is the reverb send level (RP-023); 101 and
100 choose a registered parameter, 6 and 38 set its value, and 127 twice chooses none, so
that nothing later changes it by mistake. Parameter 1 is fine tuning, 14 bits in steps of
100/8192 cents with 8192 for A at 440 Hz; parameter 2 is coarse tuning in semitones, 64 for
none. A setting is a pair (controller, value).
"""

from __future__ import annotations

from fractions import Fraction
from math import log2
from typing import TypeAlias

VOLUME, PAN, EXPRESSION, REVERB = 7, 10, 11, 91
STANDARD_HZ = 440

_FINE_TUNING, _COARSE_TUNING = 1, 2
_UNTUNED = 64
_STEPS = 8192

Setting: TypeAlias = "tuple[int, int]"


def tuned(pitch_hz: Fraction) -> list[Setting]:
    """The settings that tune a channel to an A above middle C in hertz; none for 440.

    Up to half a semitone the fine tuning is enough; beyond that the coarse tuning takes the
    whole semitones.
    """
    if pitch_hz == STANDARD_HZ:
        return []
    semitones = 12 * log2(pitch_hz / STANDARD_HZ)
    whole = round(semitones)
    fine = _STEPS + round((semitones - whole) * _STEPS)
    coarse = registered(_COARSE_TUNING, _UNTUNED + whole, 0) if whole else []
    return coarse + registered(_FINE_TUNING, fine >> 7, fine & 0x7F)


def registered(parameter: int, coarse: int, fine: int) -> list[Setting]:
    """A registered parameter below 128 set to a value, its upper seven bits first."""
    return [(101, 0), (100, parameter), (6, coarse), (38, fine), (101, 127), (100, 127)]
