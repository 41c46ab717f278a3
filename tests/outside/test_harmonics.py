"""Natural harmonics against the physics of the vibrating string.

Source: an ideal string that is touched at m/k of its length (in lowest terms) sounds its k-th
partial (Fletcher and Rossing, The Physics of Musical Instruments, 1998, from memory).
"""

from __future__ import annotations

from fractions import Fraction
from math import log2

import pytest

from backing.theory.harmonics import NATURAL_HARMONICS
from backing.verify.expected.tab import Number


@pytest.mark.parametrize("fret", range(1, 25))
def test_a_fret_has_a_harmonic_where_it_is_near_a_node_of_the_first_six_partials(fret: int) -> None:
    place = 1 - 2 ** (-fret / 12)
    nodes = {Fraction(m, k) for k in range(2, 7) for m in range(1, k)}
    nearest = min(nodes, key=lambda node: abs(place - node))
    if abs(place - nearest) > 0.01:
        assert fret not in NATURAL_HARMONICS
        return
    partial = nearest.denominator
    assert NATURAL_HARMONICS[fret] == round(12 * log2(partial))
    assert abs(NATURAL_HARMONICS[fret] - 12 * log2(partial)) < 0.15
    assert Number(1, fret, harmonic=True).above_open == NATURAL_HARMONICS[fret]
