"""Good forms damaged at random, by bytes, words and structure, and what reading them gives.

A mutant has a number: the same number gives the same bytes as long as the forms stay the same.
"""

from __future__ import annotations

import json
import re
import time
from copy import deepcopy
from functools import cache
from pathlib import Path
from random import Random
from typing import Any, NamedTuple

from part_tables import with_every_key
from ruamel.yaml import YAML

from backing.errors import FormError
from backing.form import Form
from backing.form.passes import bars_played
from backing.form.reader import read_form_bytes
from backing.verify import expect

MOST_SECONDS = 2
MOST_LETTERS = 50_000

# fmt: off
#: What a typo, a paste from elsewhere or an attacker may put into a form.
WORDS = (
    "", " ", "\n", "\t", "\r", "\r\n", "\0", "\ufeff", "\u200b", "\u202e", "\u2028", "\x85",
    "\x1b[31m", ":", ": ", "-", "- ", "|", ">", "|-", "%", "@", "`", "&a", "*a", "&a *a", "!",
    "!!python/object:os.system", "!!binary", "? ", "#", " # so", "{", "}", "[", "]", "{}", "[]",
    "'", '"', "\\", "---", "...", "<<: *a", "~", "null", "true", "no", "off", "on", "1e308",
    "-1e308", ".nan", "-.inf", "0x1F", "0o17", "1_000", "0", "00", "-1", "+5", "1.5",
    "999999999", "x999999999", "x0", "x", "٣", "²", "½", "9" * 400, "1/0", "0/4", "4/0", "4/3",
    "64/1", "1/16", "6/8", "7/8 (3+2+2)", "7/8 (3+2", "4/4(((((", "bars 0-0", "bars 9-1",
    "bars 1-99999", "bars 1-2 x2", "A", "Am7", "H", "A(", "A(push", "(push)", "A(pusch)",
    "A(push)(stop)(ring)", "N.C.", "NC", "/", "A/", "/A", "A//B", "A" * 100, "A-5", "C#b", "♯",
    "Δ", "ø", "F#m7(b5)(b9)(#11)(b13)", "5h", "12\\", "e|--0-|", "e|99|", "D D U", "p i m",
    "1 - b3", "x -", "D>>", "2 of 1", "1 of 999", "1/8t", "1/64t", "by-tempo", "5/1", "x02220",
    "x-99-0-0-0-0", "E9 A9 D9 G9 B9 E9", "🎸", "静", "́", "a" * 3000, "%s{0}", "${HOME}",
    "../../x", "title", "sections", "form", "bars", "endings", "on-pass", "parts", "tempo",
    "verse", "ending", "times", "riff", "strum", "pick", "over", "(verse, riff x2) x3", "(verse",
    "verse) x2", "((((", "(verse x9999) x9999", "()", ", ", "drop D", "DADGAD", "low G", "C E A",
    "G4 D3 G3 B3 D4", "ukulele", "bass", "five-string bass", "instrument", "arrangement",
    "arrangements", "simple", "build-up", "front", "end", "plays-through", "note", "for", "words",
    "| one | two |", "RH|p-i-|", "PM|----|", "<12>", "(5)", "5.", "chords", "rolled", "D.", "D>.",
    "p2 D p U", "mi7(11)", "sus2sus4", "C7(9,13)", "Cob9",
)
# fmt: on


#: Letters that look like others, join others, take no room, turn the writing, or aren't letters.
STRANGE = (
    "\u0301", "\u200d", "\u00ad", "\u2066", "\u202e", "\ufe0f", "\u3000", "\u00a0", "\u2009",
    "\ufffd", "\ud800", "\U0010ffff", "\U000e0041", "\uff5c", "\uff1a", "\u0430", "\u0660",
    "\u1160", "\ufdfa", "İ", "ſ", "ß", "\x7f", "\x1a", "\x08", "\x0c", "\t", "\r", "\0", "\ufeff",
)  # fmt: skip


class Reading(NamedTuple):
    """What reading a mutant gave: a broken promise, if any, and the form, if it could be read."""

    fault: str
    #: Processor time, which other work on the machine affects least.
    seconds: float
    form: Form | None
    bars: int = 0


def receive(data: bytes) -> Reading:
    """Read a form and add it up as `check` does; errors must be what is promised."""
    start = time.process_time()
    form, bars, fault = None, 0, ""
    try:
        form = read_form_bytes(data, "mutant.yaml")
        bars = sum(bars_played(entry, form.sections[entry.section]) for entry in form.entries)
        if len(expect(form).bars) != bars:
            fault = f"{bars} bars are not what is expected"
    except FormError as error:
        fault = _misplaced(error)
    except Exception as error:
        fault = f"{type(error).__name__}: {error}"
    return Reading(fault, time.process_time() - start, form, bars)


def _misplaced(error: FormError) -> str:
    """What is wrong with an error: it must have places in the form, sentences, and an end."""
    if not error.problems:
        return "no problem is named"
    for problem in error.problems:
        lines = error.lines or [""]
        if not 1 <= problem.line <= len(lines):
            return f"line {problem.line} of {len(lines)}"
        if not 1 <= problem.column <= len(lines[problem.line - 1]) + 1:
            return f"column {problem.column} of line {problem.line}"
        sentence, *listed = f"{problem.message} {problem.fix}".strip().split("\n")
        ends = sentence[-1] == ":" if listed else sentence[-1] in ".?" or ": " in sentence
        if not problem.message or not ends:
            return f"no sentence: {sentence}"
        if not all(char.isprintable() for char in sentence + "".join(listed)):
            return f"what can't be printed: {sentence!r}"
        if not all(name.startswith("    ") and name.strip() for name in listed):
            return f"no list of names: {listed}"
    if len(str(error)) > MOST_LETTERS:
        return f"{len(str(error))} letters"
    return ""


def mutant(number: int) -> bytes:
    """The mutant with a number."""
    dice = Random(number)
    damages = (_bytes, _words, _words, _lines, _structure, _structure, _values, _encoded)
    return dice.choice(damages)(dice)


@cache
def sources() -> tuple[str, ...]:
    """The forms that mutants are made from; the one with every key counts as much as all demos."""
    here = Path(__file__).resolve().parent
    demos = sorted((here.parent / "forms").glob("*.yaml"))
    texts = [path.read_text(encoding="utf-8") for path in demos]
    return (*texts, *[with_every_key()] * len(demos))


@cache
def _tree(text: str) -> Any:
    return YAML(typ="base", pure=True).load(text)


def _bytes(dice: Random) -> bytes:
    """Some bytes changed, removed, inserted or doubled, or the end cut off."""
    data = bytearray(dice.choice(sources()).encode())
    for _ in range(dice.choice((1, 1, 2, 3, 8))):
        at, long = dice.randrange(len(data) or 1), dice.choice((1, 1, 2, 16, 200))
        match dice.randrange(6):
            case 0:
                data[at : at + 1] = bytes([dice.randrange(256)])
            case 1:
                del data[at : at + long]
            case 2:
                data[at:at] = dice.randbytes(min(long, 16))
            case 3:
                data[at:at] = data[at : at + long] * dice.choice((1, 2, 50))
            case 4:
                data[at : at + 1] = bytes([data[at] ^ (1 << dice.randrange(8))]) if data else b""
            case _:
                if dice.random() < 0.2:
                    del data[at:]
    return bytes(data)


def _words(dice: Random) -> bytes:
    """Some words replaced, removed, inserted or swapped."""
    words = re.findall(r"\w+|\s+|[^\w\s]", dice.choice(sources()))
    for _ in range(dice.choice((1, 1, 1, 2, 4))):
        at, other = dice.randrange(len(words)), dice.randrange(len(words))
        match dice.randrange(5):
            case 0 | 1:
                words[at] = dice.choice(WORDS)
            case 2:
                words.insert(at, dice.choice(WORDS))
            case 3:
                words[at], words[other] = words[other], words[at]
            case _:
                words[at] = ""
    return "".join(words).encode("utf-8", "surrogatepass")


def _lines(dice: Random) -> bytes:
    """Some lines moved, doubled, taken from another form, or indented differently."""
    lines = dice.choice(sources()).split("\n")
    other = dice.choice(sources()).split("\n")
    for _ in range(dice.choice((1, 1, 2, 3))):
        at = dice.randrange(len(lines))
        match dice.randrange(5):
            case 0:
                lines.insert(at, dice.choice(lines))
            case 1:
                lines[at] = dice.choice(other)
            case 2:
                lines[at] = dice.choice(("", " ", "  ", "\t", "    ")) + lines[at].lstrip()
            case 3:
                lines.insert(dice.randrange(len(lines)), lines.pop(at))
            case _:
                lines[at] = lines[at][: dice.randrange(len(lines[at]) + 1)]
    return dice.choice(("\n", "\n", "\r\n", "\r")).join(lines).encode()


def _structure(dice: Random) -> bytes:
    """Some values or keys removed, renamed, moved, nested or replaced by another kind."""
    tree = deepcopy(_tree(dice.choice(sources())))
    for _ in range(dice.choice((1, 1, 2, 3))):
        holders = _holders(tree)
        holder, key = dice.choice(holders)
        match dice.randrange(7):
            case 0:
                del holder[key]
            case 1 if isinstance(holder, dict):
                holder[dice.choice(WORDS)] = holder.pop(key)
            case 2:
                holder[key] = dice.choice(WORDS)
            case 3:
                other, its = dice.choice(holders)
                holder[key] = deepcopy(other[its])
            case 4:
                holder[key] = {dice.choice(WORDS): holder[key]}
            case 5:
                holder[key] = [holder[key]] * dice.choice((1, 2, 30))
            case _:
                _put(holder, dice.choice(WORDS), deepcopy(dice.choice(holders)[0]))
        if not _holders(tree):
            break
    text = json.dumps(tree, ensure_ascii=False, indent=dice.choice((None, 1)))
    return text.encode("utf-8", "surrogatepass")


def _values(dice: Random) -> bytes:
    """Some values replaced by what is deep, huge, repeated or named, or the same letter often."""
    lines = dice.choice(sources()).split("\n")
    for _ in range(dice.choice((1, 1, 2))):
        at = dice.randrange(len(lines))
        key, colon, value = lines[at].partition(": ")
        many = dice.choice((2, 9, 30, 400, 3000))
        word = dice.choice(WORDS)[:40]
        value = dice.choice(
            (
                dice.choice("[{-?(") * many,
                "[" * many + value + "]" * many,
                "{a: " * many + value + "}" * many,
                "- " * many + value,
                f"&a {value}",
                "*a",
                f"&a [{value}, *a]",
                f"[&a {word}, {'*a, ' * many}]",
                f"{{<<: *a, {word}: &a {value}}}",
                dice.choice("0123456789") * many,
                f"{value} x{'9' * min(many, 30)}",
                value + f" {word}" * many,
                dice.choice(STRANGE) * many,
                "".join(dice.choice((letter, letter, dice.choice(STRANGE))) for letter in value),
            )
        )
        lines[at] = key + (colon or ": ") + value
    return "\n".join(lines).encode("utf-8", "surrogatepass")


def _encoded(dice: Random) -> bytes:
    """In an encoding that isn't UTF-8, perhaps with a mark at its start, or in two encodings."""
    text = dice.choice(sources()).replace("o", dice.choice(("o", "ö", "日", "\U0001f3b8")))
    data = text.encode(
        dice.choice(("utf-8-sig", "utf-16", "utf-16-be", "utf-32", "cp1252", "shift_jis", "utf-7")),
        "ignore",
    )
    at = dice.randrange(len(data))
    match dice.randrange(4):
        case 0:
            data = data[:at] + text[at:].encode("utf-8")
        case 1:
            data = b"\xef\xbb\xbf" + data
        case 2:
            data = data.replace(b"\n", dice.choice((b"\r\n", b"\r", b"\n\r", b"\xc2\x85")))
    return data


def _holders(tree: Any) -> list[tuple[Any, Any]]:
    """Every mapping or list with each of its keys or places."""
    found = []
    pairs = tree.items() if isinstance(tree, dict) else enumerate(tree)
    for key, value in pairs:
        found.append((tree, key))
        if isinstance(value, dict | list):
            found += _holders(value)
    return found


def _put(holder: Any, key: str, value: Any) -> None:
    if isinstance(holder, dict):
        holder[key] = value
    else:
        holder.append(value)
