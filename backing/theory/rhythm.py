"""Rhythm: meters, their beats, and note values. Every length is an exact part of a whole note.

In n/1, n/2 and n/4 the unit is the beat. In n/8 and n/16 several units make a beat: three in
6, 9 and 12 (compound time), one in meters of up to 4; 5 is 3+2 and 7 is 2+2+3 unless the writer
groups them differently; larger ones must be grouped.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import accumulate

METER_UNITS = (1, 2, 4, 8, 16)
MOST_UNITS = 64
_GROUPS = {5: (3, 2), 6: (3, 3), 7: (2, 2, 3), 9: (3, 3, 3), 12: (3, 3, 3, 3)}
_METER = re.compile(r"([0-9]{1,3})\s*/\s*([0-9]{1,3})(?:\s*\(([0-9+\s]*)\))?")
_NOTE_VALUE = re.compile(r"([0-9]{1,3})/([0-9]{1,3})(t?)")


def later(place: Fraction, by: Fraction) -> Fraction:
    """`place + by`, exactly, in half the time of the operator: a song adds thousands of times."""
    numerator, denominator = place.as_integer_ratio()
    more, parts = by.as_integer_ratio()
    return Fraction(numerator * parts + more * denominator, denominator * parts)


@dataclass(frozen=True, slots=True)
class Meter:
    """A meter of `count` units of 1/`unit`, with the groups its writer wrote, if any.

    What follows from these three is worked out once, since every bar uses it. Lengths and
    starts are whole notes, and starts count from the bar line.

    Raises:
        ValueError: there is no such meter; the sentence says what to write.
    """

    count: int
    unit: int
    groups: tuple[int, ...] = ()
    bar_whole: Fraction = field(init=False, repr=False, compare=False)
    unit_whole: Fraction = field(init=False, repr=False, compare=False)
    #: The length of each unit and of each beat.
    units: tuple[Fraction, ...] = field(init=False, repr=False, compare=False)
    beats: tuple[Fraction, ...] = field(init=False, repr=False, compare=False)
    beat_starts: tuple[Fraction, ...] = field(init=False, repr=False, compare=False)
    #: Where the groups start, for accents; only the bar line in a meter without groups.
    group_starts: tuple[Fraction, ...] = field(init=False, repr=False, compare=False)
    #: The length of every beat, or None where beats are uneven.
    beat_whole: Fraction | None = field(init=False, repr=False, compare=False)
    _hash: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        _check(self.count, self.unit, self.groups)
        unit = Fraction(1, self.unit)
        groups = self.groups or (_GROUPS.get(self.count, ()) if self.unit >= 8 else ())
        units = (unit,) * self.count
        group_lengths = tuple(unit * size for size in groups) or (unit * self.count,)
        beats = group_lengths if groups and self.unit >= 8 else units
        worked_out = {
            "bar_whole": unit * self.count,
            "unit_whole": unit,
            "units": units,
            "beats": beats,
            "beat_starts": _starts(beats),
            "group_starts": _starts(group_lengths),
            "beat_whole": beats[0] if len(set(beats)) == 1 else None,
            "_hash": hash((self.count, self.unit, self.groups)),
        }
        for name, value in worked_out.items():
            object.__setattr__(self, name, value)

    @property
    def even(self) -> bool:
        """Whether every beat is as long as the others."""
        return self.beat_whole is not None

    def __hash__(self) -> int:
        return self._hash

    def __str__(self) -> str:
        groups = f" ({'+'.join(map(str, self.groups))})" if self.groups else ""
        return f"{self.count}/{self.unit}{groups}"


@lru_cache(maxsize=256)
def parse_meter(text: str) -> Meter:
    """Read a meter: `4/4`, `6/8`, `7/8 (3+2+2)`.

    Raises:
        ValueError: it isn't one; the sentence says what to write.
    """
    found = _METER.fullmatch(text.strip())
    if not found:
        raise ValueError(f"{text!r} isn't a meter; write one such as 4/4, 6/8 or 7/8 (2+2+3)")
    groups: tuple[int, ...] = ()
    if found[3] is not None:
        sizes = [size.strip() for size in found[3].split("+")]
        if not all(size.isdigit() for size in sizes):
            raise ValueError(
                f"write the groups of {text!r} as numbers with + between them, as in (3+2)"
            )
        groups = tuple(map(int, sizes))
    return Meter(int(found[1]), int(found[2]), groups)


def parse_note_value(text: str) -> Fraction:
    """Read a note value in whole notes: `1/8`, `3/8` (a dotted quarter), `1/8t` (a triplet's).

    A `t` takes two thirds, so `1/8t` is 1/12. The shortest is `1/64t`, the longest 16
    whole notes.

    Raises:
        ValueError: it isn't one; the sentence says what to write.
    """
    found = _NOTE_VALUE.fullmatch(text.strip())
    if not found or int(found[1]) == 0 or int(found[2]) not in (*METER_UNITS, 32, 64):
        raise ValueError(
            f"{text!r} isn't a note value; write 1/4, 1/8 or 1/16, 1/8t for a triplet eighth, "
            "or 3/8 for a dotted quarter"
        )
    value = Fraction(int(found[1]), int(found[2]))
    if value > 16:
        raise ValueError(f"{text!r} is too long; write a note value of at most 16 whole notes")
    return value * Fraction(2, 3) if found[3] else value


def note_value_text(value: Fraction) -> str:
    """A note value as `parse_note_value` reads it: 1/8, 3/8, and 1/8t for 1/12."""
    denominator = value.denominator
    if denominator % 3:
        return f"{value.numerator}/{denominator}"
    straight = value * Fraction(3, 2)
    return f"{straight.numerator}/{straight.denominator}t"


def _starts(lengths: tuple[Fraction, ...]) -> tuple[Fraction, ...]:
    return tuple(accumulate(lengths[:-1], initial=Fraction(0)))


def _check(count: int, unit: int, groups: tuple[int, ...]) -> None:
    if unit not in METER_UNITS:
        raise ValueError(
            f"a meter can't have {unit} below; write 1, 2, 4, 8 or 16, as in {count}/8"
        )
    if not 1 <= count <= MOST_UNITS:
        raise ValueError(
            f"a meter can't have {count} above; write 1 to {MOST_UNITS}, as in 4/{unit}"
        )
    if groups and (min(groups) < 1 or sum(groups) != count):
        raise ValueError(
            f"the groups {'+'.join(map(str, groups))} add up to {sum(groups)}, not {count}; "
            f"write {count}/{unit} ({_suggested(count)})"
        )
    if not groups and unit >= 8 and count > 4 and count not in _GROUPS:
        raise ValueError(
            f"{count}/{unit} can be felt in more than one way; "
            f"write its groups, as in {count}/{unit} ({_suggested(count)})"
        )


def _suggested(count: int) -> str:
    """Threes, then twos, that make `count`: 8 is 3+3+2."""
    if count < 4:
        return str(count)
    threes = count // 3 - (1 if count % 3 == 1 else 0)
    return "+".join(["3"] * threes + ["2"] * ((count - 3 * threes) // 2))


COMMON_TIME = Meter(4, 4)
