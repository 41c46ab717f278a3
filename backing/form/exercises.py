"""`practice:` in a form: the week's set of exercises, and the formats that they come in.

    practice:
      formats: [mp3, midi]
      set:
        - 60, 75, 90                                   # the whole song, a file a speed
        - {section: chorus, ladder: 60-100, rung: 5}   # one file, faster round by round
        - {speed: [75, 100], without: guitar}

A bare list is the set alone. An exercise's keys are those of the command line's options.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from types import MappingProxyType
from typing import Any

from backing.form.digits import decimal_between
from backing.form.kinds import (
    Desk,
    Kind,
    Refusal,
    choice,
    decimal,
    either,
    list_of,
    near,
    parsed,
    record,
    shown,
    text_of,
    whole,
    words,
)
from backing.form.parts import ON_OFF, PARTS, same
from backing.form.tree import Node

#: Formats of a set's files: one for each exercise, or one a song (`chart`, `page`).
FORMATS = ("midi", "mp3", "wav", "flac", "ogg", "chart", "page")
#: Speeds and rungs in percent of the written tempo.
SLOWEST, FASTEST = 10, 300
MOST_ROUNDS = 100

_SPEED = rf"{str(decimal_between(SLOWEST, FASTEST)['pattern'])[1:-1]}%?\s*"
#: Keys of an exercise that contradict each other, and what a key says nothing without.
ALONE = (
    ("speed", "ladder"),
    ("section", "bars"),
    ("without", "only"),
    ("key", "transpose"),
    ("capo", "keep-shapes"),
)
NEEDS: Mapping[str, str] = MappingProxyType({"rung": "ladder"})


def _pieces(text: str, sign: str) -> Iterator[tuple[int, str]]:
    """What stands between signs, without the blanks around it, each with its offset."""
    at = 0
    for piece in text.split(sign):
        yield at + len(piece) - len(piece.lstrip()), piece.strip()
        at += len(piece) + 1


def _share(offset: int, text: str) -> Fraction:
    """A percentage as a share of the tempo (Refusal)."""
    number = text.removesuffix("%").strip()
    plain = re.fullmatch(r"[0-9]{1,4}(\.[0-9]{1,6})?", number)
    if not plain or not SLOWEST <= Fraction(number) <= FASTEST:
        mend = f"Write percent of the tempo, from {SLOWEST} to {FASTEST}, such as: 75"
        raise Refusal(f"a speed can't be {shown(text)}.", mend, offset)
    return Fraction(number) / 100


def _speeds() -> Kind:
    """Percentages: one, several with commas, or a list."""

    def read(node: Node, desk: Desk) -> tuple[Fraction, ...]:
        text_of(node, "a speed")
        return tuple(_share(at, piece) for at, piece in _pieces(node.text, ","))

    def listed(node: Node, desk: Desk) -> tuple[Fraction, ...] | None:
        taken = several.read(node, desk)
        if len(taken) < len(node.items):
            return None
        return tuple(speed for _, speeds in taken for speed in speeds)

    limits = {"minimum": SLOWEST, "maximum": FASTEST}
    pattern = rf"^{_SPEED}(,{_SPEED})*$"
    one = Kind(read, {"type": ["number", "string"], "pattern": pattern, **limits})
    several = list_of("speed", one)
    return either(one, Kind(listed, several.schema))


SPEED = _speeds()


def _ladder() -> Kind:
    def read(node: Node, desk: Desk) -> tuple[Fraction, Fraction]:
        text = text_of(node, "a ladder")
        ends = list(_pieces(node.text, "-"))
        if len(ends) != 2:
            mend = "Write the first and the last percentage, such as: 60-100"
            raise Refusal(f"a ladder can't be {shown(text)}.", mend)
        first, last = (_share(at, end) for at, end in ends)
        if first == last:
            raise Refusal("this ladder has one speed.", f"Write  speed: {ends[0][1]}")
        return first, last

    return Kind(read, {"type": "string", "pattern": rf"^{_SPEED}-{_SPEED}$"})


def _stretch() -> Kind:
    """A section's name or label, or two with dots between."""
    name = words("a section", 130)

    def read(node: Node, desk: Desk) -> tuple[str, str]:
        first, dots, last = (part.strip() for part in name.read(node, desk).partition(".."))
        if not first or (dots and not last):
            mend = "Write the first and the last section, such as: verse..chorus"
            raise Refusal(f"a stretch can't be {shown(node.text.strip())}.", mend)
        return first, last or first

    return Kind(read, {**name.schema, "pattern": r"^\s*(?!\.\.)\S"})


def _bars() -> Kind:
    def read(text: str) -> tuple[int, int]:
        match = re.fullmatch(r"([0-9]{1,5})(?:\s*-\s*([0-9]{1,5}))?", text)
        if not match:
            raise ValueError(f"bars can't be {shown(text)}; write the first and last, such as 9-12")
        return int(match[1]), int(match[2] or match[1])

    return parsed("bars", read, r"[0-9]{1,5}(\s*-\s*[0-9]{1,5})?", ("string", "integer"))


def _several(what: str, known: Sequence[str]) -> Kind:
    """Words of a few: one, several with commas, or a list; each once."""
    word = choice(what, same(*known))
    one_of = "|".join(map(re.escape, known))

    def checked(node: Node, found: Sequence[str]) -> tuple[str, ...]:
        twice = next((one for one in found if list(found).count(one) > 1), None)
        if twice is not None:
            raise Refusal(f"{what} has {twice} twice.", "Keep one of the two.")
        return tuple(found)

    def read(node: Node, desk: Desk) -> tuple[str, ...]:
        text_of(node, what)
        found = list(_pieces(node.text, ","))
        for at, piece in found:
            if piece not in known:
                raise Refusal(f"{what} can't be {shown(piece)}.", near(piece, known), at)
        return checked(node, [piece for _, piece in found])

    def listed(node: Node, desk: Desk) -> tuple[str, ...] | None:
        taken = several.read(node, desk)
        return checked(node, [one for _, one in taken]) if len(taken) == len(node.items) else None

    several = list_of(what, word)
    pattern = rf"^\s*({one_of})(\s*,\s*({one_of}))*\s*$"
    one = Kind(read, {"type": "string", "pattern": pattern})
    return either(one, Kind(listed, {**several.schema, "uniqueItems": True}))


def exercise_table(key: Kind) -> dict[str, Kind]:
    """The keys of an exercise; `key` reads a musical key."""
    return {
        "speed": SPEED,
        "ladder": _ladder(),
        "rung": decimal("a rung", 1, 100),
        "section": _stretch(),
        "bars": _bars(),
        "loop": whole("loop", 1, MOST_ROUNDS),
        "between": whole("between", 0, 8),
        "without": _several("without", tuple(PARTS)),
        "only": _several("only", tuple(PARTS)),
        "answer": whole("answer", 1, 64),
        "key": key,
        "capo": whole("capo", 0, 11),
        "transpose": whole("transpose", -11, 11),
        "keep-shapes": choice("keep-shapes", ON_OFF),
        "easier": choice("easier", ON_OFF),
    }


def practice_kind(exercise: dict[str, Kind]) -> Kind:
    """`practice:` itself: a list of exercises, or a mapping with formats too."""
    rules = {
        "minProperties": 1,
        "dependentRequired": {key: [needed] for key, needed in NEEDS.items()},
        "not": {"anyOf": [{"required": list(pair)} for pair in ALONE]},
    }
    raw = record("an exercise", exercise, rules=rules)

    def read(node: Node, desk: Desk) -> Any:
        _refuse_split(node)
        return raw.read(node, desk)

    one = either(SPEED, Kind(read, raw.schema))
    exercises = list_of("practice", one)
    table = {"formats": _several("formats", FORMATS), "set": list_of("set", one)}
    return by_kind(exercises, record("practice", table, rules={"minProperties": 1}))


def _refuse_split(node: Node) -> None:
    """Refuse `{speed: 60, 75}`, where YAML ends the value at the comma."""
    several = ("speed", "without", "only")
    for (key, value), (rest, nothing) in pairwise(node.pairs):
        if key.text in several and nothing.kind == "text" and not nothing.text.strip():
            raise Refusal(
                f"between braces the comma ends {key.text}.",
                f"Put several into brackets:  {key.text}: [{value.text.strip()}, {rest.text}]",
            )


def by_kind(listed: Kind, mapping: Kind) -> Kind:
    """A list or a mapping, by what was written."""

    def read(node: Node, desk: Desk) -> Any:
        if node.kind == "text":
            mend = "Write one exercise a line:  - {section: chorus, ladder: 60-100}"
            raise Refusal("practice is a list of exercises.", mend)
        return (listed if node.kind == "list" else mapping).read(node, desk)

    return Kind(read, {"anyOf": [dict(listed.schema), dict(mapping.schema)]})
