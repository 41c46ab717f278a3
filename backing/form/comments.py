"""Comments inside a block of text, where YAML itself sees none."""

from __future__ import annotations

import re


def without_comment(line: str) -> str:
    """A line up to a `#` that starts it or follows a blank, outside brackets, as YAML has it."""
    at = open_ = 0
    for found in re.finditer(r"(?:^|(?<=\s))#", line):
        open_ += line.count("(", at, found.start()) - line.count(")", at, found.start())
        at = found.start()
        if not open_:
            return line[:at]
    return line
