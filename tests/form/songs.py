"""The least form there is, for tests to spoil or to add to, and how long reading takes."""

from __future__ import annotations

import time
from collections.abc import Callable

#: Any form is read, or refused, in this processor time.
MOST_SECONDS = 2

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


def least_s(work: Callable[[], object]) -> float:
    """The least processor time of up to three runs: a busy machine only ever adds to it."""
    least = float("inf")
    for _ in range(3):
        start = time.process_time()
        work()
        least = min(least, time.process_time() - start)
        if least < MOST_SECONDS:
            break
    return least
