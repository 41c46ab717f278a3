"""How held sounds grow and fade: a channel's expression against the form's dynamics.

It is only noted where it differs, as volumes are. Near a boundary between passes it may already
have, or still have, the other one's value.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from backing.verify.comparison.reading import Reading
from backing.verify.expected.mix import ExpectedMix, Swell
from backing.verify.readers.voices import Setting, Voice, latest
from backing.verify.report import Finding, Verdict

NAME = "expression"
#: How far a value may be off where it grows.
NEAR = 2


def check_expression(
    reading: Reading, mixes: Mapping[str, ExpectedMix], parts: Mapping[str, Sequence[Voice]]
) -> Iterator[Finding]:
    """Compare the expression of each part that holds its sounds."""
    known = 0
    noted: list[str] = []
    for part, mix in mixes.items():
        for voice in parts.get(part, ()):
            settings = voice.settings.expressions
            if not mix.swells or settings is None:
                continue
            known += 1
            if not settings:
                yield reading.lost(NAME, f"the {part}'s {NAME}")
            else:
                noted += _first_difference(reading, part, mix.swells, settings)
    for says in noted:
        yield Finding(reading.account.reader, NAME, Verdict.NOTED, says)
    if known and not noted:
        yield reading.agrees(NAME, "as the form's dynamics ask")


def _first_difference(
    reading: Reading, part: str, swells: Sequence[Swell], settings: Sequence[Setting]
) -> list[str]:
    for swell in swells:
        away = float(reading.expected.human_s) + 2 * reading.tolerance(swell.end_s)
        first, last = swell.start_s + away, swell.end_s - away
        if last <= first:
            continue
        for at_s, wanted in ((first, swell.first), (last, swell.last)):
            value = latest(settings, at_s)
            slack = NEAR if swell.first != swell.last else 0
            if value is None or abs(value - wanted) > slack:
                return [f"The {part}'s {NAME} is {value}, not {wanted}."]
    return []
