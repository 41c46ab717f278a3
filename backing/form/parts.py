"""The keys of the parts, one table a part, and the patterns that may be written in place."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from backing.form.kinds import (
    Desk,
    Kind,
    Refusal,
    choice,
    either,
    named,
    parse_text,
    parsed,
    record,
    shown,
    text_of,
    whole,
    words,
)
from backing.form.model import BassPattern, DrumPattern, Heard, PickPattern, StrumPattern
from backing.form.patterns import read_degrees, read_hits, read_pick, read_strum
from backing.form.tab import TabError, read_riff
from backing.form.tree import Node
from backing.theory.general_midi import percussion_number
from backing.theory.rhythm import parse_note_value

ON_OFF = MappingProxyType({"on": True, "off": False})
CLICK_SOUNDS = ("wood", "sticks", "claves", "cowbell")
GUITAR_SOUNDS = ("steel", "nylon", "clean")
PAD_SOUNDS = ("organ", "strings", "piano")
#: Picked patterns that need not be written.
PICKS = ("alternating", "arpeggio")
BASS_LINES = ("roots", "beats", "root-fifth", "walking")
LEVELS = ("light", "medium", "full")
BEATS = (
    "eighths",
    "shuffle",
    "half-time",
    "brushes",
    "train",
    "waltz",
    "six-eight",
    "five",
    "seven",
)
SUBDIVISIONS = MappingProxyType(
    {"1/8": Fraction(1, 8), "1/8t": Fraction(1, 12), "1/16": Fraction(1, 16)}
)
NAME = words("a name", 60)
#: Note values and names as an editor can check them.
NOTE_VALUE = r"[1-9][0-9]{0,2}/(1|2|4|8|16|32|64)t?"
NAMED = MappingProxyType({"pattern": r"\S", "maxLength": 60})


def same(*known: str) -> dict[str, str]:
    """Words that stand for themselves."""
    return {word: word for word in known}


def step_of(text: str) -> Fraction:
    """What a step of a pattern is worth (ValueError): at most a whole note."""
    step = parse_note_value(text)
    if step > 1:
        raise ValueError(f"{text} is too long for a step; write 1/4, 1/8, 1/8t or 1/16")
    return step


STEP = parsed("step", step_of, NOTE_VALUE)


def tokens(token: str) -> dict[str, object]:
    """The schema of a pattern's text: tokens with blanks or bar lines between."""
    pattern = rf"^[\s|]*({token})([\s|]+({token}))*[\s|]*$"
    return {"type": ["string", "integer"], "pattern": pattern, "minimum": 1, "maximum": 13}


def _written(schema: Mapping[str, object]) -> Kind:
    """Text of a grammar of its own, taken with its node."""
    return Kind(lambda node, desk: (node, text_of(node, "this")), schema)


def pattern(
    what: str, read_play: Callable[[str], Any], build: Callable[..., Any], token: str
) -> Kind:
    """A pattern: its step, and its tokens (as an editor can check them) under `play`."""
    table = {"step": STEP, "play": _written(tokens(token))}
    raw = record(what, table, required=("step", "play"))

    def read(node: Node, desk: Desk) -> Any:
        said = raw.read(node, desk)
        if "step" not in said or "play" not in said:
            return None
        play, text = said["play"]
        try:
            return build(said["step"], parse_text(play, text, read_play))
        except Refusal as refusal:
            desk.refuse(play, refusal.message, refusal.mend, refusal.offset)
            return None

    return Kind(read, raw.schema)


_SIX_ROWS = r"^\s*(\S[^\n]*\n\s*){5}\S"


def _riff() -> Kind:
    """A riff: what one cell is worth, and its tab."""
    table = {"step": STEP, "tab": _written({"type": "string", "pattern": _SIX_ROWS})}
    raw = record("a riff", table, required=("step", "tab"))

    def read(node: Node, desk: Desk) -> Any:
        said = raw.read(node, desk)
        if "step" not in said or "tab" not in said:
            return None
        tab, _ = said["tab"]
        try:
            return read_riff(said["step"], tab.text)
        except TabError as fault:
            desk.refuse(tab, fault.message, fault.mend, fault.offset)
            return None

    return Kind(read, raw.schema)


def _drum_lines() -> Kind:
    """A beat written in place: its step, and a line for each drum under `play`."""
    lines = named("play", _drum, Kind(_read_hits, tokens("x>?|-")), {"minProperties": 1})
    raw = record("a beat", {"step": STEP, "play": lines}, required=("step", "play"))

    def read(node: Node, desk: Desk) -> DrumPattern | None:
        said = raw.read(node, desk)
        if "play" in said and not said["play"].node.pairs:
            raise Refusal("this beat has no drum.", 'Write one a line:  kick: "x - x -"')
        if "step" not in said or not said.get("play"):
            return None
        found = sorted((percussion_number(name), bars) for name, bars in said["play"].items())
        return DrumPattern(said["step"], tuple(found))

    return Kind(read, raw.schema)


def _drum(text: str) -> str:
    percussion_number(text)
    return text


def _read_hits(node: Node, desk: Desk) -> Any:
    return parse_text(node, text_of(node, "a drum's line"), read_hits)


def _heard() -> Kind:
    def read(node: Node, desk: Desk) -> Heard:
        text = text_of(node, "heard")
        match = re.fullmatch(r"([0-9]{1,3})\s+of\s+([0-9]{1,3})", text)
        if not match or not 1 <= int(match[1]) <= int(match[2]):
            raise Refusal(
                f"heard can't be {shown(text)}.",
                "Write how many of how many bars click, such as: 2 of 4",
            )
        return Heard(int(match[1]), int(match[2]))

    return Kind(read, {"type": "string", "pattern": r"^[0-9]{1,3}\s+of\s+[0-9]{1,3}$"})


#: What the schema says of a guitar part: one thing to play.
_ONE_OF = {
    "not": {
        "anyOf": [
            {"required": pair} for pair in (["strum", "pick"], ["strum", "riff"], ["pick", "riff"])
        ]
    }
}


def _part(name: str, table: dict[str, Kind]) -> Kind:
    """A part: `off`, `on`, or a mapping of its keys and the common ones."""
    common = {"volume": whole("volume", 0, 127), "pan": whole("pan", -64, 63)}
    rules = _ONE_OF if "strum" in table else {}
    return either(choice(name, ON_OFF), record(name, {**table, **common}, rules=rules))


STRUM = pattern("a strum", read_strum, StrumPattern, "[DUx]>?|-")
PICK = pattern("a pick", read_pick, PickPattern, r"p2?|[ima]|-|\((p2|[pima])+\)")
RIFF = _riff()
CLICK = {
    "sound": choice("sound", same(*CLICK_SOUNDS)),
    "subdivide": choice("subdivide", SUBDIVISIONS),
    "accent": choice("accent", ON_OFF),
    "heard": _heard(),
}
BASS = {
    "line": either(
        choice("line", same(*BASS_LINES)),
        pattern("a bass line", read_degrees, BassPattern, "[b#]?([1-9]|1[0-3])|-"),
    )
}
GUITAR = {
    "strum": either(NAME, STRUM),
    "pick": either(NAME, PICK),
    "riff": either(NAME, RIFF),
    "sound": choice("sound", same(*GUITAR_SOUNDS)),
}
DRUMS = {
    "beat": either(choice("beat", same(*BEATS)), _drum_lines()),
    "fill": choice("fill", ON_OFF),
    "level": choice("level", same(*LEVELS)),
}
PAD = {"sound": choice("sound", same(*PAD_SOUNDS))}
PARTS = {
    "click": _part("click", CLICK),
    "bass": _part("bass", BASS),
    "guitar": _part("guitar", GUITAR),
    "lead": _part("lead", GUITAR),
    "drums": _part("drums", DRUMS),
    "pad": _part("pad", PAD),
}
