"""The table of parts as the tests need it: what each key takes, and what it refuses."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML

from backing.form.parts import PARTS, Part, PartKey

EVERY_KEY = Path(__file__).parent / "data" / "every_key.yaml"
TAB = "".join(rf"{name}|--------|\n" for name in "eBGD") + r"A|0---2-3-|\nE|--------|"

#: The same on a bass.
BASS_TAB = r"G|--------|\nD|--------|\nA|0---2-3-|\nE|--------|"

#: What may be written out where words aren't all that a key takes.
WRITTEN = {
    "strum": ['{step: 1/8, play: "D> - x U"}', '{step: 1/16t, play: "D | U"}'],
    "pick": ['{step: 1/8, play: "p i m a m i p2 i"}'],
    "riff": [f'{{step: 1/8, tab: "{TAB}"}}'],
    "line": ['{step: 1/8, play: "1 - - 5 - - 8 5"}'],
    "beat": ['{step: 1/8, play: {bass drum 1: "x> - x -"}}'],
    "plays": ["2 of 4", "1 of 1", "4  of 4"],
}
#: Values that come near to being right.
WRONG = {"subdivide": "1/4", "plays": "4 of 2", "strum": "lost", "pick": "lost", "riff": "lost"}


def words_of(key: PartKey[Any]) -> list[str]:
    """The words that a key takes, none where it takes free text or patterns alone."""
    return list(_enums(key.kind.schema))


def _enums(schema: Any) -> Iterator[str]:
    if "enum" in schema:
        yield from (word for word in schema["enum"] if isinstance(word, str))
    for option in schema.get("anyOf", ()):
        yield from _enums(option)


def values_of(key: PartKey[Any]) -> list[str]:
    """Values that a key takes; a new key that takes no words needs its own in `WRITTEN`."""
    return words_of(key) + WRITTEN.get(key.name, [])


def rows_of(part: Part) -> dict[str, tuple[list[str], str]]:
    """For each key of a part the values that it takes, and one that it refuses."""
    tab = BASS_TAB if part.name == "bass" else TAB
    return {
        key.name: (
            [value.replace(TAB, tab) for value in values_of(key)],
            WRONG.get(key.name, "zither"),
        )
        for key in part.keys
    }


def with_every_key() -> str:
    """The song with every key; a part that the file doesn't have yet is added to it."""
    text = EVERY_KEY.read_text(encoding="utf-8")
    missing = "".join(
        f"  {part.name}: {_mapping({key.name: values_of(key)[0] for key in part.keys})}\n"
        for part in PARTS.values()
        if part.name not in _parts_in(YAML(typ="base", pure=True).load(text))
    )
    assert text.count("\nparts:\n") == 1
    return text.replace("\nparts:\n", f"\nparts:\n{missing}")


def _mapping(values: Mapping[str, str]) -> str:
    return "{" + ", ".join(f"{key}: {value}" for key, value in values.items()) + "}"


def _parts_in(node: Any) -> set[str]:
    """The names of the parts that are set anywhere in a song."""
    if isinstance(node, list):
        return set().union(*map(_parts_in, node))
    if not isinstance(node, dict):
        return set()
    return set(node.get("parts", ())).union(*map(_parts_in, node.values()))
