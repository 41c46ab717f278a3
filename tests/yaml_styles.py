"""Text, lists and mappings typed as YAML in a mix of styles, as people do."""

from __future__ import annotations

import json
import re
from random import Random
from typing import Any

_PLAIN = re.compile(r"[A-Za-z0-9][A-Za-z0-9+./_ -]*(?<! )")


def typed(mapping: dict[str, Any], style: Random, indent: int = 0) -> str:
    """A mapping as block YAML, its values in random styles."""
    lines, pad = [], " " * indent
    for key, value in mapping.items():
        if style.random() < 0.05:
            lines.append(f"{pad}# {key}: a comment | with signs")
        comment = "  # comment" if style.random() < 0.05 else ""
        head = f"{pad}{_scalar(key, style)}:"
        if isinstance(value, str) and "\n" in value and style.random() < 0.8:
            rows = "".join(
                f"\n{pad}    {_row(row, style)}" for row in value.rstrip("\n").split("\n")
            )
            lines.append(f"{head} {'|' if value.endswith(chr(10)) else '|-'}{rows}")
        elif isinstance(value, str) or not value or (indent and style.random() < 0.4):
            lines.append(f"{head} {_flow(value, style)}{comment}")
        elif isinstance(value, list):
            items = "".join(f"\n{pad}  - {_flow(item, style)}" for item in value)
            lines.append(f"{head}{items}{comment}")
        else:
            lines.append(
                f"{head}{comment}\n{typed(value, style, indent + style.choice((1, 2, 4)))}"
            )
    return "\n".join(lines)


def _row(row: str, style: Random) -> str:
    """A row of a block, sometimes with a comment, which the language removes and YAML does not."""
    return f"{row}   # so | far" if style.random() < 0.1 else row


def _flow(value: Any, style: Random) -> str:
    if isinstance(value, dict):
        pairs = (f"{_scalar(key, style)}: {_flow(item, style)}" for key, item in value.items())
        return "{" + ", ".join(pairs) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_flow(item, style) for item in value) + "]"
    return _scalar(value, style)


def _scalar(text: str, style: Random) -> str:
    if _PLAIN.fullmatch(text) and style.random() < 0.8:
        return text
    if "\n" not in text and style.random() < 0.5:
        return "'" + text.replace("'", "''") + "'"
    return json.dumps(text, ensure_ascii=False)
