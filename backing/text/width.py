"""How wide a text is on a terminal."""

from __future__ import annotations


def width(text: str) -> int:
    """Columns that a terminal gives a text.

    A wide letter or an emoji takes two; a mark that is written over or under a letter takes none.
    """
    if text.isascii():
        return len(text)
    from wcwidth import wcswidth, wcwidth

    columns = wcswidth(text)
    if columns >= 0:
        return columns
    # A control character has no width; it is counted as one column, as its escape is at least that.
    return sum(abs(wcwidth(letter)) for letter in text)
