"""Kinds of value: how each is read from its text, and its JSON Schema for editors.

A table in `backing.form.language` names the kinds; the reader and the schema both walk it,
so that neither can know a key that the other doesn't.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, NamedTuple, TypeVar

from backing.errors import Problem
from backing.form.advice import in_places, suggestion
from backing.form.cut_pairs import without_cuts
from backing.form.source import Source
from backing.form.tree import Node
from backing.text.lists import ITEM
from backing.text.printable import printable

MAX_PROBLEMS = 50
NEVER: Mapping[str, object] = MappingProxyType({"not": MappingProxyType({})})
#: What a schema says of a mapping's keys together.
Rules = Mapping[str, object]
NO_RULES: Rules = MappingProxyType({})

#: Finds the titles of the mappings in which each key may stand.
KeyPlaces = Callable[[], Mapping[str, Sequence[str]]]

T = TypeVar("T")


class BadValue(Exception):
    """A value that can't be used; `offset` counts characters of its text."""

    def __init__(self, message: str, fix: str = "", offset: int = 0) -> None:
        super().__init__(message)
        self.message, self.fix, self.offset = message, fix, offset


class TooManyProblems(Exception):
    """Too many problems, or too much text, to be worth reading on."""


@dataclass(slots=True)
class Reading:
    """Where a form is read: its source, and the problems found so far.

    `key_places` tells where each key of the language may stand: the titles of mappings.
    `tabs` are the blocks of tab, whose rows may be named after the tuning's strings.
    `hides` is whether something that was found kept something else from being checked.
    """

    source: Source
    key_places: KeyPlaces = dict
    problems: list[Problem] = field(default_factory=list)
    places: dict[Node, Sequence[int]] = field(default_factory=dict)
    tabs: list[Node] = field(default_factory=list)
    hides: bool = False

    def report(self, node: Node, message: str, fix: str = "", offset: int = 0) -> None:
        """Note a problem at a character of a node's text.

        Raises:
            TooManyProblems: it was one of very many.
        """
        index = node.start
        if node.kind == "text":
            if node not in self.places:
                self.places[node] = node.places(self.source)
            index = self.places[node][min(offset, len(node.text))]
        problem = Problem(*self.source.place(index), sentence(message), sentence(fix))
        if problem not in self.problems:
            self.problems.append(problem)
        if len(self.problems) >= MAX_PROBLEMS:
            raise TooManyProblems

    def value(self, kind: Kind, node: Node) -> Any:
        """A node's value, or None with its problem noted."""
        try:
            return kind.read(node, self)
        except BadValue as bad:
            self.report(node, bad.message, bad.fix, bad.offset)
            return None


class Kind(NamedTuple):
    """How a value is read (raising BadValue) and its JSON Schema; `free` text may hold commas."""

    read: Callable[[Node, Reading], Any]
    schema: Mapping[str, object]
    free: bool = False


class Record(dict[str, Any]):
    """A mapping's values by key, with the node of each key that was written, good or bad."""

    def __init__(self, node: Node) -> None:
        super().__init__()
        self.node = node
        self.nodes: dict[str, Node] = {}
        self.keys_at: dict[str, Node] = {}


def sentence(text: str) -> str:
    """A message with its period, which messages from `theory` don't have.

    Where it ends with something to type after a colon, a period would be typed too; a list with a
    line for each name has none.
    """
    _, colon, example = text.rpartition(": ")
    to_type = colon and not re.search(r"[.;?] ", example)
    whole = not text or text[-1] in ".?" or to_type or ITEM in text
    return text if whole else f"{text}."


def quoted(text: str) -> str:
    """A writer's word in a message: quoted, printable and short."""
    safe = printable(text[:44])
    return f"'{safe[:40]}...'" if len(safe) > 43 else f"'{safe}'"


def text_of(node: Node, what: str) -> str:
    """A scalar's text without the blanks around it.

    Raises:
        BadValue: a list or mapping, or nothing at all.
    """
    if node.kind != "text":
        typed = "a list" if node.kind == "list" else "keys with values"
        raise BadValue(
            f"{what} must be one value, not {typed}.",
            "Write it after the colon, in quotes if needed.",
        )
    if not node.text.strip():
        raise BadValue(f"{what} is missing here.", "Write it after the colon.")
    return node.text.strip()


def parse_text(node: Node, text: str, parse: Callable[[str], T]) -> T:
    """What a parser that raises ValueError makes of a scalar's stripped text.

    Raises:
        BadValue: the parser's own words, at its `offset` where it gives one.
    """
    try:
        return parse(text)
    except ValueError as error:
        lead = len(node.text) - len(node.text.lstrip())
        raise BadValue(str(error), offset=lead + getattr(error, "offset", 0)) from None


def record(
    what: str, table: Mapping[str, Kind], required: tuple[str, ...] = (), rules: Rules = NO_RULES
) -> Kind:
    """A mapping with known keys."""
    offered = [key for key, kind in table.items() if kind.schema != NEVER]
    texts = {key for key, kind in table.items() if kind.free}

    def read(node: Node, reading: Reading) -> Record:
        if node.kind != "mapping":
            raise _not_a_mapping(node, what, f"key: value  ({', '.join(offered)})")
        written = Record(node)
        meant: set[str] = set()
        for key, value in read_pairs(node, reading, what, texts):
            if key.text not in table:
                fix = suggestion(key.text, table, offered)
                if places := reading.key_places().get(key.text):
                    near = fix[:1].lower() + fix[1:] if fix.startswith("Did you mean") else ""
                    fix = in_places(places) + (f" Or {near}" if near else "")
                meant |= {name for name in required if fix.endswith(f"id you mean {name}?")}
                if ":" in key.text:
                    fix = f"A colon needs a space after it:  {key.text[:40].replace(':', ': ')}"
                reading.report(key, f"{what} has no key {quoted(key.text)}.", fix)
                continue
            written.nodes[key.text], written.keys_at[key.text] = value, key
            taken = reading.value(table[key.text], value)
            if taken is not None:
                written[key.text] = taken
        meant |= {key.text for key, _ in node.pairs}
        for name in required:
            if name not in meant:
                reading.report(node, f"{what} needs the key {name}.", f"Add  {name}: ...")
        return written

    schema = {
        "title": what,
        "type": "object",
        "properties": {key: dict(table[key].schema) for key in offered},
        "additionalProperties": False,
        **({"required": list(required)} if required else {}),
        **({"patternProperties": {"^true$": dict(table["on"].schema)}} if "on" in table else {}),
        **rules,
    }
    return Kind(read, schema)


def named(what: str, name: Callable[[str], str], kind: Kind, rules: Rules = NO_RULES) -> Kind:
    """A mapping from names that the writer chose; `name` checks (ValueError) and tidies each."""

    def read(node: Node, reading: Reading) -> Record:
        if node.kind != "mapping":
            raise _not_a_mapping(node, what, "name: ...")
        written = Record(node)
        for key, value in read_pairs(node, reading, what):
            try:
                settled = parse_text(key, key.text.strip(), name)
            except BadValue as bad:
                reading.report(key, bad.message, bad.fix, bad.offset)
                continue
            if settled in written.nodes:
                reading.report(
                    key,
                    f"{quoted(key.text)} is already named above.",
                    "Keep one of the two.",
                )
                continue
            written.nodes[settled], written.keys_at[settled] = value, key
            taken = reading.value(kind, value)
            if taken is not None:
                written[settled] = taken
        return written

    return Kind(read, {"type": "object", "additionalProperties": dict(kind.schema), **rules})


def either(scalar: Kind, collection: Kind) -> Kind:
    """A scalar or a mapping, by what was written."""

    def read(node: Node, reading: Reading) -> Any:
        return (scalar if node.kind == "text" else collection).read(node, reading)

    schema = {"anyOf": [dict(scalar.schema), dict(collection.schema)]}
    return Kind(read, schema, scalar.free)


def list_of(what: str, kind: Kind) -> Kind:
    """A list; each item's value with its node, without those that can't be used."""

    def read(node: Node, reading: Reading) -> list[tuple[Node, Any]]:
        if node.kind != "list" or not node.items:
            fix = "Write one item per line, each after a dash and a space:  - item"
            raise BadValue(f"{what} must be a list.", fix)
        taken = [(item, reading.value(kind, item)) for item in node.items]
        return [(item, value) for item, value in taken if value is not None]

    return Kind(read, {"type": "array", "minItems": 1, "items": dict(kind.schema)})


def read_pairs(
    node: Node, reading: Reading, what: str, texts: Collection[str] = ()
) -> list[tuple[Node, Node]]:
    """A mapping's pairs with text keys, each once; others are refused.

    `texts` are the keys of free text, which a comma between braces may have cut in two.
    """
    pairs, cuts = without_cuts(node, reading.source.text, texts)
    for cut in cuts:
        reading.report(cut.at, f"between braces the comma ends {quoted(cut.ended)}.", cut.fix)
    seen: set[str] = set()
    found = []
    for key, value in pairs:
        if key.kind != "text":
            reading.report(
                key, f"a key of {what} must be one word, not a {key.kind}.", "Write  key: value."
            )
        elif key.text in seen:
            reading.report(
                key, f"{what} has the key {quoted(key.text)} twice.", "Keep one of the two."
            )
        else:
            seen.add(key.text)
            found.append((key, value))
    return found


def _not_a_mapping(node: Node, what: str, pattern: str) -> BadValue:
    if node.kind == "text" and not node.text.strip():
        return BadValue(f"{what} is empty here.", f"Write below it, indented:  {pattern}.")
    return BadValue(
        f"{what} needs keys with values, not {'a list' if node.kind == 'list' else 'plain text'}.",
        f"Write one per line:  {pattern}.",
    )
