"""YAML text to a tree in which every scalar is still text and every node knows its place.

The parser's events are composed here rather than by the library, so that nothing is
typed behind the writer's back (`off`, `022100` stay text), nesting is bounded without
recursion, and an alias counts with everything it stands for before it is ever walked.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Literal

from backing.errors import FormError, Problem

MAX_BYTES = 1 << 20
MAX_NODES = 30_000
MAX_DEPTH = 24

_FORBIDDEN = re.compile("[\x00-\x08\x0b-\x1f\x7f\x85\u2028\u2029\ufeff\ufffe\uffff]")


@dataclass(frozen=True, slots=True)
class Source:
    """A form's text with line feeds only, and the name to call it by."""

    name: str
    text: str

    @property
    def lines(self) -> list[str]:
        """The text's lines, without their ends."""
        return self.text.split("\n")

    def place(self, index: int) -> tuple[int, int]:
        """Line and column, from 1, of a character."""
        index = max(0, min(index, len(self.text)))
        start = self.text.rfind("\n", 0, index) + 1
        return self.text.count("\n", 0, index) + 1, index - start + 1

    def error(self, index: int, message: str, mend: str = "") -> FormError:
        """A single problem at a character."""
        return FormError(self.name, [Problem(*self.place(index), message, mend)], self.lines)


@dataclass(frozen=True, slots=True, eq=False)
class Node:
    """A scalar's text, a list's items, or a mapping's pairs; `start` and `end` index the source.

    `size` counts the node and all below it, aliases included; `height` is its depth of nesting.
    """

    kind: Literal["text", "list", "mapping"]
    start: int
    end: int
    text: str = ""
    block: bool = False
    items: tuple[Node, ...] = ()
    pairs: tuple[tuple[Node, Node], ...] = ()
    size: int = 1
    height: int = 0

    def index_in(self, source: Source, offset: int) -> int:
        """Where in the source a character of a scalar's text stands.

        Indentation, quotes and folds make the two differ: blanks are passed over on
        both sides and the rest is matched in order.
        """
        at = self.start
        if self.block:
            at = source.text.find("\n", at) + 1 or at
        for char in self.text[:offset]:
            if not char.isspace():
                found = source.text.find(char, at, self.end)
                at = at if found < 0 else found + 1
        rest = self.text[offset : offset + 1]
        if rest and not rest.isspace():
            found = source.text.find(rest, at, self.end)
            at = at if found < 0 else found
        return at


def read_source(data: bytes, name: str) -> Source:
    """Decode a form's bytes.

    Raises:
        FormError: more than 1 MiB, not UTF-8, or a character that no form needs.
    """
    if len(data) > MAX_BYTES:
        raise FormError(
            name,
            [
                Problem(
                    1, 1, "this file is larger than 1 MiB, which no song's form is.", "Give a form."
                )
            ],
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start]
        place = before.count(b"\n") + 1, error.start - (before.rfind(b"\n") + 1) + 1
        mend = "Save the file as UTF-8."
        raise FormError(name, [Problem(*place, "this file is not UTF-8 text.", mend)]) from None
    source = Source(name, text.replace("\r\n", "\n").replace("\r", "\n"))
    if found := _FORBIDDEN.search(source.text):
        what = f"an invisible control character (U+{ord(found[0]):04X})"
        raise source.error(found.start(), f"{what} can't stand in a form.", "Delete it.")
    return source


def compose(source: Source) -> Node | None:
    """The document's tree; None when it is empty.

    Raises:
        FormError: where YAML stumbles, with advice, or the document is too deep or too large.
    """
    from ruamel.yaml import YAML
    from ruamel.yaml.error import MarkedYAMLError, YAMLError

    composer = _Composer(source)
    try:
        for event in YAML(typ="safe", pure=True).parse(source.text):
            composer.take(event)
    except MarkedYAMLError as error:
        raise _stumbled(source, error) from None
    except (YAMLError, ValueError, OverflowError) as error:
        raise source.error(0, f"this is not YAML: {str(error).splitlines()[0]}") from None
    return composer.root


class _Composer:
    def __init__(self, source: Source) -> None:
        self.source = source
        self.root: Node | None = None
        self.anchors: dict[str, Node] = {}
        self.open: list[tuple[Any, list[Node]]] = []
        self.documents = 0
        self.total = 0

    def take(self, event: Any) -> None:
        at = event.start_mark.index
        kind = type(event).__name__
        if kind == "DocumentStartEvent":
            self.documents += 1
            if self.documents > 1:
                raise self.source.error(
                    at, "a second document starts here.", "One file holds one form."
                )
        elif kind in ("SequenceStartEvent", "MappingStartEvent"):
            self._refuse_tag(event)
            self._check_depth(at, 1)
            self.open.append((event, []))
        elif kind in ("SequenceEndEvent", "MappingEndEvent"):
            start, children = self.open.pop()
            self._place(_collection(start, event.end_mark.index, children), start.anchor)
        elif kind == "ScalarEvent":
            self._refuse_tag(event)
            block = event.style in ("|", ">")
            self._place(Node("text", at, event.end_mark.index, event.value, block), event.anchor)
        elif kind == "AliasEvent":
            node = self.anchors.get(event.anchor)
            if node is None:
                mend = f"Write &{event.anchor} before what it stands for, further up."
                raise self.source.error(
                    at, f"nothing is called *{event.anchor} before this place.", mend
                )
            self._check_depth(at, node.height)
            self._place(node, None)

    def _place(self, node: Node, anchor: str | None) -> None:
        if anchor:
            self.anchors[anchor] = node
        if not node.pairs and not node.items:
            self.total += node.size
        if max(self.total, node.size) > MAX_NODES:
            raise self.source.error(
                node.start,
                f"this form holds more than {MAX_NODES:,} values (an alias counts with all of its own).",
                "Write less, or split the song.",
            )
        if self.open:
            self.open[-1][1].append(node)
        else:
            self.root = node

    def _check_depth(self, at: int, more: int) -> None:
        if len(self.open) + more > MAX_DEPTH:
            raise self.source.error(
                at, f"this is nested more than {MAX_DEPTH} deep.", "No form needs that."
            )

    def _refuse_tag(self, event: Any) -> None:
        if event.tag:
            raise self.source.error(
                event.start_mark.index, "a form uses no YAML tags.", "Take the ! word out."
            )


def _collection(start: Any, end: int, children: list[Node]) -> Node:
    size = 1 + sum(child.size for child in children)
    height = 1 + max((child.height for child in children), default=0)
    at = start.start_mark.index
    if type(start).__name__ == "SequenceStartEvent":
        return Node("list", at, end, items=tuple(children), size=size, height=height)
    pairs = tuple(zip(children[::2], children[1::2], strict=True))
    return Node("mapping", at, end, pairs=pairs, size=size, height=height)


def _stumbled(source: Source, error: Any) -> FormError:
    """Say in a writer's words what the parser could not read."""
    mark = error.problem_mark or error.context_mark
    index = mark.index if mark else 0
    problem = str(error.problem or error.context or "can't be read")
    line = source.lines[source.place(index)[0] - 1] if source.text else ""
    return source.error(index, *_advice(problem, line, source.text[index : index + 1]))


def _advice(problem: str, line: str, char: str) -> tuple[str, str]:
    if "chomping or indentation" in problem:
        key, _, value = line.partition(":")
        mend = f'Put the bars in quotes: {key.strip()}: "{value.strip()}", or start them on the next line after {key.strip()}: |'
        return "a bare | opens a block of lines, and bars can't follow it on its own line.", mend
    if char == "\t" or "\\t" in problem:
        return "a tab can't indent a form.", "Indent with spaces."
    if "cannot start any token" in problem:
        return (
            f"a value can't start with {char} unless it is quoted.",
            'Put the value in double quotes: "..."',
        )
    if "mapping values are not allowed" in problem:
        mend = "Put the whole value in double quotes, or check that this line is indented like its neighbors."
        return "a second ': ' on a line, or a key at the wrong indentation.", mend
    if "could not find expected ':'" in problem or "could not find expected ':'" in line:
        return "a key here has no ': ' after it.", "Write it as  key: value."
    if "block end" in problem or "<block" in problem:
        return (
            "this line's indentation fits nothing above it.",
            "Line it up with the keys it belongs to.",
        )
    if "end of stream" in problem or "quoted" in problem or "scanning a quoted" in problem:
        return (
            "a quote or a bracket is opened and never closed.",
            "Close it on the line where it starts.",
        )
    return (
        f"YAML can't be read here ({problem}).",
        "Check the quotes, brackets and indentation near this place.",
    )
