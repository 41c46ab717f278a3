"""How wide a text is on a terminal."""

from __future__ import annotations


def width(text: str) -> int:
    """Columns a terminal gives a text: two for wide letters, none for combining ones."""
    if text.isascii():
        return len(text)
    from unicodedata import combining, east_asian_width

    return sum(0 if combining(c) else 2 if east_asian_width(c) in "WF" else 1 for c in text)
