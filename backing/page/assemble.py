"""One HTML file of the page's parts: template, styles, scripts and data, all inline.

A page opened from disk can't load modules. The sources are modules because they are easier to
read and check, so they are joined into one script without their one-line imports and without the
word `export` at the start of lines. The Content-Security-Policy allows that script and that style
by their SHA-256 (W3C, "Content Security Policy Level 3"), and no requests at all.

What was typed in the form reaches the page as text: in JSON that no `<` can end (HTML Standard,
"Restrictions for contents of script elements") and in the escaped title.
"""

from __future__ import annotations

import json
import re
from base64 import b64encode
from collections.abc import Sequence
from hashlib import sha256
from html import escape
from importlib.resources import files
from string import Template

from backing.page.page_json import PageData

#: The sources, in the order that they are joined in.
SCRIPTS = (
    "song.js", "sprite.js", "plan.js", "bar_notes.js", "schedule.js", "mixer.js", "player.js",
    "shape_box.js", "tab.js", "words.js", "chart.js", "pointing.js", "follow.js", "announce.js",
    "settings.js", "log.js", "tap.js", "head.js", "awake.js", "actions.js", "controls.js",
    "keys.js", "test_hook.js", "main.js",
)  # fmt: skip
STYLES = ("paper.css", "band.css", "chart.css", "controls.css", "print.css")
TEMPLATE = "page.html"

_IMPORT = re.compile(r"^import .*\n", re.MULTILINE)
_EXPORT = re.compile(r"^export ", re.MULTILINE)
_ESCAPES = {char: f"\\u{ord(char):04x}" for char in "<>&\u2028\u2029"}


def assemble(data: PageData, sprite: bytes, clicks: bytes) -> str:
    """The whole page.

    Args:
        data: what the script reads, titles and all.
        sprite: the encoded samples.
        clicks: 16-bit samples.
    """
    script, style = joined(SCRIPTS), stylesheet(STYLES)
    return Template(source(TEMPLATE)).substitute(
        lang=escape(data["lang"]),
        title=escape(data["title"]),
        csp=policy(script, style),
        style=style,
        song=as_text(data),
        sprite=b64encode(sprite).decode(),
        clicks=b64encode(clicks).decode(),
        script=script,
    )


def policy(script: str, style: str) -> str:
    """The policy of a page with this script and style, each exactly as it stands in its element."""
    rules = {
        "default-src": "'none'",
        "script-src": f"'sha256-{_digest(script)}'",
        "style-src": f"'sha256-{_digest(style)}'",
        "img-src": "data:",
        "connect-src": "'none'",
        "base-uri": "'none'",
        "form-action": "'none'",
    }
    return "; ".join(f"{name} {allowed}" for name, allowed in rules.items())


def as_text(data: object) -> str:
    """JSON that can stand in a script element."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return "".join(_ESCAPES.get(char, char) for char in text)


def joined(names: Sequence[str]) -> str:
    """Modules as one script."""
    text = "\n".join(_EXPORT.sub("", _IMPORT.sub("", source(name))) for name in names)
    return f'(() => {{\n"use strict";\n{text}}})();\n'


def stylesheet(names: Sequence[str]) -> str:
    return "\n".join(source(name) for name in names)


def source(name: str) -> str:
    """A file of this folder as text."""
    return files("backing.page").joinpath(name).read_text("utf-8")


def _digest(text: str) -> str:
    return b64encode(sha256(text.encode()).digest()).decode()
