"""A file's voices given to the parts that they play, and each part compared."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

from backing.form.parts import PARTS
from backing.verify.comparison.bass import check_bass
from backing.verify.comparison.guitar import check_guitar
from backing.verify.comparison.leeway import Leeway, PartCheck
from backing.verify.comparison.pad import check_pad
from backing.verify.comparison.percussion import check_percussion
from backing.verify.comparison.voices import Assignment
from backing.verify.expected.band import ExpectedPart
from backing.verify.expected.bass import ExpectedBass
from backing.verify.expected.click import ExpectedClicks
from backing.verify.expected.drums import ExpectedDrums
from backing.verify.expected.guitar import ExpectedGuitar
from backing.verify.expected.pad import ExpectedPad


def check_band(
    band: Mapping[str, ExpectedPart], assigned: Assignment, leeway: Leeway
) -> tuple[Assignment, list[PartCheck]]:
    """Compare every part with what the voices play that were given to it.

    Two parts that only their names tell apart may have exchanged them: if both are wrong, but
    right the other way around, their voices are exchanged in the assignment that comes back.
    """
    checks = {
        name: _check(part, assigned, leeway) for name, part in band.items() if _is_pitched(name)
    }
    wrong = [name for name, check in checks.items() if check.faults]
    for one, other in combinations(wrong, 2):
        swapped = assigned.exchanged(one, other)
        again = {name: _check(band[name], swapped, leeway) for name in (one, other)}
        if not any(check.faults for check in again.values()):
            assigned = swapped
            checks |= again
    percussion = check_percussion(*struck_parts(band), assigned.percussion_notes, leeway)
    tracks = PartCheck("tracks", 0, "notes", assigned.unassigned, assigned.faults)
    return assigned, [*percussion, *checks.values(), tracks]


def struck_parts(
    band: Mapping[str, ExpectedPart],
) -> tuple[ExpectedClicks | None, ExpectedDrums | None]:
    """The click and the drums of a band, which share a channel."""
    click, drums = band.get("click"), band.get("drums")
    assert click is None or isinstance(click, ExpectedClicks)
    assert drums is None or isinstance(drums, ExpectedDrums)
    return click, drums


def _is_pitched(part: str) -> bool:
    return bool(PARTS[part].programs)


def _check(part: ExpectedPart, assigned: Assignment, leeway: Leeway) -> PartCheck:
    """Compare a pitched part."""
    notes = assigned.notes(part.part)
    if isinstance(part, ExpectedBass):
        return check_bass(part, notes, leeway, assigned.parts.get(part.part, ()))
    if isinstance(part, ExpectedPad):
        return check_pad(part, notes, leeway)
    assert isinstance(part, ExpectedGuitar)
    return check_guitar(part, notes, leeway, assigned.parts.get(part.part, ()))
