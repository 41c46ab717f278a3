"""The table of parts: everything that the program knows of a part but how it plays.

To add a player: a row here, `backing/players/NAME.py` with its `play`, and its line in the
reference (`forms/README.md`). The language, its schema, the command line, the players,
practice versions, the chart, the page, the checks and the tests all read this table.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType
from typing import Any, Generic, NamedTuple, TypeVar

from backing.form.kinds import BadValue, Kind, Reading, either, quoted, record, text_of
from backing.form.model import ONE_OF_THESE, PartSettings
from backing.form.pattern_kinds import BASS_LINE, BEAT, NAME, PICK, RIFF, STRUM
from backing.form.pattern_records import BassPattern, DrumPattern, Plays
from backing.form.scalars import choice, whole
from backing.form.tab import Riff
from backing.form.tree import Node
from backing.theory.bass_lines import BASS_LINES
from backing.theory.built_in_beats import BEATS, LEVELS
from backing.theory.general_midi import CLICK_SOUNDS
from backing.theory.instruments import Instrument

ON_OFF = MappingProxyType({"on": True, "off": False})
_SUBDIVISIONS = MappingProxyType(
    {"1/8": Fraction(1, 8), "1/8t": Fraction(1, 12), "1/16": Fraction(1, 16)}
)
#: The part that counts in, and that no player's time or touch ever moves.
CLICK = "click"
#: The part that plays a kit.
DRUMS = "drums"

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class PartKey(Generic[T]):
    """A key of a part: what it is for, as editors show it, and how its value is read."""

    name: str
    about: str
    kind: Kind

    def of(self, settings: PartSettings) -> T | None:
        """Its value in a part's settings; None where nothing is written."""
        value: T | None = settings.values.get(self.name)
        return value


class Part(NamedTuple):
    """A part. All but its name, title and description are what holds unless a form says otherwise.

    `programs` are General MIDI programs (from 0) by what a form calls the sound, the default
    one first; a part without any is percussion. `on` is whether it plays where the form
    doesn't mention it. `level_lu` is where it lies in the balance: LU above the guitar (this
    project's judgement: no published figures for these parts were found). `pan` is -64 (left)
    to 63, and `reverb` how much it sends to the room, 0 to 127. `player` is the module in
    `backing/players/` that plays it, if not the one with the part's own name.
    """

    name: str
    title: str
    about: str
    keys: tuple[PartKey[Any], ...] = ()
    programs: Mapping[str, int] = MappingProxyType({})
    on: bool = False
    level_lu: int = 0
    pan: int = 0
    reverb: int = 0
    player: str = ""
    is_plural: bool = False
    """Whether its name takes a plural verb: the drums play, the bass plays."""

    @property
    def module(self) -> str:
        """The name of its player's module."""
        return self.player or self.name


def title_of(part: Part, instrument: Instrument) -> str:
    """What outputs call a part: for a student of the ukulele, the guitar is the Ukulele."""
    return instrument.title if part.name == instrument.part else part.title


def usual_program(part: Part, instrument: Instrument) -> int:
    """The General MIDI program of a pitched part where the form doesn't say."""
    if part.module == instrument.part:
        return part.programs[instrument.sound]
    first, *_ = part.programs.values()
    return first


def same(*known: str) -> dict[str, str]:
    """Words that stand for themselves."""
    return {word: word for word in known}


def _sound(sounds: Iterable[str]) -> PartKey[str]:
    return PartKey("sound", "What it is played on.", choice("sound", same(*sounds)))


def _plays() -> Kind:
    def read(node: Node, reading: Reading) -> Plays:
        text = text_of(node, "plays")
        match = re.fullmatch(r"([0-9]{1,3})\s+of\s+([0-9]{1,3})", text)
        if not match or not 1 <= int(match[1]) <= int(match[2]):
            raise BadValue(
                f"{quoted(text)} doesn't tell which bars click.",
                "For two bars with clicks, then two without, write: 2 of 4",
            )
        return Plays(int(match[1]), int(match[2]))

    return Kind(read, {"type": "string", "pattern": r"^[0-9]{1,3}\s+of\s+[0-9]{1,3}$"})


SUBDIVIDE: PartKey[Fraction] = PartKey(
    "subdivide", "Softer clicks between the beats.", choice("subdivide", _SUBDIVISIONS)
)
ACCENT: PartKey[bool] = PartKey(
    "accent", "Whether bar lines and groups click louder.", choice("accent", ON_OFF)
)
PLAYS: PartKey[Plays] = PartKey(
    "plays", "How many of how many bars click, such as 2 of 4.", _plays()
)
LINE: PartKey[str | BassPattern] = PartKey(
    "line",
    "What the bass plays: a word, or degrees of the chord by step.",
    either(choice("line", same(*BASS_LINES)), BASS_LINE),
)
DRUM_BEAT: PartKey[str | DrumPattern] = PartKey(
    "beat",
    "A beat by name, or lines of hits by step.",
    either(choice("beat", same(*(beat.name for beat in BEATS))), BEAT),
)
FILL: PartKey[bool] = PartKey(
    "fill", "Whether the drums fill the bar before a section.", choice("fill", ON_OFF)
)
LEVEL: PartKey[str] = PartKey("level", "How full the beat is.", choice("level", same(*LEVELS)))

RIFF_OF_PART: PartKey[str | Riff] = PartKey(
    "riff", "The name of a riff, or one written in place.", either(NAME, RIFF)
)
_GUITAR_SOUNDS = MappingProxyType({"steel": 25, "nylon": 24, "clean": 27})
_GUITAR_KEYS: tuple[PartKey[Any], ...] = (
    PartKey("strum", "The name of a strum, or one written in place.", either(NAME, STRUM)),
    PartKey("pick", "The name of a picked pattern, or one written in place.", either(NAME, PICK)),
    RIFF_OF_PART,
    _sound(_GUITAR_SOUNDS),
)
_PAD_SOUNDS = MappingProxyType({"organ": 16, "strings": 48, "piano": 0})

_ROWS = (
    Part(
        "click",
        "Click",
        "The metronome.",
        (_sound(CLICK_SOUNDS), SUBDIVIDE, ACCENT, PLAYS),
        on=True,
        level_lu=-7,
    ),
    Part(
        "bass",
        "Bass",
        "The bass guitar: a line or a riff.",
        (LINE, RIFF_OF_PART),
        MappingProxyType({"fingered": 33}),
        on=True,
        level_lu=-4,
        reverb=8,
    ),
    Part(
        "guitar",
        "Guitar",
        "The guitar: a strum, a picked pattern or a riff.",
        _GUITAR_KEYS,
        _GUITAR_SOUNDS,
        on=True,
        pan=-14,
        reverb=32,
    ),
    Part(
        "lead",
        "Lead",
        "A second guitar.",
        _GUITAR_KEYS,
        _GUITAR_SOUNDS,
        player="guitar",
        level_lu=3,
        pan=20,
        reverb=40,
    ),
    Part(
        DRUMS,
        "Drums",
        "The drum kit.",
        (DRUM_BEAT, FILL, LEVEL),
        is_plural=True,
        level_lu=-5,
        reverb=20,
    ),
    Part(
        "pad",
        "Pad",
        "Held chords beneath.",
        (_sound(_PAD_SOUNDS),),
        _PAD_SOUNDS,
        level_lu=-10,
        reverb=48,
    ),
)
#: Every part by name, in the order of the mix.
PARTS: Mapping[str, Part] = MappingProxyType({part.name: part for part in _ROWS})
#: The parts that a guitarist plays, and those that may play a riff.
GUITARS = tuple(part for part in _ROWS if part.module == "guitar")
TABBED = tuple(part for part in _ROWS if RIFF_OF_PART in part.keys)
#: The keys that every part has.
COMMON_KEYS: tuple[PartKey[int], ...] = (
    PartKey("volume", "0 (silent) to 127; 100 is in balance.", whole("volume", 0, 127)),
    PartKey("pan", "From -64 (left) to 63 (right).", whole("pan", -64, 63)),
)


def _kind(part: Part) -> Kind:
    """A part as written: `off`, `on`, or a mapping of its keys and the common ones."""
    table = {key.name: key.kind for key in (*part.keys, *COMMON_KEYS)}
    pairs = [
        [first, second]
        for place, first in enumerate(ONE_OF_THESE)
        for second in ONE_OF_THESE[place + 1 :]
        if {first, second} <= set(table)
    ]
    rules = {"not": {"anyOf": [{"required": pair} for pair in pairs]}} if pairs else {}
    return either(choice(part.name, ON_OFF), record(part.name, table, rules=rules))


#: How each part of a pickup is read: guitars and the bass may play a riff there.
PICKUP_KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        part.name: record(
            part.name,
            {key.name: key.kind for key in part.keys if key.name == "riff"},
            required=("riff",),
        )
        for part in _ROWS
        if any(key.name == "riff" for key in part.keys)
    }
)
#: How each part is read.
PART_KINDS: Mapping[str, Kind] = MappingProxyType({name: _kind(PARTS[name]) for name in PARTS})
