"""The names of tab's rows against the tuning: they are those of the open strings, highest first.

A name that isn't a note's, or none at all, says nothing. Capital letters, small ones and
octaves don't matter; an H is a B, as it is named in Germany and eastern Europe. A capo changes
nothing: rows are named after the strings without it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from backing.form.tab_rows import RowName, TabProblem
from backing.text.counts import ordinal
from backing.theory.pitch import note_name

_NOTE = re.compile(r"([A-Ha-h])([#♯b♭]?)")
_CLASSES = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11, "h": 11}
_RAISES = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}


def name_problem(names: Sequence[RowName], tuning: Sequence[int]) -> TabProblem | None:
    """The first row whose name is another string's.

    Args:
        names: of the rows, from the top one.
        tuning: note numbers of the open strings, lowest row first.
    """
    if len(names) != len(tuning):
        return None  # the wrong number of rows is a problem of its own
    strings = [pitch % 12 for pitch in reversed(tuning)]
    named = [_pitch_class(name.text) for name in names]
    wrong = [at for at, found in enumerate(named) if found not in (None, strings[at])]
    if not wrong:
        return None
    in_order = " ".join(note_name(pitch).rstrip("0123456789-") for pitch in reversed(tuning))
    turned = zip(named, reversed(strings), strict=True)
    if sum(found is not None for found in named) > 1 and all(
        found in (None, string) for found, string in turned
    ):
        fix = f"Write the highest string on top: {in_order}."
        return TabProblem(names[0].offset, "the rows of this tab are upside down.", fix)
    at = wrong[0]
    string = note_name(tuning[-1 - at]).rstrip("0123456789-")
    what = f"this row is named {names[at].text}, but the {ordinal(at + 1)} string is {string}."
    fix = f"Name the rows after the open strings, the highest first: {in_order}."
    return TabProblem(names[at].offset, what, fix)


def _pitch_class(name: str) -> int | None:
    """The pitch class, 0 to 11, that a row's name has; None if it isn't a note's name."""
    found = _NOTE.fullmatch(name)
    if not found:
        return None
    return (_CLASSES[found[1].lower()] + _RAISES[found[2]]) % 12
