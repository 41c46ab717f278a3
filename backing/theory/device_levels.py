"""How loud a MIDI device is asked to play each sound, where nothing is known of the device.

A soundfont that is known is measured instead (`audio.calibration`). The figures come from four
free General MIDI soundfonts (Fluid R3, TimGM6mb, a general soundfont of Debian's, the A320U bank):
a typical pattern of each sound was measured by ITU-R BS.1770, and the mean over the four brought
to where its part lies in the balance. Loudness goes with 40 log10 of a channel's volume and of a
velocity (General MIDI 2, RP-024, as its recommended curve; measured: 10.9 to 12.8 dB for half).
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType

from backing.theory.general_midi import BRUSH_KIT, MUTED_GUITAR, STANDARD_KIT

#: A channel's volume (0-127) by General MIDI program, where the form leaves it at its default.
DEVICE_VOLUMES: Mapping[int, int] = MappingProxyType(
    {25: 80, 24: 68, 27: 71, MUTED_GUITAR: 80, 33: 84, 16: 71, 48: 56, 0: 88}
)
USUAL_DEVICE_VOLUME = 75
#: What percussion's velocities are multiplied by: parts that share a channel can't have volumes.
DEVICE_KITS: Mapping[int, Fraction] = MappingProxyType(
    {STANDARD_KIT: Fraction(82, 100), BRUSH_KIT: Fraction(1)}
)
DEVICE_CLICK = Fraction(113, 100)
#: What a guitar's muted notes send to the room.
MUTED_REVERB = 8
#: The volume in a form that leaves a part in balance.
IN_BALANCE = 100
#: Where a held sound's expression rests, so that it can grow from there.
RESTING_EXPRESSION = 100
MOST = 127
