"""Fifty names that attack whoever prints them, and what a terminal may get.

What may be printed is decided here by the categories of the Unicode Character Database, not as
the program decides it.
"""

from __future__ import annotations

import re
import unicodedata

#: What a name tries to show on a line by itself, as if we had printed it.
FORGED = "All is well"

#: Names of files on Linux: no slash, no NUL; `\udc..` are bytes that aren't UTF-8.
NAMES = {
    # Escape sequences (ECMA-48), none of them one that the program uses.
    "red": "a\x1b[31mb", "blink": "\x1b[5m", "hidden": "a\x1b[8mb", "two colors": "\x1b[38;5;9mx",
    "clear": "\x1b[2J\x1b[1;1H", "cursor up": "a\x1b[1A\x1b[2Kb", "insert line": "\x1b[L",
    "scroll": "\x1b[9999T", "window title": "\x1b]0;evil\x07", "link": "\x1b]8;;http:evil\x1b\\a",
    "clipboard": "\x1b]52;c;ZXZpbA==\x07", "status": "\x1b[6n", "what are you": "\x1b[c",
    "answer back": "a\x05b", "reset": "\x1bc", "lines drawn": "\x1b(0qqq\x1b(B",
    "device control": "\x1bP$qm\x1b\\",
    "mouse": "\x1b[?1003h", "other screen": "\x1b[?1049h", "paste": "\x1b[201~",
    "lone escape": "\x1b",
    "end of a sequence": "\x9b",
    # Other controls.
    "C1": "a\x9b31mb", "C1 title": "a\x9d0;evil\x9c", "bell": "a\x07", "back": "abc\x08\x08\x08xyz",
    "return": f"abc\r{FORGED}", "shift out": "a\x0eb\x0f", "delete": "a\x7f\x7fb", "tab": "a\tb",
    # Line ends.
    "line feed": f"a\n{FORGED}", "return and feed": f"a\r\n{FORGED}", "next line": f"a\x85{FORGED}",
    "line separator": f"a\u2028{FORGED}", "paragraph": f"a\u2029{FORGED}",
    "vertical tab": f"a\x0b{FORGED}", "form feed": f"a\x0c{FORGED}",
    # Direction (Unicode UAX #9).
    "override": "song\u202efdp.mid", "embedding": "a\u202bb", "isolate": "a\u2067b",
    "no end": "a\u2066",
    "end without start": "a\u202c\u2069", "Arabic mark": "a\u061cb", "marks": "\u200ea\u200f",
    # What can't be seen, and what is no letter.
    "zero width": "a\u200b\u2060b", "byte order mark": "\ufeffa", "tags": "a\U000e0041\U000e007f",
    "joiners": "a\u200d\u200c", "private": "a\ue000\U0010fffd", "not UTF-8": "a\udcff\udc9bb",
}  # fmt: skip

#: Real names, which stay as they are.
REAL = (
    "שיר לשבת", "أغنية الصباح", "静かな川", "सुबह का गीत", "क्‍ष", "می‌خواهم", "บทเพลง", "노래",
    "👩‍🎤 🎸",
    "Ωδή", "Тихо", "Café", "naïve – “so”", "♯♭ 7–8",
)  # fmt: skip

#: What the program sends to a terminal on purpose: styles, and the lines of a progress bar.
OURS = re.compile(r"\x1b\[(?:0|1|2|36)m|\r?\x1b\[\?25[lh]|\r(?=Building)|\x1b\[K")
#: General categories: controls, formats, halves of characters, private and unassigned ones,
#: separators of lines and of paragraphs.
_STEERING = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
_JOINERS = "\u200c\u200d"


def steering(printed: str) -> list[str]:
    """What in a printed text could steer a terminal or hide, and lines that a name forged."""
    text = printed.replace("\r\n", "\n")
    found = [
        repr(letter)
        for letter in text
        if unicodedata.category(letter) in _STEERING and letter not in f"\n{_JOINERS}"
    ]
    found += [
        f"joiner in {word!r}"
        for word in re.findall(r"[ -~][\u200c\u200d]+|[\u200c\u200d]{2}", text)
    ]
    return found + [line for line in text.split("\n") if line.lstrip().startswith(FORGED)]


def on_terminal(data: bytes) -> list[str]:
    """The same of the bytes that a terminal got, without what the program sends on purpose."""
    return steering(OURS.sub("", data.decode("utf-8")))
