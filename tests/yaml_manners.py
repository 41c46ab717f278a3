"""Text, lists and mappings typed as YAML in a mixture of its manners, as writers do."""

from __future__ import annotations

import json
import re
from random import Random
from typing import Any

_PLAIN = re.compile(r"[A-Za-z0-9][A-Za-z0-9+./_ -]*(?<! )")


def typed(value: dict[str, Any], manner: Random, indent: int = 0) -> str:
    """A mapping as block YAML, its values in this manner or that."""
    lines, pad = [], " " * indent
    for key, said in value.items():
        if manner.random() < 0.05:
            lines.append(f"{pad}# {key}: a remark | with signs")
        remark = "  # so" if manner.random() < 0.05 else ""
        head = f"{pad}{_scalar(key, manner)}:"
        if isinstance(said, str) and "\n" in said and manner.random() < 0.8:
            rows = "".join(
                f"\n{pad}    {_row(row, manner)}" for row in said.rstrip("\n").split("\n")
            )
            lines.append(f"{head} {'|' if said.endswith(chr(10)) else '|-'}{rows}")
        elif isinstance(said, str) or not said or (indent and manner.random() < 0.4):
            lines.append(f"{head} {_flow(said, manner)}{remark}")
        elif isinstance(said, list):
            items = "".join(f"\n{pad}  - {_flow(item, manner)}" for item in said)
            lines.append(f"{head}{items}{remark}")
        else:
            lines.append(
                f"{head}{remark}\n{typed(said, manner, indent + manner.choice((1, 2, 4)))}"
            )
    return "\n".join(lines)


def _row(row: str, manner: Random) -> str:
    """A row of a block, perhaps with a remark; the language takes it away, YAML does not."""
    return f"{row}   # so | far" if manner.random() < 0.1 else row


def _flow(value: Any, manner: Random) -> str:
    if isinstance(value, dict):
        pairs = (f"{_scalar(key, manner)}: {_flow(said, manner)}" for key, said in value.items())
        return "{" + ", ".join(pairs) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_flow(item, manner) for item in value) + "]"
    return _scalar(value, manner)


def _scalar(text: str, manner: Random) -> str:
    if _PLAIN.fullmatch(text) and manner.random() < 0.8:
        return text
    if "\n" not in text and manner.random() < 0.5:
        return "'" + text.replace("'", "''") + "'"
    return json.dumps(text, ensure_ascii=False)
