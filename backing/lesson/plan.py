"""What a song's folder contains: the exercises that its form lists, or the usual ones.

The usual set is the whole song at 60, 75, 90 and 100 percent of its tempo, with a ladder from
60 to 100 of the section with the most to learn after the first of these, and at the end the song
without the student's part at 75 and 100. The section with the most to learn is the one with the
most different changes from one chord to another; of several, the one that is played first.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from backing.form.model import Form, Rows, Section
from backing.form.passes import pass_settings
from backing.form.practice_records import Exercise, Ladder
from backing.practice.versions import Version, versions_of, words_of
from backing.system.files import file_name
from backing.text.percent import decimal, percent
from backing.theory.instruments import GUITAR, Instrument

USUAL_SPEEDS = tuple(Fraction(percents, 100) for percents in (60, 75, 90, 100))
ALONE_SPEEDS = (Fraction(75, 100), Fraction(1))
USUAL_LADDER = Ladder(Fraction(60, 100), Fraction(1))


class Item(NamedTuple):
    """A numbered exercise: its files are named `name`, with the endings of their formats.

    `note` is the teacher's sentence. Exercises that differ in nothing else have files of their own
    all the same: a student finds each sentence beside its file, in the order of practice.
    """

    name: str
    version: Version
    note: str = ""


def items(form: Form) -> tuple[Item, ...]:
    """A song's exercises in practice order."""
    exercises = form.practice.exercises or tuple(usual(form))
    versions = [(version, one.note) for one in exercises for version in versions_of(one)]
    digits = max(2, len(str(len(versions))))
    return tuple(
        Item(file_name(f"{number:0{digits}d} {called(version, form.instrument)}"), version, note)
        for number, (version, note) in enumerate(versions, 1)
    )


def usual(form: Form) -> Iterator[Exercise]:
    """The set of a form that lists none."""
    first, *later = USUAL_SPEEDS
    yield Exercise(speeds=(first,))
    section = most_to_learn(form)
    yield Exercise(ladder=USUAL_LADDER, section=(section, section) if section else None)
    yield Exercise(speeds=tuple(later))
    if any(_has_students_part(form, index) for index in range(len(form.entries))):
        yield Exercise(speeds=ALONE_SPEEDS, without=(form.instrument.part,))


def most_to_learn(form: Form) -> str | None:
    """The section with the most different chord changes; None where there is only one section."""
    played = list(dict.fromkeys(entry.section for entry in form.entries))
    if len(played) < 2:
        return None
    return max(played, key=lambda name: len(_changes(form.sections[name])))


#: Options that a file's name in the folder spells in its own way, or leaves to the contents page.
_NAMED_OTHERWISE = {"section", "bars", "loop", "speed", "ladder", "between", "keep-shapes"}


def called(version: Version, instrument: Instrument = GUITAR) -> str:
    """A version's name in the folder: `chorus loop 75%`, `whole song 60%`.

    Two of a set may have the same name; their numbers tell them apart.
    """
    words = [str(version.stretch) if version.stretch else "whole song"]
    if len(version.speeds) > 1:
        first, last = decimal(version.speeds[0] * 100), percent(version.speeds[-1])
        words.append(f"ladder {first}-{last}")
    else:
        words += ["loop"] * (version.loop > 1) + [percent(version.speeds[0])]
    others = words_of(version, instrument).items()
    return " ".join([*words, *(word for key, word in others if key not in _NAMED_OTHERWISE)])


def _has_students_part(form: Form, entry: int) -> bool:
    of = form.entries[entry]
    parts = pass_settings(form.settings, of, form.sections[of.section], 1).parts
    written = parts.get(form.instrument.part)
    return written is None or written.on is not False


def _changes(section: Section) -> set[tuple[str, str]]:
    found: set[tuple[str, str]] = set()
    for rows in [section.rows, *(section.rows + rows for rows in section.endings.values())]:
        found |= {(one, next_) for one, next_ in pairwise(_chords(rows)) if one != next_}
    return found


def _chords(rows: Rows) -> Iterator[str]:
    for row in rows:
        for bar in row:
            yield from (str(cell.chord) for cell in bar.cells if cell.chord is not None)
