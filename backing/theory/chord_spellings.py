"""The tables of chord symbols: qualities by their tones, every spelling of each, and changes.

Tones are named by degree (`b3`, `#11`); `backing.theory.chords` reads symbols by these tables.
"""

from __future__ import annotations

import re
from itertools import product

# The ways of writing a piece of a quality.
_SPELLINGS = {
    "{m}": ("m", "mi", "min", "Mi", "Min", "MI", "MIN", "-"),
    "{M}": ("maj", "ma", "Maj", "Ma", "MAJ", "MA", "M", "Δ"),
    "{7}": ("7", "dom7", "dom"),
    "{d}": ("", "dom"),
    "{o}": ("dim", "°", "o"),
    "{+}": ("aug", "+"),
}

#: The tones of each quality, then its names: the one table for reading and checking.
QUALITIES = (
    ("1 3 5", "", "maj", "ma", "Maj", "Ma", "MAJ", "MA", "M"),
    ("1 b3 5", "{m}"),
    ("1 b3 b5", "{o}"),
    ("1 3 #5", "{+}"),
    ("1 5", "5"),
    ("1 3 5 6", "6", "{M}6"),
    ("1 b3 5 6", "{m}6"),
    ("1 3 5 6 9", "6/9", "69", "6(9)", "{M}6/9", "{M}69"),
    ("1 b3 5 6 9", "{m}6/9", "{m}69", "{m}6(9)"),
    ("1 3 5 b7", "{7}"),
    ("1 b3 5 b7", "{m}7"),
    ("1 3 5 7", "{M}7", "({M}7)", "7M", "Δ"),
    ("1 b3 5 7", "{m}{M}7", "{m}({M}7)", "{m}Δ"),
    ("1 b3 b5 bb7", "{o}7"),
    ("1 b3 b5 7", "{o}{M}7", "{o}({M}7)"),
    ("1 b3 b5 bb7 9", "{o}9"),
    ("1 b3 b5 bb7 b9", "{o}b9", "{o}(b9)"),  # a ninth stands on a seventh
    ("1 b3 b5 bb7 9 11", "{o}11"),
    ("1 b3 b5 b7", "ø", "ø7"),
    ("1 b3 b5 b7 9", "ø9"),
    ("1 b3 b5 b7 9 11", "ø11"),
    ("1 3 #5 b7", "{+}7"),
    ("1 3 #5 7", "{+}{M}7"),
    ("1 3 5 b7 9", "{d}9"),
    ("1 b3 5 b7 9", "{m}9"),
    ("1 3 5 7 9", "{M}9"),
    ("1 b3 5 7 9", "{m}{M}9", "{m}({M}9)"),
    ("1 3 #5 b7 9", "aug9"),
    ("1 5 b7 9 11", "{d}11"),
    ("1 b3 5 b7 9 11", "{m}11"),
    ("1 b3 5 7 9 11", "{m}{M}11", "{m}({M}11)"),
    ("1 5 7 9 11", "{M}11"),
    ("1 3 5 b7 9 13", "{d}13"),
    ("1 b3 5 b7 9 11 13", "{m}13"),
    ("1 b3 5 7 9 11 13", "{m}{M}13", "{m}({M}13)"),
    ("1 3 5 7 9 13", "{M}13"),
)

#: What may follow a quality, in parentheses or not: the tone it removes and those it adds.
CHANGES = {
    "b5": ("5", "b5"),
    "-5": ("5", "b5"),
    "#5": ("5", "#5"),
    "+5": ("5", "#5"),
    "b9": ("9", "b9"),
    "-9": ("9", "b9"),
    "#9": ("9", "#9"),
    "+9": ("9", "#9"),
    "#11": ("11", "#11"),
    "+11": ("11", "#11"),
    "b6": ("", "b13"),
    "b13": ("13", "b13"),
    "-13": ("13", "b13"),
    "sus2sus4": ("3", "2 4"),
    "sus4sus2": ("3", "2 4"),
    "sus2": ("3", "2"),
    "sus4": ("3", "4"),
    "sus": ("3", "4"),
    "add9": ("", "9"),
    "add2": ("", "9"),
    "add11": ("", "11"),
    "add4": ("", "11"),
    "add13": ("", "13"),
    "add6": ("", "13"),
    "no3": ("3", ""),
    "no5": ("5", ""),
}

#: What may only follow in parentheses, and only a seventh: m7(11) has no ninth, m11 has one.
EXTENSIONS = {"9": ("", "9"), "11": ("", "11"), "13": ("", "13")}

#: What could mean two chords, or is often typed but isn't a symbol: what to write instead.
INSTEAD = {
    "-5": ("(b5)", "m"),
    "+9": ("9#5", "7#9"),
    "+11": ("11#5", "7#11"),
    "2": ("sus2", "add9"),
    "4": ("sus4", "add11"),
    "m2": ("m(add9)",),
    "m4": ("m(add11)",),
    "7+": ("7#5", "maj7"),
    "alt": ("7b5b9", "7#5#9"),
    "7alt": ("7b5b9", "7#5#9"),
    "7(13)": ("13", "7add13"),
    "7b6": ("7b13",),
    "major": ("",),
    "minor": ("m",),
}


def spellings() -> dict[str, frozenset[str]]:
    """Every name in QUALITIES in all its spellings, with its tones."""
    names = {}
    for tones, *patterns in QUALITIES:
        for pattern in patterns:
            pieces = re.findall(r"\{.\}|[^{]+", pattern)
            for spelling in product(*(_SPELLINGS.get(piece, (piece,)) for piece in pieces)):
                names["".join(spelling)] = frozenset(tones.split())
    return names
