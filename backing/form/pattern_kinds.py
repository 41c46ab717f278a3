"""The kinds of values in which a writer types out what is played: steps, patterns and riffs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from backing.form.kinds import BadValue, Kind, Reading, named, parse_text, record, text_of
from backing.form.pattern_records import BassPattern, DrumPattern, PickPattern, StrumPattern
from backing.form.patterns import read_degrees, read_hits, read_pick, read_strum
from backing.form.scalars import choice, parsed, words
from backing.form.tab_rows import BadTab, read_riff
from backing.form.tree import Node
from backing.theory.general_midi import percussion_number
from backing.theory.rhythm import parse_note_value

NAME = words("a name", 60)._replace(free=False)
#: How an editor can check a note value, and a name.
NOTE_VALUE = r"[1-9][0-9]{0,2}/(1|2|4|8|16|32|64)t?"
NAMED = MappingProxyType({"pattern": r"\S", "maxLength": 60})
_ROWS = r"^\s*(\S[^\n]*\n\s*){3}\S"


def step_of(text: str) -> Fraction:
    """How long a step of a pattern is, a whole note at most; raises ValueError."""
    step = parse_note_value(text)
    if step > 1:
        raise ValueError(f"{text} is too long for one step; write 1/4, 1/8, 1/8t or 1/16")
    return step


STEP = parsed("step", step_of, NOTE_VALUE)


def tokens(token: str) -> dict[str, object]:
    """The schema of a pattern's text: tokens with spaces or bar lines between."""
    pattern = rf"^[\s|]*({token})([\s|]+({token}))*[\s|]*$"
    return {"type": ["string", "integer"], "pattern": pattern, "minimum": 1, "maximum": 13}


def _written(schema: Mapping[str, object]) -> Kind:
    """Text that is read later, with its node: its grammar depends on the keys beside it."""
    return Kind(lambda node, reading: (node, text_of(node, "this")), schema)


def pattern(
    what: str, read_play: Callable[[str], Any], build: Callable[..., Any], token: str
) -> Kind:
    """A pattern: its `step`, and its tokens under `play`; an editor checks each by `token`."""
    table = {"step": STEP, "play": _written(tokens(token))}
    raw = record(what, table, required=("step", "play"))

    def read(node: Node, reading: Reading) -> Any:
        keys = raw.read(node, reading)
        if "step" not in keys or "play" not in keys:
            return None
        play, text = keys["play"]
        try:
            return build(keys["step"], parse_text(play, text, read_play))
        except BadValue as bad:
            reading.report(play, bad.message, bad.fix, bad.offset)
            reading.hides = True
            return None

    return Kind(read, raw.schema)


def _riff() -> Kind:
    """A riff: its tab, how long one cell of it is, and how its chords and stops are played."""
    table = {
        "step": STEP,
        "tab": _written({"type": "string", "pattern": _ROWS}),
        "chords": choice("chords", {"together": False, "rolled": True}),
        "plays-through": choice("plays-through", {"on": True, "off": False}),
    }
    raw = record("a riff", table, required=("step", "tab"))

    def read(node: Node, reading: Reading) -> Any:
        keys = raw.read(node, reading)
        if "tab" not in keys:
            return None
        tab, _ = keys["tab"]
        reading.tabs.append(tab)
        try:  # without a step as well, so that every problem is found at once
            riff = read_riff(keys.get("step", Fraction(1, 8)), tab.text)
        except BadTab as bad:
            for problem in bad.problems:
                reading.report(tab, problem.message, problem.fix, problem.offset)
            reading.hides = True
            return None
        if "step" not in keys:
            return None
        return riff._replace(
            plays_through=keys.get("plays-through", False), rolled=keys.get("chords", False)
        )

    return Kind(read, raw.schema)


def _drum_lines() -> Kind:
    """A beat written in place: its `step`, and a line for each drum under `play`."""
    lines = named("play", _drum, Kind(_read_hits, tokens("x>?|-")), {"minProperties": 1})
    raw = record("a beat", {"step": STEP, "play": lines}, required=("step", "play"))

    def read(node: Node, reading: Reading) -> DrumPattern | None:
        keys = raw.read(node, reading)
        if "play" in keys and not keys["play"].node.pairs:
            raise BadValue(
                "this beat has no drums.", 'Write a line for each drum:  kick: "x - x -"'
            )
        if "step" not in keys or not keys.get("play"):
            return None
        found = sorted((percussion_number(name), bars) for name, bars in keys["play"].items())
        return DrumPattern(keys["step"], tuple(found))

    return Kind(read, raw.schema)


def _drum(text: str) -> str:
    percussion_number(text)
    return text


def _read_hits(node: Node, reading: Reading) -> Any:
    try:
        return parse_text(node, text_of(node, "a drum's line"), read_hits)
    except BadValue:
        reading.hides = True
        raise


STRUM = pattern("a strum", read_strum, StrumPattern, r"[DU]>?\.?|x>?|p2?\.?|-")
PICK = pattern("a pick", read_pick, PickPattern, r"p2?|[ima]|-|\((p2|[pima])+\)")
BASS_LINE = pattern("a bass line", read_degrees, BassPattern, "[b#]?([1-9]|1[0-3])|-")
RIFF = _riff()
BEAT = _drum_lines()
