"""The exercises under `practice:`, held against the song that they practice.

Sections are found as the practice room finds them: by what a line of the form is called,
one playing of several, or the section's name alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

from backing.form.bars import MAX_BARS
from backing.form.exercises import ALONE, MOST_ROUNDS, NEEDS
from backing.form.kinds import Desk, Record, near, shown
from backing.form.model import USUAL_RUNG, Exercise, Form, Practice
from backing.form.passes import bars_played, labels, pass_bars, pass_label, passes_played
from backing.form.tree import Node

GUITAR = "guitar"

_FIELDS = {"speed": "speeds", "keep-shapes": "keep_shapes"}


def practice_of(desk: Desk, said: Any, node: Node, form: Form) -> Practice:
    """What was written under `practice`, held against the form that it practices."""
    written = said.get("set", ()) if isinstance(said, Record) else said
    formats = said.get("formats", ()) if isinstance(said, Record) else ()
    if isinstance(said, Record) and not said.node.pairs:
        desk.refuse(node, "practice says nothing here.", "Write one exercise a line below it.")
    places = list(_places(form)) if form.entries else []
    check = _Check(desk, places, form.key is not None)
    exercises = []
    for at, exercise in written:
        if not isinstance(exercise, Record):
            exercises.append(Exercise(speeds=exercise))
        elif check.holds(at, exercise):
            exercises.append(_exercise(exercise))
    return Practice(formats, tuple(exercises))


def _exercise(said: Record) -> Exercise:
    found = {_FIELDS.get(key, key): value for key, value in said.items()}
    if "rung" in found:
        found["rung"] /= 100
    return Exercise(**found)


class _Place(NamedTuple):
    """A pass as it may be called, and its bars as the song counts them."""

    names: tuple[str, str, str]
    entry: int
    first: int
    last: int


def _places(form: Form) -> Iterator[_Place]:
    at = 1
    for index, (entry, label) in enumerate(zip(form.entries, labels(form), strict=True)):
        section = form.sections[entry.section]
        of = passes_played(entry, section)
        if of == 1 or bars_played(entry, section) > MAX_BARS:
            bars = bars_played(entry, section)
            yield _Place((label, label, section.name), index, at, at + bars - 1)
            at += bars
            continue
        for number in range(1, of + 1):
            bars = pass_bars(entry, section, number)
            called = (label, pass_label(label, number, of), section.name)
            yield _Place(called, index, at, at + bars - 1)
            at += bars


class _Check:
    """Holds exercises against the song: keys that fit together, sections, bars and rounds."""

    def __init__(self, desk: Desk, places: Sequence[_Place], has_key: bool) -> None:
        self.desk = desk
        self.has_key = has_key
        self.places = places
        self.bars = places[-1].last if places else 0

    def holds(self, node: Node, said: Record) -> bool:
        checks: tuple[Callable[[Record], bool], ...] = (self._keys, self._song, self._rounds)
        if not said.node.pairs:
            mend = "Write what it is, such as: {section: chorus, loop: 8}"
            self.desk.refuse(node, "this exercise says nothing.", mend)
        return (
            bool(said.node.pairs)
            and not set(said.nodes) - set(said)
            and all(check(said) for check in checks)
        )

    def _keys(self, said: Record) -> bool:
        """Whether an exercise's keys fit together."""
        for first, second in ALONE:
            if first in said and second in said:
                what = f"{first} and {second} contradict each other."
                self.desk.refuse(said.keys_at[second], what, f"Keep {first} or {second}.")
                return False
        needs = (
            *((key, needed in said, f"Add  {needed}: 60-100") for key, needed in NEEDS.items()),
            ("between", said.get("loop", 1) > 1 or "ladder" in said, "Add  loop: 8"),
            ("keep-shapes", "key" in said or "transpose" in said, "Add  transpose: -2"),
        )
        for key, there, mend in needs:
            if key in said and not there:
                self.desk.refuse(said.keys_at[key], f"{key} says nothing by itself.", mend)
                return False
        if "key" in said and not self.has_key:
            what = "the song names no key to move it from."
            mend = "Name it further up, or write how far, such as  transpose: -2"
            self.desk.refuse(said.keys_at["key"], what, mend)
            return False
        absent = GUITAR in said.get("without", ()) or GUITAR not in said.get("only", (GUITAR,))
        if "answer" in said and absent:
            what = "the guitar can't be answered where it is left out."
            self.desk.refuse(said.keys_at["answer"], what, "Keep the guitar, or take answer out.")
            return False
        return True

    def _song(self, said: Record) -> bool:
        """Whether the song has the bars or sections; a song with faults of its own is not asked."""
        if not self.places:
            return True
        if "bars" in said:
            first, last = said["bars"]
            if not 1 <= first <= last <= self.bars:
                what = f"the song has the bars 1-{self.bars}, not {first}-{last}."
                mend = f"Write the first bar, then the last, such as: 1-{self.bars}"
                self.desk.refuse(said.nodes["bars"], what, mend)
                return False
        return "section" not in said or self._stretch(said) is not None

    def _stretch(self, said: Record) -> tuple[int, int] | None:
        """The bars of a stretch, found as the practice room finds them."""
        first, last = said["section"]
        start = self._named(said.nodes["section"], first, 1)
        end = (
            start
            if last == first or start is None
            else self._named(said.nodes["section"], last, start[0])
        )
        return (start[0], end[1]) if start and end else None

    def _named(self, node: Node, asked: str, since: int) -> tuple[int, int] | None:
        for way in range(3):
            meant = [one for one in self.places if one.names[way].casefold() == asked.casefold()]
            for entry in dict.fromkeys(one.entry for one in meant):
                bars = [one for one in meant if one.entry == entry]
                if bars[0].first >= since:
                    return bars[0].first, bars[-1].last
            if meant:
                what = f"{shown(asked)} is played only before the stretch begins."
                mend = "Write the earlier section first, such as: verse..chorus"
                self.desk.refuse(node, what, mend, node.text.rfind(asked))
                return None
        known = {name.casefold(): name for at in (0, 2) for name in self._names(at)}
        offset = max(0, node.text.find(asked))
        what = f"the form plays no section {shown(asked)}."
        self.desk.refuse(node, what, near(asked, known.values()), offset)
        return None

    def _names(self, way: int) -> Iterator[str]:
        return (one.names[way] for one in self.places)

    def _rounds(self, said: Record) -> bool:
        rounds = said.get("loop", 1)
        if "ladder" in said:
            first, last = said["ladder"]
            rung = said["rung"] / 100 if "rung" in said else USUAL_RUNG
            rounds *= -(-abs(last - first) // rung) + 1
        at = next((key for key in ("loop", "rung", "ladder") if key in said), "")
        if rounds > MOST_ROUNDS:
            what = f"this comes to {rounds} rounds; an exercise has at most {MOST_ROUNDS}."
            self.desk.refuse(said.nodes[at], what, "Write fewer, or wider rungs.")
            return False
        bars = self.bars
        if "bars" in said and self.places:
            bars = said["bars"][1] - said["bars"][0] + 1
        elif "section" in said and self.places and (found := self._stretch(said)):
            bars = found[1] - found[0] + 1
        if rounds * bars > MAX_BARS:
            what = f"this comes to {rounds * bars:,} bars; an exercise has at most {MAX_BARS:,}."
            self.desk.refuse(said.nodes[at], what, "Loop less of the song, or less often.")
            return False
        return True
