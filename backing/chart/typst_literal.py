"""Values as the typesetter's source writes them."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any


def literal(value: Any) -> str:
    """A value as the typesetter's source writes it."""
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, (int, Fraction)):
        return str(value)
    if isinstance(value, float):
        return f"{value:.2f}"
    if isinstance(value, Mapping):
        pairs = ", ".join(f"{_text(name)}: {literal(one)}" for name, one in value.items())
        return f"({pairs or ':'})"
    inside = "".join(f"{literal(one)}," for one in value)
    return f"({inside})"


def _text(text: str) -> str:
    """A string; controls and what is unprintable are written by their numbers."""
    out = []
    for letter in text:
        if letter in '"\\':
            out.append(f"\\{letter}")
        elif letter.isprintable():
            out.append(letter)
        else:
            out.append(f"\\u{{{ord(letter):x}}}")
    return f'"{"".join(out)}"'
