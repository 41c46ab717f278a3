"""Kinds of value that name passes of a section: endings, and what a pass changes."""

from __future__ import annotations

import re
from typing import Any

from backing.form.kinds import BadValue, Kind, Reading, quoted, read_pairs
from backing.form.tree import Node


def endings_kind(bars: Kind) -> Kind:
    """Endings by pass: `1`, `1-3` or `1,3`; each pass once, from 1 up without gaps."""

    def read(node: Node, reading: Reading) -> list[tuple[tuple[int, ...], Node]] | None:
        if node.kind != "mapping" or not node.pairs:
            what = "endings needs bars for each pass."
            raise BadValue(what, 'Write one per line:  1: "| D | E7 |"')
        endings: list[tuple[tuple[int, ...], Node]] = []
        taken: set[int] = set()
        for key, value in read_pairs(node, reading, "endings"):
            passes = _passes(key.text)
            if not passes:
                reading.report(
                    key,
                    f"can't read {quoted(key.text)} as the passes of an ending.",
                    "Name its passes: 1, 2 or 1-3.",
                )
            elif taken & set(passes):
                reading.report(
                    key,
                    f"pass {min(taken & set(passes))} already has an ending.",
                    "Name each pass once.",
                )
            else:
                taken |= set(passes)
                endings.append((passes, value))
        if len(endings) < len(node.pairs):
            return None
        if missing := set(range(1, max(taken) + 1)) - taken:
            what = f"pass {min(missing)} has no ending."
            raise BadValue(what, "Number the endings from 1 without gaps.")
        return endings

    return Kind(read, _for_passes(bars))


def _passes(text: str) -> tuple[int, ...]:
    passes: list[int] = []
    if len(text) > 80:
        return ()
    for piece in text.split(","):
        match = re.fullmatch(r"\s*([0-9]{1,3})(?:\s*-\s*([0-9]{1,3}))?\s*", piece)
        if not match:
            return ()
        passes += range(int(match[1]), int(match[2] or match[1]) + 1)
    return tuple(passes) if passes and min(passes) > 0 and len(set(passes)) == len(passes) else ()


def by_pass(what: str, kind: Kind) -> Kind:
    """Something for passes by number: `3`, `1-3` or `2,4`, each pass once."""

    def read(node: Node, reading: Reading) -> dict[int, Any] | None:
        if node.kind != "mapping" or not node.pairs:
            raise BadValue(
                f"{what} needs pass numbers.", "Write one per line, such as:  3: {dynamic: loud}"
            )
        found: dict[int, Any] = {}
        whole_ = True
        for key, value in read_pairs(node, reading, what):
            passes = _passes(key.text)
            taken = reading.value(kind, value)
            if not passes or set(passes) & set(found):
                fix = "Name passes by number, each once: 3, 1-3 or 2,4."
                reading.report(key, f"can't read {quoted(key.text)} as a pass for {what}.", fix)
            whole_ = whole_ and bool(passes) and taken is not None
            found |= dict.fromkeys(passes, (key, taken))
        return found if whole_ else None

    return Kind(read, _for_passes(kind))


def _for_passes(kind: Kind) -> dict[str, object]:
    """The schema of a mapping whose keys number passes: `1`, `1-3` or `2,4`."""
    few = r"\s*0*[1-9][0-9]{0,2}\s*(-\s*0*[1-9][0-9]{0,2}\s*)?"
    return {
        "type": "object",
        "minProperties": 1,
        "additionalProperties": False,
        "patternProperties": {rf"^{few}(,{few})*$": dict(kind.schema)},
    }
