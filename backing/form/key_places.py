"""Where each key of the language may stand, from the language's own tables."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any

from backing.form.advice import SONG_TITLE
from backing.form.kinds import record
from backing.form.language import SONG


@cache
def key_places() -> Mapping[str, tuple[str, ...]]:
    """The titles of all mappings that have a key, by the key, in the order of the tables."""
    found: dict[str, dict[str, None]] = {}
    for title, key in _keys(record(SONG_TITLE, SONG).schema):
        found.setdefault(key, {})[title] = None
    return {key: tuple(titles) for key, titles in found.items()}


def _keys(schema: Any) -> Iterator[tuple[str, str]]:
    """Every mapping's title with each of its keys."""
    if isinstance(schema, Mapping):
        if "title" in schema and isinstance(schema.get("properties"), Mapping):
            for key in schema["properties"]:
                yield str(schema["title"]), str(key)
        for inner in schema.values():
            yield from _keys(inner)
    elif isinstance(schema, Sequence) and not isinstance(schema, str):
        for inner in schema:
            yield from _keys(inner)
