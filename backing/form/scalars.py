"""Kinds of single values: words, numbers, choices, and text that a parser reads."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

from backing.form.advice import suggestion
from backing.form.digits import decimal_between, whole_between
from backing.form.kinds import BadValue, Kind, Reading, parse_text, quoted, text_of
from backing.form.tree import Node


def words(what: str, longest: int = 200) -> Kind:
    """Free text on one line."""

    def read(node: Node, reading: Reading) -> str:
        text = " ".join(text_of(node, what).split())
        if len(text) > longest:
            raise BadValue(f"{what} is longer than {longest} characters.", "Shorten it.")
        return text

    types = ["string", "number", "boolean"]
    return Kind(read, {"type": types, "pattern": r"\S", "maxLength": longest}, free=True)


def whole(what: str, low: int, high: int) -> Kind:
    """A whole number in a range."""

    def read(node: Node, reading: Reading) -> int:
        text = text_of(node, what)
        if not re.fullmatch(r"[+-]?[0-9]{1,6}", text) or not low <= int(text) <= high:
            raise BadValue(
                f"{quoted(text)} doesn't work for {what}.",
                f"Write a whole number from {low} to {high}.",
            )
        return int(text)

    return Kind(read, whole_between(low, high))


def decimal(what: str, low: int, high: int) -> Kind:
    """A plain decimal number in a range, taken exactly."""

    def read(node: Node, reading: Reading) -> Fraction:
        text = text_of(node, what)
        if (
            not re.fullmatch(r"[0-9]{1,4}(\.[0-9]{1,6})?", text)
            or not low <= Fraction(text) <= high
        ):
            raise BadValue(
                f"{quoted(text)} doesn't work for {what}.", f"Write a number from {low} to {high}."
            )
        return Fraction(text)

    return Kind(read, decimal_between(low, high))


def choice(what: str, known: Mapping[str, Any]) -> Kind:
    """One of a few words; its value is what the word stands for."""
    taken = dict(known)
    offered: list[object] = list(known)
    if {"on", "off"} <= set(known):
        # A program that writes YAML 1.1 writes on and off as true and false.
        taken |= {"true": known["on"], "false": known["off"]}
        offered += [True, False]

    def read(node: Node, reading: Reading) -> Any:
        text = text_of(node, what)
        if text not in taken:
            raise BadValue(f"{quoted(text)} isn't a choice for {what}.", suggestion(text, known))
        return taken[text]

    return Kind(read, {"enum": offered})


def parsed(
    what: str, parse: Callable[[str], Any], pattern: str, types: str | tuple[str, ...] = "string"
) -> Kind:
    """Text that a parser of the theory room reads; an editor checks `pattern` and `types`."""

    def read(node: Node, reading: Reading) -> Any:
        text = text_of(node, what)
        if len(text) > 80:
            raise BadValue(f"{quoted(text)} is too long for {what}.", "Write a shorter one.")
        return parse_text(node, text, parse)

    return Kind(
        read,
        {
            "type": types if isinstance(types, str) else list(types),
            "pattern": rf"^\s*({pattern})\s*$",
        },
    )
