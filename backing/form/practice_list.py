"""The exercises under `practice:`, checked against the song that they practice.

Sections are found as the practice room finds them: by what a line of the form is called,
by one of its passes, or by the section's name alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

from backing.form.advice import suggestion
from backing.form.arrangements import riff_problems
from backing.form.kinds import BadValue, Reading, Record, quoted
from backing.form.model import Form
from backing.form.passes import begins, labels, pass_bars, pass_label, passes_at_once, passes_played
from backing.form.playing_order import turns
from backing.form.practice_options import (
    check_length,
    conflict,
    exercise_of,
    usual_between,
)
from backing.form.practice_records import Exercise, Practice
from backing.form.tree import Node
from backing.text.lists import after_colon


def practice_of(reading: Reading, written: Any, node: Node, form: Form) -> Practice:
    """What was written under `practice`, checked against its form."""
    exercises, formats = written, ()
    if isinstance(written, Record):
        exercises, formats = written.get("set", ()), written.get("formats", ())
        if not written.node.pairs:
            reading.report(node, "practice is empty here.", "Write one exercise a line below it.")
    places = [] if reading.hides else list(_places(form))
    check = _Check(reading, places, form)
    found = []
    for at, exercise in exercises:
        if not isinstance(exercise, Record):
            found.append(Exercise(speeds=exercise))
        elif check.passes(at, exercise):
            found.append(exercise_of(exercise))
    return Practice(formats, tuple(found))


class _Place(NamedTuple):
    """A pass, the names it may be found by, and its bars as the song counts them."""

    names: tuple[str, str, str]
    entry: int
    first: int
    last: int


def _places(form: Form) -> Iterator[_Place]:
    at, names = 1, list(labels(form))
    for index, round_ in turns(form.entries):
        entry, label = form.entries[index], names[index]
        section = form.sections[entry.section]
        of, at_once = passes_played(entry, section), passes_at_once(entry, section)
        for number in range(round_ * at_once + 1, (round_ + 1) * at_once + 1):
            bars = pass_bars(entry, section, number)
            found_by = (label, pass_label(label, number, of), section.name)
            yield _Place(found_by, index, at, at + bars - 1)
            at += bars


def _runs(places: Sequence[_Place]) -> Iterator[tuple[int, int]]:
    """The first and last bar of places that follow one another in one line of the form."""
    first = None
    for place, after in zip(places, [*places[1:], None], strict=False):
        first = first or place.first
        if after is not None and (after.entry, after.first) == (place.entry, place.last + 1):
            continue
        yield first, place.last
        first = None


class _Check:
    """Checks exercises against the song: options that go together, sections, bars and rounds."""

    def __init__(self, reading: Reading, places: Sequence[_Place], form: Form) -> None:
        self.reading = reading
        self.form = form
        self.students = form.instrument.part
        self.places = places
        self.bars = places[-1].last if places else 0

    def passes(self, node: Node, exercise: Record) -> bool:
        """Whether an exercise is right; each problem is noted at its place."""
        if not exercise.node.pairs:
            advice = "Write what it is, such as: {section: chorus, loop: 8}"
            self.reading.report(node, "this exercise is empty.", advice)
        checks: tuple[Callable[[Record], bool], ...] = (
            self._options,
            self._song,
            self._arrangement,
            self._length,
        )
        bad = set(exercise.nodes) - set(exercise)
        if bad:
            self.reading.hides |= len(exercise.nodes) > len(bad)
            return False
        passed = [check(exercise) for check in checks]  # a list, so that every problem is found
        return bool(exercise.node.pairs) and all(passed)

    def _options(self, exercise: Record) -> bool:
        """Whether the options go together, and with the song's key."""
        found = conflict(exercise, students=self.students)
        if found is not None:
            self.reading.report(exercise.keys_at[found.key], found.message, found.advice)
            return False
        if "key" in exercise and self.form.key is None:
            message = "the song has no key to move it from."
            advice = (
                "Add the song's key further up, or write how far to move, such as: transpose: -2"
            )
            self.reading.report(exercise.keys_at["key"], message, advice)
            return False
        return True

    def _song(self, exercise: Record) -> bool:
        """Whether the song has these bars or sections; True if its own mistakes hide that."""
        if not self.places:
            return True
        if "bars" in exercise:
            _, last = exercise["bars"]
            if last > self.bars:
                has = f"bars 1-{self.bars}" if self.bars > 1 else "one bar"
                message = f"there is no bar {last}."
                self.reading.report(exercise.nodes["bars"], message, f"The song has {has}.")
                return False
        return "section" not in exercise or self._stretch(exercise) is not None

    def _stretch(self, exercise: Record) -> tuple[int, int] | None:
        """The bars of a stretch, found as the practice room finds them."""
        node, (first, last) = exercise.nodes["section"], exercise["section"]
        start = self._section(node, first, 1)
        if start is None or last == first:
            return start
        end = self._section(node, last, start[0])
        return (start[0], end[1]) if end else None

    def _section(self, node: Node, name: str, since: int) -> tuple[int, int] | None:
        """The bars of a section by its name, from bar `since` on."""
        for way in range(3):
            meant = [one for one in self.places if one.names[way].casefold() == name.casefold()]
            for first, last in _runs(meant):
                if last >= since:
                    return first, last
            if meant:
                self._too_early(node, name)
                return None
        return self._beginning(node, name, since)

    def _beginning(self, node: Node, name: str, since: int) -> tuple[int, int] | None:
        """The bars of the one line whose label begins with a name."""
        lines = {one.entry: one.names[0] for one in self.places}
        meant = [entry for entry, label in lines.items() if begins(label, name)]
        at = max(0, node.text.find(name))
        if len(meant) > 1:
            message = f"{quoted(name)} could be several lines of the form."
            labels = dict.fromkeys(lines[entry] for entry in meant)
            self.reading.report(node, message, after_colon("Choose from:", labels), at)
            return None
        for first, last in _runs([one for one in self.places if one.entry in meant]):
            if last >= since:
                return first, last
        if meant:
            self._too_early(node, name)
            return None
        known = {name.casefold(): name for at in (0, 2) for name in self._names(at)}
        message = f"the form plays no section {quoted(name)}."
        self.reading.report(node, message, suggestion(name, known.values()), at)
        return None

    def _too_early(self, node: Node, name: str) -> None:
        message = f"{quoted(name)} is played only before the stretch begins."
        advice = "Write the earlier section first, such as: verse..chorus"
        self.reading.report(node, message, advice, node.text.rfind(name))

    def _names(self, way: int) -> Iterator[str]:
        return (one.names[way] for one in self.places)

    def _arrangement(self, exercise: Record) -> bool:
        """Whether the song has the arrangement, and its riffs fit the bars that are played."""
        name = exercise.get("arrangement")
        if name is None:
            return True
        node, known = exercise.nodes["arrangement"], self.form.arrangements
        if name not in known:
            fix = suggestion(name, known) or "Write it under arrangements first."
            self.reading.report(node, f"there is no arrangement {quoted(name)}.", fix)
            return False
        first, last = self._bars_played(exercise)
        played = {one.entry for one in self.places if one.first <= last and one.last >= first}
        for entry, problem in riff_problems(self.form, name):
            if entry in played:
                self.reading.report(node, problem.message, problem.fix)
                return False
        return True

    def _bars_played(self, exercise: Record) -> tuple[int, int]:
        """The song's bars that an exercise plays."""
        if "bars" in exercise:
            first, last = exercise["bars"]
            return first, last
        found = self._stretch(exercise) if "section" in exercise and self.places else None
        return found or (1, self.bars)

    def _length(self, exercise: Record) -> bool:
        """Whether there are not too many rounds and bars."""
        speeds = exercise["ladder"].speeds if "ladder" in exercise else ()
        times = exercise.get("loop", 1) * max(1, len(speeds))
        first, last = self._bars_played(exercise) if self.places else (1, self.bars)
        bars = last - first + 1
        try:
            between = exercise.get("between", usual_between(speeds))
            check_length(times, bars, between, exercise.get("build-up", ""))
        except BadValue as bad:
            at = next((key for key in ("loop", "ladder", "build-up") if key in exercise), None)
            if at is None:  # the song alone is too long, which is reported elsewhere
                return True
            self.reading.report(exercise.nodes[at], bad.message, bad.fix)
            return False
        return True
