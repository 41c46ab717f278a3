"""Pairs between braces that a comma cut in two: YAML ends a bare text at every comma there.

`{label: From the sign, to the coda}` is a label and a key without a value.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import NamedTuple

from backing.form.tree import Node

Pair = tuple[Node, Node]
_COLON = re.compile(r"\s*:")


class Cut(NamedTuple):
    """Where a text or a key was cut, what the comma ended, and what to write instead."""

    at: Node
    ended: str
    fix: str


def without_cuts(node: Node, source: str, texts: Collection[str]) -> tuple[list[Pair], list[Cut]]:
    """A mapping's pairs without those that commas made, and the cuts.

    Args:
        node: the mapping.
        source: the whole form's text.
        texts: the keys of free text; only those can have been cut in their value.
    """
    pieces = [_is_piece(key, value, source) for key, value in node.pairs]
    if source[node.start : node.start + 1] != "{" or not any(pieces):
        return list(node.pairs), []
    kept: list[Pair] = []
    cuts: list[Cut] = []
    at, pairs = 0, node.pairs
    while at < len(pairs):
        start = at if pieces[at] else at + 1
        after = next((i for i in range(start, len(pairs)) if not pieces[i]), len(pairs))
        rest = [piece.text for piece, _ in pairs[start:after]]
        key, value = pairs[at]
        if rest and at < start and key.text in texts and _written(value):
            cuts.append(_cut_text(key, value, rest))
        elif _is_number(rest) and after < len(pairs) and _written(pairs[after][0]):
            kept += pairs[at:start]
            cuts.append(_cut_key(pairs[start][0], [*rest, pairs[after][0].text]))
            after += 1
        else:
            kept += pairs[at:after]
        at = after
    return kept, cuts


def _is_number(rest: list[str]) -> bool:
    """Whether pieces begin a key of pass numbers, such as 2,4."""
    return bool(rest) and rest[0][:1].isdigit()


def _cut_text(key: Node, value: Node, rest: list[str]) -> Cut:
    whole = ", ".join([value.text, *rest]).replace('"', "'")
    return Cut(value, key.text, f'Put the text in quotes:  {key.text}: "{whole[:80]}"')


def _cut_key(first: Node, pieces: list[str]) -> Cut:
    return Cut(first, first.text, f'Put the key in quotes:  "{",".join(pieces)[:80]}": ...')


def _written(node: Node) -> bool:
    return node.kind == "text" and bool(node.text.strip())


def _is_piece(key: Node, value: Node, source: str) -> bool:
    """Whether a pair is a key alone, without even a colon."""
    empty = value.kind == "text" and not value.text and value.start == key.start
    return key.kind == "text" and empty and not _COLON.match(source, key.end)
