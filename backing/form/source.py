"""A form's bytes to text that can be read and pointed into."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

from backing.errors import FormError, Problem, read_error

#: Over fifty times the longest demo; what takes the parser longest is still read within 2 s.
MAX_BYTES = 128 << 10

# Controls, line ends that editors don't agree on, controls that turn the direction of what
# follows (Unicode UAX #9: even of what stands after the title), half characters, byte order marks.
FORBIDDEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u206f"
    "\ud800-\udfff\ufeff\ufffe\uffff]"
)


class Source(NamedTuple):
    """A form's text with line feeds only, and the name that messages call it."""

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

    def error(self, index: int, message: str, fix: str = "") -> FormError:
        """A single problem at a character."""
        return FormError(self.name, [Problem(*self.place(index), message, fix)], self.lines)


def read_data(path: str | Path) -> bytes:
    """A form's bytes, at most one more than `MAX_BYTES`.

    Raises:
        BackingError: the file can't be read.
    """
    try:
        with open(path, "rb") as file:
            return file.read(MAX_BYTES + 1)
    except OSError as error:
        raise read_error(path, error, "Give a form, such as song.yaml.") from None


def read_source(data: bytes, name: str) -> Source:
    """Decode a form's bytes.

    Raises:
        FormError: more than 128 KiB, not UTF-8, or a character that isn't allowed in a form.
    """
    if len(data) > MAX_BYTES:
        what = f"this file is larger than {MAX_BYTES >> 10} KiB, too large for one song's form."
        raise FormError(name, [Problem(1, 1, what, "Is it really a form?")])
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        good = _line_feeds(error.object[: error.start].decode("utf-8"))
        source = Source(name, good + "\N{REPLACEMENT CHARACTER}")
        fix = "Save the file as UTF-8."
        raise source.error(len(good), "this file is not UTF-8 text.", fix) from None
    source = Source(name, _composed(_line_feeds(text)))
    if found := FORBIDDEN.search(source.text):
        raise source.error(found.start(), *invisible(found[0]))
    return source


def _composed(text: str) -> str:
    """A text in which a letter with its accent is one character, however it was typed.

    Names that look the same are then the same, and columns count what is seen.
    """
    if text.isascii():
        return text
    from unicodedata import normalize

    return normalize("NFC", text)


def _line_feeds(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


def invisible(char: str) -> tuple[str, str]:
    """What is wrong with a forbidden character, and how to fix it."""
    return (
        f"an invisible control character (U+{ord(char):04X}) isn't allowed in a form.",
        "Delete it.",
    )
