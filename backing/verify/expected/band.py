"""What each part of a file must play, by the part's name."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeAlias

from backing.form.parts import PARTS
from backing.verify.expected.bass import ExpectedBass, expect_bass
from backing.verify.expected.click import ExpectedClicks, expect_click
from backing.verify.expected.clockwork import Clockwork
from backing.verify.expected.drums import ExpectedDrums, expect_drums
from backing.verify.expected.guitar import ExpectedGuitar, expect_guitar
from backing.verify.expected.pad import ExpectedPad, expect_pad
from backing.verify.expected.records import Expected

ExpectedPart: TypeAlias = (
    ExpectedBass | ExpectedClicks | ExpectedDrums | ExpectedGuitar | ExpectedPad
)

#: By the name of the part's player.
_EXPECT: Mapping[str, Callable[[Expected, str, Clockwork], ExpectedPart]] = {
    "bass": expect_bass,
    "click": expect_click,
    "drums": expect_drums,
    "guitar": expect_guitar,
    "pad": expect_pad,
}


def expected_band(expected: Expected, clock: Clockwork) -> dict[str, ExpectedPart]:
    """Every part of the form, those left out of a practice version excepted.

    The click is always there: it counts in even where it is left out.
    """
    return {
        name: _EXPECT[part.module](expected, name, clock)
        for name, part in PARTS.items()
        if name not in expected.absent or name == "click"
    }


def left_out_band(expected: Expected, clock: Clockwork) -> dict[str, ExpectedPart]:
    """What the parts would play that a practice version leaves out, the click excepted."""
    everyone = expected._replace(absent=frozenset())
    return {
        name: _EXPECT[part.module](everyone, name, clock)
        for name, part in PARTS.items()
        if name in expected.absent and name != "click"
    }
