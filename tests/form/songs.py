"""The least form there is, for tests to spoil or to add to."""

from __future__ import annotations

LEAST = """\
title: Lantern
tempo: 92
sections:
  verse:
    bars: "| A | D |"
form:
  - verse
"""

KEYS = {
    "title": "Lantern",
    "tempo": "92",
    "sections": '{verse: {bars: "| A | D |"}}',
    "form": "[verse]",
}


def song(**keys: str) -> str:
    """A form of the least keys and these; `_` stands for the dash of a key."""
    printed = KEYS | {key.replace("_", "-"): value for key, value in keys.items()}
    return "".join(f"{key}: {value}\n" for key, value in printed.items())


def spoiled(old: str, new: str) -> str:
    """The least form with one place of it typed otherwise."""
    assert LEAST.count(old) == 1
    return LEAST.replace(old, new)
