"""`practice:` in a form: the week's set of exercises, and the formats of their files.

    practice:
      formats: [mp3, midi]
      set:
        - 60, 75, 90                                  # the whole song, one file for each speed
        - {section: chorus, ladder: 60-100 by 10}     # one file, faster round by round
        - {speed: [75, 100], without: guitar}

A list alone is the set. The keys of an exercise are the options of `practice_options`.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Any

from backing.form.kinds import BadValue, Kind, Reading, either, list_of, record, text_of
from backing.form.option_values import Value, each_once, words_of
from backing.form.practice_options import BY_KEY, NOTE, OPTIONS
from backing.form.scalars import words
from backing.form.tree import Node

#: Formats of a set's files: one for each exercise, or one for the song (`chart`, `page`).
FORMATS = ("midi", "mp3", "wav", "flac", "ogg", "chart", "page")


def exercise_table(key: Kind) -> dict[str, Kind]:
    """The keys of an exercise; `key` reads a musical key."""
    options = {
        option.key: key if option.key == "key" else _kind(option.key, option.value)
        for option in OPTIONS
    }
    return options | {NOTE: words(NOTE, 300)}


def practice_kind(exercise: dict[str, Kind]) -> Kind:
    """`practice:` itself: a list of exercises, or a mapping with formats too."""
    pairs = [(other, option.key) for option in OPTIONS for other in option.excludes]
    rules = {"minProperties": 1, "not": {"anyOf": [{"required": list(pair)} for pair in pairs]}}
    raw = record("an exercise", exercise, rules=rules)

    def read(node: Node, reading: Reading) -> Any:
        _refuse_split(node)
        return raw.read(node, reading)

    one = either(exercise["speed"], Kind(read, raw.schema))
    exercises = list_of("practice", one)
    formats = _kind("formats", words_of(FORMATS, "a format"))
    table = {"formats": formats, "set": list_of("set", one)}
    return _list_or_mapping(exercises, record("practice", table, rules={"minProperties": 1}))


def _kind(key: str, value: Value) -> Kind:
    """How a form reads a value: from text or, where it may be several, from a list too."""
    one = Kind(_reader(key, value), value.schema, free=key == "section")
    if value.item is None:
        return one
    items = list_of(key, Kind(_reader(key, value.item), value.item.schema))

    def listed(node: Node, reading: Reading) -> tuple[Any, ...] | None:
        taken = items.read(node, reading)
        if len(taken) < len(node.items):
            return None
        return each_once(one for _, several in taken for one in several)

    return either(one, Kind(listed, items.schema))


def _reader(key: str, value: Value) -> Callable[[Node, Reading], Any]:
    def read(node: Node, reading: Reading) -> Any:
        text_of(node, key)
        return value.read(node.text)

    return read


def _refuse_split(node: Node) -> None:
    """Refuse `{speed: 60, 75}`, where YAML ends the value at the comma."""
    for (key, value), (rest, nothing) in pairwise(node.pairs):
        takes_several = key.text in BY_KEY and BY_KEY[key.text].value.item is not None
        if takes_several and nothing.kind == "text" and not nothing.text.strip():
            raise BadValue(
                f"between braces the comma ends {key.text}.",
                f"Put several values in brackets:  {key.text}: [{value.text.strip()}, {rest.text}]",
            )


def _list_or_mapping(listed: Kind, mapping: Kind) -> Kind:
    """A list or a mapping, whichever was written."""

    def read(node: Node, reading: Reading) -> Any:
        if node.kind == "text":
            advice = "Write one exercise a line:  - {section: chorus, ladder: 60-100}"
            raise BadValue("practice is a list of exercises.", advice)
        return (listed if node.kind == "list" else mapping).read(node, reading)

    return Kind(read, {"anyOf": [dict(listed.schema), dict(mapping.schema)]})
