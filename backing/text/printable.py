"""Text from outside, made safe to print: file names, titles, labels of MIDI files, typed options.

What could steer a terminal, turn the writing around, hide, or end a line is replaced: controls,
marks of direction, invisible letters, line ends, and bytes of a file name that are no letters.
"""

from __future__ import annotations

import re

_REPLACED = "\N{REPLACEMENT CHARACTER}"
#: They join or part the letters of Arabic and Indian scripts, and join emoji.
_JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"
_COLOR = re.compile("(\x1b\\[[0-9;]*m)")


def printable(text: str) -> str:
    """A text on one line, in which everything can be seen; the rest is replaced by �."""
    if text.isprintable():
        return text
    return "".join(
        letter if letter.isprintable() or _joins(text, at) else _REPLACED
        for at, letter in enumerate(text)
    )


def printable_in_color(text: str) -> str:
    """A printable text that keeps the sequences that set a terminal's colors and styles.

    They must be ours: what comes from outside is made printable before it is styled.
    """
    pieces = _COLOR.split(text)
    pieces[::2] = map(printable, pieces[::2])
    return "".join(pieces)


def printable_json(text: str) -> str:
    """The same JSON, in which what isn't printable is written by its number."""
    if text.isprintable():
        return text
    return "".join(
        letter if letter.isprintable() or letter == "\n" or _joins(text, at) else _escape(letter)
        for at, letter in enumerate(text)
    )


def _joins(text: str, at: int) -> bool:
    """Whether the letter at a place is a joiner between two letters that it can do something to."""
    around = text[max(0, at - 1) : at + 2]
    return (
        text[at] in _JOINERS
        and len(around) == 3
        and all(letter > "\x7f" and letter.isprintable() for letter in (around[0], around[2]))
    )


def _escape(letter: str) -> str:
    """A letter as JSON writes it by number: two numbers above U+FFFF (RFC 8259, section 7)."""
    if letter <= "\uffff":
        return f"\\u{ord(letter):04x}"
    high, low = divmod(ord(letter) - 0x10000, 0x400)
    return f"\\u{0xD800 + high:04x}\\u{0xDC00 + low:04x}"
