"""Practice versions as a command line asks for them: texts read, each with one clear error."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import NamedTuple

from backing.errors import BackingError
from backing.form.model import USUAL_RUNG
from backing.practice.versions import (
    AS_WRITTEN,
    PARTS,
    SPEEDS,
    Stretch,
    Version,
    check,
    percent,
    rungs,
    usual_between,
)
from backing.theory.keys import Key, parse_key

_PERCENT = re.compile(r"\s*([0-9]{1,3}(?:\.[0-9]{1,3})?)\s*%?\s*")
_BARS = re.compile(r"\s*([0-9]{1,5})\s*(?:-\s*([0-9]{1,5})\s*)?")
#: A rung that makes a ladder of no more steps than anybody climbs.
LEAST_RUNG, MOST_RUNG = Fraction(1, 100), Fraction(1)


class Asked(NamedTuple):
    """The options of a practice version as typed; None and False are "not asked for"."""

    speed: str | None = None
    ladder: str | None = None
    rung: str | None = None
    section: str | None = None
    bars: str | None = None
    loop: int | None = None
    count_between: int | None = None
    without: str | None = None
    only: str | None = None
    answer: int | None = None
    key: str | None = None
    capo: int | None = None
    transpose: int | None = None
    keep_shapes: bool = False
    easier: bool = False


def versions(asked: Asked) -> tuple[Version, ...]:
    """The versions asked for: one for each speed.

    Raises:
        BackingError: a text can't be read, or two options exclude each other.
    """
    _refuse_pairs(asked)
    version = Version(
        loop=1 if asked.loop is None else asked.loop,
        stretch=_stretch(asked),
        without=parts("--without", asked.without) if asked.without is not None else frozenset(),
        only=parts("--only", asked.only) if asked.only is not None else frozenset(),
        answer=0 if asked.answer is None else asked.answer,
        key=None if asked.key is None else sounding_key(asked.key),
        capo=asked.capo,
        transpose=asked.transpose or 0,
        keep_shapes=asked.keep_shapes,
        easier=asked.easier,
    )
    if asked.answer is not None and asked.answer < 1:
        raise BackingError(f"--answer {asked.answer} can't be. Write how many bars, from 1 on.")
    if asked.ladder is not None:
        climbs: tuple[tuple[Fraction, ...], ...] = (ladder(asked.ladder, asked.rung),)
    elif asked.speed is not None:
        climbs = tuple((speed,) for speed in speeds(asked.speed))
    else:
        climbs = (AS_WRITTEN,)
    found = []
    for climb in climbs:
        one = version._replace(speeds=climb)
        between = usual_between(one) if asked.count_between is None else asked.count_between
        found.append(one._replace(between=between))
        check(found[-1])
    return tuple(found)


def speeds(text: str) -> tuple[Fraction, ...]:
    """Speeds as percentages with commas: `60,75,90,100`; BackingError."""
    found = tuple(_share("--speed", piece) for piece in text.split(","))
    for index, speed in enumerate(found):
        if speed in found[:index]:
            raise BackingError(f"--speed {text}: {percent(speed)} stands there twice.")
    return found


def ladder(text: str, rung: str | None = None) -> tuple[Fraction, ...]:
    """The speeds of a ladder, `60-100`, up or down; five points a rung unless said; BackingError.

    The last is always there: where the rungs don't come to it, its step is shorter.
    """
    ends = text.split("-")
    if len(ends) != 2:
        raise BackingError(f"--ladder {text} can't be. Write the first and the last speed: 60-100.")
    first, last = (_share("--ladder", end) for end in ends)
    if first == last:
        raise BackingError(f"--ladder {text} has one speed; write --speed {percent(first)}.")
    step = USUAL_RUNG
    if rung is not None:
        found = _PERCENT.fullmatch(rung)
        step = Fraction(found[1]) / 100 if found else Fraction(0)
        if not LEAST_RUNG <= step <= MOST_RUNG:
            raise BackingError(f"--rung {rung} can't be. Write points of the tempo, 1 to 100.")
    return rungs(first, last, step)


def section(text: str) -> Stretch:
    """A section by name or label, or two with dots between: `verse..chorus`; BackingError."""
    first, dots, last = (piece.strip() for piece in text.partition(".."))
    if not first or (dots and not last):
        raise BackingError(f"--section {text!r} can't be. Write one section, or verse..chorus.")
    return Stretch(first, last or first)


def bars(text: str) -> Stretch:
    """Bars as the song counts them: `9-12`, or `9` alone; BackingError."""
    found = _BARS.fullmatch(text)
    first, last = (int(found[1]), int(found[2] or found[1])) if found else (0, 0)
    if not 1 <= first <= last:
        raise BackingError(f"--bars {text} can't be. Write the first and the last bar: 9-12.")
    return Stretch(bars=(first, last))


def parts(option: str, text: str) -> frozenset[str]:
    """Parts with commas: `click,bass`; BackingError."""
    found = [piece.strip().lower() for piece in text.split(",")]
    for part in found:
        if part not in PARTS:
            raise BackingError(f"{option}: {part!r} is no part. The parts are {', '.join(PARTS)}.")
    return frozenset(found)


def sounding_key(text: str) -> Key:
    """A key as it is to sound: `A`, `F#m`; BackingError."""
    try:
        return parse_key(text)
    except ValueError as error:
        raise BackingError(f"--key: {error}.") from None


def _share(option: str, text: str) -> Fraction:
    found = _PERCENT.fullmatch(text)
    share = Fraction(found[1]) / 100 if found else Fraction(0)
    slowest, fastest = SPEEDS
    if not slowest <= share <= fastest:
        raise BackingError(
            f"{option}: {text.strip()!r} can't be. Write percent of the tempo, "
            f"{percent(slowest)} to {percent(fastest)}."
        )
    return share


def _stretch(asked: Asked) -> Stretch | None:
    if asked.section is not None:
        return section(asked.section)
    return None if asked.bars is None else bars(asked.bars)


#: Options that say the same thing twice, and options that say nothing without another.
_ALONE = (
    ("speed", "ladder"),
    ("section", "bars"),
    ("without", "only"),
    ("key", "transpose"),
    ("capo", "keep_shapes"),
)
_NEEDS = (
    ("rung", ("ladder",)),
    ("count_between", ("loop", "ladder")),
    ("keep_shapes", ("key", "transpose")),
)


def _refuse_pairs(asked: Asked) -> None:
    given = {
        name for name, value in asked._asdict().items() if value is not None and value is not False
    }
    for one, other in _ALONE:
        if {one, other} <= given:
            raise BackingError(f"{_option(one)} and {_option(other)} exclude each other; give one.")
    for name, needed in _NEEDS:
        if name in given and not given & set(needed):
            with_what = " or ".join(map(_option, needed))
            raise BackingError(f"{_option(name)} goes with {with_what}.")


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"
