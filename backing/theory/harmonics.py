"""Natural harmonics: where a string is touched, and what it sounds then.

An ideal string that is touched at m/k of its length sounds its k-th partial (physics of the
vibrating string): k times the open string's frequency, 12 log2(k) semitones higher. Fret f stands
at 1 - 2^(-f/12) of the length, so each fret here is the nearest to such a place. In equal
temperament the fifth partial is a seventh of a semitone flat; it is written as 28 semitones.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

#: By fret, how many semitones above the open string a natural harmonic sounds.
NATURAL_HARMONICS: Mapping[int, int] = MappingProxyType(
    {3: 31, 4: 28, 5: 24, 7: 19, 9: 28, 12: 12, 16: 28, 19: 19, 24: 24}
)
