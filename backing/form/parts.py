"""The keys of the parts, one table a part, and the patterns that may be written in place."""

from __future__ import annotations

import re
from collections.abc import Callable
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


def same(*known: str) -> dict[str, str]:
    """Words that stand for themselves."""
    return {word: word for word in known}


def step_of(text: str) -> Fraction:
    """What a step of a pattern is worth (ValueError): at most a whole note."""
    step = parse_note_value(text)
    if step > 1:
        raise ValueError(f"{text} is too long for a step; write 1/4, 1/8, 1/8t or 1/16")
    return step


STEP = parsed("step", step_of, r"^[0-9]+/[0-9]+t?$")
_WRITTEN = Kind(
    lambda node, desk: (node, text_of(node, "this")), {"type": "string", "minLength": 1}
)


def pattern(what: str, read_play: Callable[[str], Any], build: Callable[..., Any]) -> Kind:
    """A pattern: its step, and its tokens under `play`."""
    raw = record(what, {"step": STEP, "play": _WRITTEN}, required=("step", "play"))

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


def _riff() -> Kind:
    """A riff: what one cell is worth, and its tab."""
    raw = record("a riff", {"step": STEP, "tab": _WRITTEN}, required=("step", "tab"))

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
    lines = named("play", _drum, Kind(_read_hits, {"type": "string", "minLength": 1}))
    raw = record("a beat", {"step": STEP, "play": lines}, required=("step", "play"))

    def read(node: Node, desk: Desk) -> DrumPattern | None:
        said = raw.read(node, desk)
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
        match = re.fullmatch(r"(\d{1,3})\s+of\s+(\d{1,3})", text)
        if not match or not 1 <= int(match[1]) <= int(match[2]):
            raise Refusal(
                f"heard can't be {shown(text)}.",
                "Write how many of how many bars click, such as: 2 of 4",
            )
        return Heard(int(match[1]), int(match[2]))

    return Kind(read, {"type": "string", "pattern": r"^[0-9]{1,3}\s+of\s+[0-9]{1,3}$"})


def _part(name: str, table: dict[str, Kind]) -> Kind:
    """A part: `off`, `on`, or a mapping of its keys and the common ones."""
    common = {"volume": whole("volume", 0, 127), "pan": whole("pan", -64, 63)}
    return either(choice(name, ON_OFF), record(name, {**table, **common}))


STRUM = pattern("a strum", read_strum, StrumPattern)
PICK = pattern("a pick", read_pick, PickPattern)
RIFF = _riff()
CLICK = {
    "sound": choice("sound", same(*CLICK_SOUNDS)),
    "subdivide": choice("subdivide", SUBDIVISIONS),
    "accent": choice("accent", ON_OFF),
    "heard": _heard(),
}
BASS = {
    "line": either(
        choice("line", same(*BASS_LINES)), pattern("a bass line", read_degrees, BassPattern)
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
