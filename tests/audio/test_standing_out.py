"""How much louder a click must be to stand out of the drums, worked out by hand."""

from __future__ import annotations

import pytest

from backing.audio.calibration import NotePower
from backing.audio.standing_out import MOST_DB, OVER_DB, Strike, raised_db

FALLING = tuple(0.1**tenth for tenth in range(12))


def strike(at_s: float, octaves: tuple[float, ...], factor: float = 1.0) -> Strike:
    return Strike(at_s, NotePower(FALLING, (), octaves), factor)


def clicks(count: int = 20, factor: float = 1.0) -> list[Strike]:
    return [strike(float(at), (0.0, 1.0, 0.5), factor) for at in range(count)]


def drums(count: int, factor: float = 1.0, octave: int = 1, late_s: float = 0.0) -> list[Strike]:
    octaves = tuple(float(place == octave) for place in range(3))
    both = (octaves[0], octaves[1], octaves[1])
    return [strike(at + late_s, both if octave == 1 else octaves, factor) for at in range(count)]


def test_nothing_is_raised_without_drums_or_clicks() -> None:
    assert raised_db(clicks(), []) == 0.0
    assert raised_db([], drums(20)) == 0.0


def test_a_click_is_raised_by_what_its_strongest_octave_lacks() -> None:
    """The drums have half of the click's power in both of its octaves or more: 3.01 dB."""
    assert raised_db(clicks(), drums(20, 0.5)) == pytest.approx(OVER_DB - 3.0103, abs=1e-3)


def test_drums_as_loud_as_the_click_raise_it_by_the_most() -> None:
    assert raised_db(clicks(), drums(20)) == MOST_DB


@pytest.mark.parametrize("factor", [10**-0.45, 0.001])
def test_soft_drums_leave_it(factor: float) -> None:
    assert raised_db(clicks(), drums(20, factor)) == pytest.approx(0.0, abs=1e-9)


def test_drums_in_another_octave_leave_it() -> None:
    assert raised_db(clicks(), drums(20, 1000.0, octave=0)) == 0.0


def test_one_click_in_twenty_may_be_covered() -> None:
    assert raised_db(clicks(), drums(1, 1000.0)) == 0.0
    assert raised_db(clicks(), drums(3, 1000.0)) == MOST_DB


def test_what_still_rings_counts_as_far_as_it_has_fallen() -> None:
    """Half a second before a click, at a tenth of the power every tenth of a second."""
    assert raised_db(clicks(), drums(20, 1.0, late_s=-0.55)) == 0.0
    assert raised_db(clicks(), drums(20, 1e5, late_s=-0.55)) == MOST_DB


def test_what_comes_after_a_click_leaves_it() -> None:
    assert raised_db(clicks(1), drums(1, 1000.0, late_s=0.1)) == 0.0
