"""How the values of practice options are read from text, on a command line or in a form.

Every reader takes the text as it was typed, blanks around it included, and raises `BadValue`
with what is wrong, what to write instead, and the place in the text. Speeds are typed as
percentages and become exact shares of the written tempo.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from typing import Any, NamedTuple, TypeVar

from backing.form.advice import suggestion
from backing.form.digits import decimal_between, whole_between
from backing.form.kinds import BadValue, quoted
from backing.form.practice_records import Ladder
from backing.text.percent import percent
from backing.theory.keys import Key, parse_key

#: Percent of the written tempo, and the percentage points from one speed of a ladder to the next.
SPEEDS, STEPS = (10, 300), (1, 100)
#: Decimals of a percentage; the names of files show no more.
_PLACES = 3
#: Two labels of sections with dots between them.
_LONGEST_SECTION = 130
_LONGEST_NAME = 60

T = TypeVar("T", str, Fraction)


class Value(NamedTuple):
    """How a value is read, and its JSON Schema.

    `item` is for values that a form may also write as a list: how one item is read.
    """

    read: Callable[[str], Any]
    schema: Mapping[str, object]
    item: Value | None = None


def whole_number(low: int, high: int) -> Value:
    """A whole number from `low` to `high`."""

    def read(text: str) -> int:
        number = text.strip()
        if not re.fullmatch(r"[+-]?[0-9]+", number):
            raise BadValue(f"{quoted(number)} isn't a whole number.", f"Write {low} to {high}.")
        if len(number) > 6 or not low <= int(number) <= high:
            raise BadValue(f"{quoted(number)} is out of range.", f"Write {low} to {high}.")
        return int(number)

    return Value(read, whole_between(low, high))


def speeds() -> Value:
    """One percentage or several with commas, each once."""
    pattern = rf"^{_SPEED}(,{_SPEED})*$"
    schema = {
        "type": ["number", "string"], "pattern": pattern,
        "minimum": SPEEDS[0], "maximum": SPEEDS[1],
    }  # fmt: skip

    def read(text: str) -> tuple[Fraction, ...]:
        return each_once(_speed(piece, at) for at, piece in _pieces(text, ","))

    one = Value(read, schema)
    return one._replace(item=one)


def ladder() -> Value:
    """The first speed, the last one and the step: `60-100 by 10`, or `60-100`."""
    pattern = rf"^{_SPEED}-{_SPEED}(by{_STEP})?$"
    advice = "Write the first speed, the last one and, if you like, the step: 60-100 by 10"

    def read(text: str) -> Ladder:
        ends, by, step = text.partition("by")
        speeds = list(_pieces(ends, "-"))
        if len(speeds) != 2:
            raise BadValue(f"{quoted(text.strip())} isn't a ladder.", advice)
        first, last = (_speed(piece, at) for at, piece in speeds)
        if first == last:
            message = f"this ladder starts and ends at {percent(first)}."
            raise BadValue(message, "Write two different speeds, such as: 60-100")
        if not by:
            return Ladder(first, last)
        at = len(ends) + len(by) + len(step) - len(step.lstrip())
        return Ladder(first, last, _step(step.strip(), at))

    return Value(read, {"type": "string", "pattern": pattern})


def section() -> Value:
    """A section by its name or label, or the first and the last one: `verse..chorus`."""

    def read(text: str) -> tuple[str, str]:
        typed = " ".join(text.split())
        first, dots, last = (part.strip() for part in typed.partition(".."))
        if not first or (dots and not last):
            message = f"{quoted(typed)} needs a section before and after the dots."
            if not dots:
                message = "the section's name is missing here."
            raise BadValue(message, "Write one section, or the first and the last: verse..chorus")
        if len(typed) > _LONGEST_SECTION:
            raise BadValue(f"this is longer than {_LONGEST_SECTION} characters.", "Shorten it.")
        return first, last or first

    types = ["string", "number", "boolean"]
    pattern = r"^\s*(?!\.\.)\S"
    return Value(read, {"type": types, "pattern": pattern, "maxLength": _LONGEST_SECTION})


def name() -> Value:
    """A name that the song's writer chose, on one line."""

    def read(text: str) -> str:
        typed = " ".join(text.split())
        if not typed:
            raise BadValue("a name is missing here.", "Write one of the song's names.")
        if len(typed) > _LONGEST_NAME:
            raise BadValue(f"this is longer than {_LONGEST_NAME} characters.", "Shorten it.")
        return typed

    types = ["string", "number", "boolean"]
    return Value(read, {"type": types, "pattern": r"\S", "maxLength": _LONGEST_NAME})


def bars() -> Value:
    """One bar or the first and the last one, counted from 1: `9-12`."""
    advice = "Write the first bar, then the last, such as: 9-12"

    def read(text: str) -> tuple[int, int]:
        found = re.fullmatch(r"\s*([0-9]{1,5})\s*(?:-\s*([0-9]{1,5})\s*)?", text)
        first, last = (int(found[1]), int(found[2] or found[1])) if found else (0, 0)
        if not 1 <= first <= last:
            raise BadValue(f"{quoted(text.strip())} isn't a range of bars.", advice)
        return first, last

    pattern = r"^\s*[0-9]{1,5}\s*(-\s*[0-9]{1,5}\s*)?$"
    return Value(read, {"type": ["string", "integer"], "pattern": pattern})


def words_of(known: Sequence[str], what: str) -> Value:
    """Words of a list, each once, with commas, in capitals or not; `what` is what one is."""

    def one(text: str, at: int = 0) -> str:
        word = text.strip().lower()
        if word not in known:
            raise BadValue(f"{quoted(text.strip())} isn't {what}.", suggestion(word, known), at)
        return word

    def read(text: str) -> tuple[str, ...]:
        return each_once(one(piece, at) for at, piece in _pieces(text, ","))

    any_case = "|".join("".join(f"[{c}{c.upper()}]" for c in word) for word in known)
    alone = {
        "anyOf": [{"enum": list(known)}, {"type": "string", "pattern": rf"^\s*({any_case})\s*$"}]
    }
    pattern = rf"^\s*({any_case})(\s*,\s*({any_case}))*\s*$"
    item = Value(lambda text: (one(text),), alone)
    return Value(read, {"type": "string", "pattern": pattern}, item)


def one_of(known: Sequence[str], what: str) -> Value:
    """One of a few words; `what` is what it isn't otherwise."""

    def read(text: str) -> str:
        word = text.strip()
        if word not in known:
            raise BadValue(f"{quoted(word)} isn't {what}.", f"Write {' or '.join(known)}.")
        return word

    return Value(read, {"enum": list(known)})


def each_once(found: Iterable[T]) -> tuple[T, ...]:
    """What was listed, as a tuple.

    Raises:
        BadValue: something is listed twice.
    """
    listed: dict[T, None] = {}
    for value in found:
        if value in listed:
            name = percent(value) if isinstance(value, Fraction) else value
            raise BadValue(f"{name} is listed twice.", "Keep one of the two.")
        listed[value] = None
    return tuple(listed)


def key() -> Value:
    """A musical key: `A`, `F#m`. The language's table has its schema."""

    def read(text: str) -> Key:
        try:
            return parse_key(text)
        except ValueError as error:
            raise BadValue(str(error)) from None

    return Value(read, {})


def on_off() -> Value:
    """`on` or `off`, or `true` or `false`, as YAML 1.1 writes them."""

    def read(text: str) -> bool:
        word = text.strip()
        if word not in ("on", "off", "true", "false"):
            raise BadValue(f"{quoted(word)} is neither on nor off.", "Write on or off.")
        return word in ("on", "true")

    return Value(read, {"enum": ["on", "off", True, False]})


def _pieces(text: str, sign: str) -> Iterator[tuple[int, str]]:
    """What stands between signs, without the blanks around it, each with its place in the text."""
    at = 0
    for piece in text.split(sign):
        yield at + len(piece) - len(piece.lstrip()), piece.strip()
        at += len(piece) + 1


def _speed(text: str, at: int) -> Fraction:
    low, high = SPEEDS
    return _share(
        text, at, SPEEDS, f"{quoted(text)} isn't a percentage.", f"Write {low}% to {high}%."
    )


def _step(text: str, at: int) -> Fraction:
    low, high = STEPS
    message = f"{quoted(text)} isn't a number of percentage points."
    return _share(text, at, STEPS, message, f"Write {low} to {high}, such as: 60-100 by 10")


def _share(text: str, at: int, limits: tuple[int, int], message: str, advice: str) -> Fraction:
    """Percent as a share of one; `message` says that a text has no such number."""
    low, high = limits
    number = re.fullmatch(r"([0-9]+(?:\.([0-9]+))?)\s*%?", text)
    if not number:
        raise BadValue(message, advice, at)
    if len(number[2] or "") > _PLACES:
        raise BadValue(f"{quoted(text)} has too many decimals.", f"Write at most {_PLACES}.", at)
    if len(number[1]) > 12 or not low <= Fraction(number[1]) <= high:
        raise BadValue(f"{quoted(text)} is out of range.", advice, at)
    return Fraction(number[1]) / 100


def _percent_pattern(limits: tuple[int, int]) -> str:
    return rf"{str(decimal_between(*limits)['pattern'])[1:-1]}%?\s*"


_SPEED, _STEP = _percent_pattern(SPEEDS), _percent_pattern(STEPS)
