"""The page of the Python interface, made from the docstrings of the public names.

    PYTHONPATH=tests:. python tests/api_page.py      # writes backing/README.md

A test asks that the file is what the docstrings make, and runs every example in it.
"""

from __future__ import annotations

import ast
import inspect
import re
import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import backing

PAGE = Path(__file__).resolve().parents[1] / "backing" / "README.md"

#: The page's chapters, with their names in the order that a script needs them.
CHAPTERS = {
    "Reading a form": ("read_form", "read_form_text", "Form"),
    "From a form to a MIDI file": (
        "midi_of", "unroll", "Timeline", "play", "humanize", "to_bytes", "Score", "Track", "Note",
    ),
    "Practice versions": ("Version", "Stretch", "play_version"),
    "Files": ("build", "Built", "AudioOptions", "render_audio"),
    "Chart and practice page": ("draw_chart", "ChartOptions", "make_page"),
    "Proof": (
        "verify_bytes", "verify_file", "verify_audio", "Report", "AudioReport", "expect",
        "Expected",
    ),
    "Errors": ("BackingError", "FormError", "DisagreementError"),
}  # fmt: skip


def page() -> str:
    """The whole page as Markdown."""
    head = [
        "# The Python interface",
        "<!-- Made by tests/api_page.py from the docstrings: edit those, then run it again. -->",
        markdown(backing.__doc__ or ""),
    ]
    return "\n\n".join([*head, *_chapters()]) + "\n"


def _chapters() -> Iterator[str]:
    for title, names in CHAPTERS.items():
        yield f"## {title}"
        for name in names:
            yield from _entry(name, getattr(backing, name))


def _entry(name: str, thing: Any) -> Iterator[str]:
    """A name's heading, its signature, its docstring and, of a class, its properties."""
    (node,) = ast.parse(textwrap.dedent(inspect.getsource(thing))).body
    yield f"### `{name}`"
    if isinstance(node, ast.FunctionDef):
        yield f"```python\n{_signature(node)}\n```"
    elif isinstance(node, ast.ClassDef) and (fields := list(_fields(node))):
        yield "```python\n" + "\n".join([f"class {name}:", *fields]) + "\n```"
    yield markdown(inspect.getdoc(thing) or "")
    properties = [
        f"- `{key}`: {_one_line(value.__doc__)}"
        for key, value in vars(thing).items()
        if isinstance(value, property) and not key.startswith("_")
    ]
    if properties:
        yield "\n".join(properties)


def _signature(node: ast.FunctionDef) -> str:
    """A function's head, on one line or with a line for each argument."""
    arguments = node.args.args
    plain = len(arguments) - len(node.args.defaults)
    shown = [_source(one) for one in arguments[:plain]]
    shown += [
        f"{_source(one)} = {_source(default)}"
        for one, default in zip(arguments[plain:], node.args.defaults, strict=True)
    ]
    returns = _source(node.returns) if node.returns else "None"
    line = f"{node.name}({', '.join(shown)}) -> {returns}"
    if len(line) <= 88:
        return line
    return "\n".join([f"{node.name}(", *(f"    {one}," for one in shown), f") -> {returns}"])


def _source(node: ast.AST) -> str:
    """A piece of source as the formatter writes it, with double quotes."""
    return ast.unparse(node).replace("'", '"')


def _fields(node: ast.ClassDef) -> Iterator[str]:
    """A record's fields, each with the text that stands below it as a comment."""
    for index, line in enumerate(node.body):
        if not isinstance(line, ast.AnnAssign) or ast.unparse(line.target).startswith("_"):
            continue
        after = node.body[index + 1] if index + 1 < len(node.body) else None
        if isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant):
            yield from textwrap.wrap(
                str(after.value.value), 92, initial_indent="    # ", subsequent_indent="    # "
            )
        yield f"    {_source(line)}"


def markdown(docstring: str) -> str:
    """A docstring as Markdown: its lists of arguments as lists, its examples as code."""
    blocks = re.split(r"\n\s*\n", inspect.cleandoc(docstring))
    return "\n\n".join(map(_block, blocks))


def _block(block: str) -> str:
    lines = block.splitlines()
    if lines[0].lstrip().startswith(">>>"):
        return f"```python\n{textwrap.dedent(block)}\n```"
    if lines[0] in ("Args:", "Raises:", "Returns:"):
        body = textwrap.dedent("\n".join(lines[1:]))
        if lines[0] == "Returns:":
            return f"Returns: {_one_line(body)}"
        items = [_one_line(item) for item in re.split(r"\n(?=\S)", body)]
        listed = [re.sub(r"^(\w+): ", r"- `\1`: ", item) for item in items]
        return "\n".join([lines[0], "", *listed])
    return block


def _one_line(text: str | None) -> str:
    return " ".join((text or "").split())


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8", newline="\n")
