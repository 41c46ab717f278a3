"""What a student might do while it plays: runs of steps for `drive.js`, drawn by lot.

A run starts with a bar and some settings. Each of its steps comes at a moment and makes changes:
some in one moment, some where the end of a round comes within reach, some in the ring.
"""

from __future__ import annotations

import random
from typing import Any


def a_run(song: dict[str, Any], luck: random.Random) -> dict[str, Any]:
    last = len(song["bars"]) - 1
    settings = {
        "percent": luck.choice([100, 60, 127.5]),
        "repeat": luck.random() < 0.6,
        "stretch": None,
        "countIn": luck.choice([0, 0, 1, 2]),
        "between": luck.choice([0, 0, 1, 2]),
        "faster": luck.choice([0, 0, 5]),
        "upTo": luck.choice([100, 130]),
    }
    if luck.random() < 0.7:
        settings["stretch"] = a_stretch(last, luck)
    first, until = settings["stretch"] or (0, last)
    bar = luck.choice([first, luck.randint(first, until)])
    return {
        "at": 10 * luck.random(),
        "bar": bar,
        "settings": settings,
        "plays": luck.choice([[1, 1], [1, 2], [2, 3]]),
        "steps": [a_step(song, luck) for _ in range(30)],
    }


def a_stretch(last: int, luck: random.Random) -> list[int]:
    first = luck.randint(0, last)
    return [first, min(last, first + luck.choice([0, 0, 1, 1, 2, 4, last]))]


def a_step(song: dict[str, Any], luck: random.Random) -> dict[str, Any]:
    """Some come in one moment, some where a round's end comes within reach, some in the ring, some
    while a note sounds that is bent."""
    last = len(song["bars"]) - 1
    step: dict[str, Any] = {"changes": [a_change(last, luck) for _ in range(luck.randint(1, 3))]}
    bent = [note for part in song["parts"] for note in part["notes"] if len(note) > 5]
    kind = luck.random()
    if kind < 0.3:
        step["wait"] = 0
    elif kind < 0.4 and bent:
        start, end = luck.choice(bent)[:2]
        step["song"] = start + (end - start) * luck.random()
    elif kind < 0.55:
        step["wait"] = luck.choice([0.001, 0.01, 0.1, 0.7, 1.9])
    else:
        step["near"] = luck.choice([-1.0, -0.3, -0.02, -0.001, 0, 0, 0.001, 0.1, 0.19, 0.3, 1, 9])
    step["hidden"] = luck.random() < 0.15
    step["stall"] = luck.random() < 0.05
    step["look"] = luck.random() < 0.6
    return step


def a_change(last: int, luck: random.Random) -> dict[str, Any]:
    """As a control makes it: some plan anew, some only set what is asked for later."""
    kind = luck.randrange(8)
    if kind < 3:
        percent = luck.choice([30, 47, 80, 99.5, 100, 101, 130])
        return {"set": {"percent": percent}, "percent": percent, "replan": True}
    if kind == 3:
        return {"set": {"repeat": luck.random() < 0.6}, "replan": True}
    if kind == 4:
        return {"set": {"stretch": a_stretch(last, luck), "repeat": True}, "replan": True}
    if kind == 5:
        return {"set": {"stretch": None, "repeat": False}, "replan": True}
    if kind == 6:
        return {"set": {"transpose": luck.randint(-6, 6)}, "replan": False}
    name, values = luck.choice(
        [("faster", [0, 3, 10]), ("upTo", [60, 100, 130]), ("between", [0, 1, 2]), ("countIn", [0])]
    )
    return {"set": {name: luck.choice(values)}, "replan": False}
