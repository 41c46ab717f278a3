"""YAML text to a tree in which every scalar is still text and every node knows its place.

The parser's events are composed here rather than by the library, so that nothing is
converted without the writer knowing (`off` and `022100` stay text), nesting is bounded without
recursion, and an alias counts with everything it stands for before it is ever walked.
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from backing.form.source import FORBIDDEN, Source, invisible

#: The library takes about 0.1 ms for a value; no song needs a tenth of these.
MAX_SIZE = 5_000
MAX_DEPTH = 24

_PROPERTIES = re.compile(r"(?:[&!]\S*\s+)*")
_ESCAPE = re.compile(r"\\(?:x([0-9A-Fa-f]{2})|u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|(.))", re.DOTALL)


@dataclass(frozen=True, slots=True, eq=False)
class Node:
    """A scalar's text, a list's items, or a mapping's pairs; `start` and `end` index the source.

    `size` grows with the node and all below it, aliases included: one for each value, and
    one more for every 64 characters of its text. `height` is its depth of nesting.
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

    def places(self, source: Source) -> Sequence[int]:
        """Where in the source each character of a scalar's text stands, and where the text ends.

        Indentation, quotes and folds make the two differ: spaces are skipped on
        both sides and the rest is matched in order.
        """
        if not self.text:
            return [self.start]
        body, at = source.text[self.start : self.end], 0
        if found := _PROPERTIES.match(body):
            at = found.end()
        if self.block:
            at = body.find("\n", at) + 1 or at
        elif body[at] == '"':
            body, at = _ESCAPE.sub(_unescaped, body), at + 1
        elif body[at] == "'":
            body, at = body.replace("''", "' "), at + 1
        places = array("L")
        for char in self.text:
            found_at = -1 if char.isspace() else body.find(char, at)
            if found_at >= 0:
                at = found_at + 1
            places.append(self.start + (at if found_at < 0 else found_at))
        places.append(self.start + at)
        return places


def _unescaped(escape: re.Match[str]) -> str:
    """What an escape of a double-quoted scalar stands for, padded to the escape's length."""
    code = escape[1] or escape[2] or escape[3]
    if code:
        char = chr(int(code, 16)) if int(code, 16) <= 0x10FFFF else " "
    else:
        char = escape[4] if escape[4] in '"\\/' else " "
    return char.ljust(len(escape[0]))


def compose(source: Source) -> Node | None:
    """The document's tree; None when it is empty.

    Raises:
        FormError: the YAML is wrong (with advice), or the document is too deep or too large.
    """
    from ruamel.yaml import YAML
    from ruamel.yaml.error import MarkedYAMLError, YAMLError
    from ruamel.yaml.scanner import Scanner

    from backing.form.yaml_advice import advice_for

    class WithoutTags(Scanner):
        """Refuses a tag where it starts: the library takes quadratic time to read a long one."""

        def fetch_tag(self) -> None:
            raise source.error(
                self.reader.get_mark().index,
                "a value can't start with ! unless it is quoted.",
                "Put it in double quotes, or remove the !.",
            )

    yaml, composer = YAML(typ="safe", pure=True), _Composer(source)
    yaml.Scanner = WithoutTags
    try:
        for event in yaml.parse(source.text):
            composer.take(event)
    except MarkedYAMLError as error:
        raise advice_for(source, error) from None
    except (YAMLError, ValueError, OverflowError) as error:
        what = f"can't read this as YAML ({str(error).splitlines()[0]})."
        fix = "Look for a backslash in double quotes, or a line that starts with %."
        raise source.error(0, what, fix) from None
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
                    at, "a second form starts here.", "Put each form in its own file."
                )
        elif kind in ("SequenceStartEvent", "MappingStartEvent"):
            self._check_depth(at, 1)
            self.open.append((event, []))
        elif kind in ("SequenceEndEvent", "MappingEndEvent"):
            start, children = self.open.pop()
            self._place(_collection(start, event.end_mark.index, children), start.anchor, 1)
        elif kind == "ScalarEvent":
            node = self._scalar(event)
            self._place(node, event.anchor, node.size)
        elif kind == "AliasEvent":
            named = self.anchors.get(event.anchor)
            if named is None:
                raise self.source.error(at, *self._unknown(event.anchor))
            self._check_depth(at, named.height)
            self._place(named, None, named.size)

    def _scalar(self, event: Any) -> Node:
        at, text = event.start_mark.index, event.value
        if found := FORBIDDEN.search(text):
            raise self.source.error(at, *invisible(found[0]))
        block, size = event.style in ("|", ">"), 1 + len(text) // 64
        return Node("text", at, event.end_mark.index, text, block, size=size)

    def _unknown(self, name: str) -> tuple[str, str]:
        """What is wrong with an alias that repeats nothing, and how to fix it."""
        unfinished = any(start.anchor == name for start, _ in self.open)
        name = name if len(name) <= 40 else f"{name[:40]}..."
        if unfinished:
            return f"*{name} is used inside its own definition.", "Remove it."
        fix = f"Put a value that starts with * in double quotes, or write &{name} above."
        return f"*{name} repeats what &{name} names, but nothing above has that name.", fix

    def _place(self, node: Node, anchor: str | None, more: int) -> None:
        """Put a node where it belongs, and count it; `more` is what it adds to the form's size."""
        if anchor:
            self.anchors[anchor] = node
        self.total += more
        if self.total > MAX_SIZE:
            what = "this form is too large, counting everything that its aliases (*name) repeat."
            raise self.source.error(node.start, what, "Write less, or split the song.")
        if self.open:
            self.open[-1][1].append(node)
        else:
            self.root = node

    def _check_depth(self, at: int, more: int) -> None:
        if len(self.open) + more > MAX_DEPTH:
            raise self.source.error(
                at, f"this is nested more than {MAX_DEPTH} levels deep.", "Check the brackets."
            )


def _collection(start: Any, end: int, children: list[Node]) -> Node:
    size = 1 + sum(child.size for child in children)
    height = 1 + max((child.height for child in children), default=0)
    at = start.start_mark.index
    if type(start).__name__ == "SequenceStartEvent":
        return Node("list", at, end, items=tuple(children), size=size, height=height)
    pairs = tuple(
        (key, value if value.end > value.start else replace(value, start=key.start, end=key.end))
        for key, value in zip(children[::2], children[1::2], strict=True)
    )
    return Node("mapping", at, end, pairs=pairs, size=size, height=height)
