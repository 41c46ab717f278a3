"""Every key of the form language: what may stand where, of which kind.

These tables are the one list of the language's keys. The reader walks them, and so
does everything that has to know the language.
"""

from __future__ import annotations

import re
from fractions import Fraction
from types import MappingProxyType

from backing.form.kinds import (
    Desk,
    Kind,
    Refusal,
    choice,
    decimal,
    either,
    later,
    list_of,
    named,
    near,
    parsed,
    record,
    shown,
    text_of,
    whole,
    words,
)
from backing.form.model import Heard, StrumPattern
from backing.form.patterns import read_strum
from backing.form.tree import Node
from backing.theory.chords import parse_chord
from backing.theory.fretboard import parse_fingering
from backing.theory.keys import parse_key
from backing.theory.rhythm import parse_meter, parse_note_value

MAX_TIMES = 9999
ON_OFF = MappingProxyType({"on": True, "off": False})
CLICK_SOUNDS = ("wood", "sticks", "claves", "cowbell")
GUITAR_SOUNDS = ("steel", "nylon", "clean")
BASS_LINES = ("roots", "beats")
SUBDIVISIONS = MappingProxyType(
    {"1/8": Fraction(1, 8), "1/8t": Fraction(1, 12), "1/16": Fraction(1, 16)}
)


def _same(*known: str) -> dict[str, str]:
    return {word: word for word in known}


def name_of(what: str) -> object:
    """A checker of the writer's own names: one line, at most 60 characters, nothing invisible."""

    def check(text: str) -> str:
        name = text.strip()
        if not name or len(name) > 60 or not name.isprintable():
            raise ValueError(f"{what} name can't be {shown(text)}. Use a short printable name.")
        return name

    return check


def section_name(text: str) -> str:
    """A section's name, which must not look like the rest of a form entry (ValueError)."""
    name = str(name_of("a section's")(text))  # type: ignore[operator]
    if re.search(r"(^|\s)(x\d+|bars\s+\S+)$", name):
        raise ValueError(
            f"a section can't be called {shown(name)}: a form entry would read its end as a count."
        )
    return name


def chord_name(text: str) -> str:
    """A chord symbol as the chord itself prints it (ValueError)."""
    return str(parse_chord(text.strip()))


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


def _bar_range() -> Kind:
    def read(node: Node, desk: Desk) -> tuple[int, int]:
        text = text_of(node, "bars")
        match = re.fullmatch(r"(\d{1,5})(?:\s*-\s*(\d{1,5}))?", text)
        if not match:
            raise Refusal(
                f"bars can't be {shown(text)}.", "Write the first and last bar, such as: 5-8"
            )
        return int(match[1]), int(match[2] or match[1])

    return Kind(
        read, {"type": ["string", "integer"], "pattern": r"^[0-9]{1,5}(\s*-\s*[0-9]{1,5})?$"}
    )


def _endings() -> Kind:
    """Endings by pass: `1`, `1-3` or `1,3`; each pass once, from 1 up without a hole."""

    def read(node: Node, desk: Desk) -> list[tuple[tuple[int, ...], Node]]:
        from backing.form.kinds import read_pairs

        if node.kind != "mapping" or not node.pairs:
            raise Refusal(
                "endings is a mapping from passes to bars.", 'Write one a line:  1: "| D | E7 |"'
            )
        endings: list[tuple[tuple[int, ...], Node]] = []
        taken: set[int] = set()
        for key, value in read_pairs(node, desk, "endings"):
            passes = _passes(key.text)
            if not passes:
                desk.refuse(
                    key,
                    f"an ending can't be called {shown(key.text)}.",
                    "Name its passes: 1, 2 or 1-3.",
                )
            elif taken & set(passes):
                desk.refuse(
                    key,
                    f"pass {min(taken & set(passes))} has an ending already.",
                    "Name each pass once.",
                )
            else:
                taken |= set(passes)
                endings.append((passes, value))
        if taken and taken != set(range(1, max(taken) + 1)):
            missing = min(set(range(1, max(taken) + 1)) - taken)
            desk.refuse(
                node, f"pass {missing} has no ending.", "Number the endings from 1 without a hole."
            )
        return endings

    return Kind(
        read,
        {
            "type": "object",
            "minProperties": 1,
            "additionalProperties": False,
            "patternProperties": {r"^[0-9]+(\s*[-,]\s*[0-9]+)*$": dict(BARS.schema)},
        },
    )


def _passes(text: str) -> tuple[int, ...]:
    passes: list[int] = []
    for piece in text.split(","):
        match = re.fullmatch(r"\s*(\d{1,3})(?:\s*-\s*(\d{1,3}))?\s*", piece)
        if not match:
            return ()
        passes += range(int(match[1]), int(match[2] or match[1]) + 1)
    return tuple(passes) if passes and min(passes) > 0 and len(set(passes)) == len(passes) else ()


def _pattern() -> Kind:
    """A strum written in place: its step and its strokes."""
    raw = record(
        "a strum",
        {
            "step": choice(
                "step", {t: parse_note_value(t) for t in ("1/4", "1/8", "1/8t", "1/16", "1/16t")}
            ),
            "play": Kind(
                lambda node, desk: (node, text_of(node, "play")), {"type": "string", "minLength": 1}
            ),
        },
        required=("step", "play"),
    )

    def read(node: Node, desk: Desk) -> StrumPattern | None:
        said = raw.read(node, desk)
        if "step" not in said or "play" not in said:
            return None
        play, text = said["play"]
        try:
            return StrumPattern(said["step"], read_strum(text))
        except ValueError as error:
            desk.refuse(play, str(error), offset=getattr(error, "offset", 0))
            return None

    return Kind(read, raw.schema)


def _part(name: str, table: dict[str, Kind]) -> Kind:
    """A part: `off`, `on`, or a mapping of its keys and the common ones."""
    common = {"volume": whole("volume", 0, 127), "pan": whole("pan", -64, 63)}
    return either(choice(name, ON_OFF), record(name, {**table, **common}))


def _silent(name: str) -> Kind:
    """A part that nobody plays yet: `off` is all it can be."""

    def read(node: Node, desk: Desk) -> bool:
        if node.kind == "text" and node.text == "off":
            return False
        raise Refusal(
            f"the part {name} is not yet played.",
            f"Write  {name}: off, or leave it out, until then.",
        )

    return Kind(read, {"enum": ["off", False]})


def _tempo(ramp: bool) -> Kind:
    """A bare number or a mapping; a change (`to`, `over`, `from`) belongs to a section or entry."""
    table: dict[str, Kind] = {
        "bpm": BPM,
        "beat": parsed("beat", parse_note_value, r"^[0-9]+/[0-9]+$"),
    }
    if ramp:
        table |= {
            "to": BPM,
            "over": whole("over", 1, 64),
            "from": choice("from", {"first": True, "last": False}),
        }
    else:
        table |= {key: Kind(_refuse_song_ramp, {"not": {}}) for key in ("to", "over", "from")}
    return either(BPM, record("tempo", table))


def _refuse_song_ramp(node: Node, desk: Desk) -> object:
    raise Refusal(
        "a whole song has no even change of tempo.", "Write it in the section that changes."
    )


BPM = decimal("a tempo", 10, 500)
BARS = Kind(lambda node, desk: node, {"type": "string", "minLength": 1})
NAME = words("a name", 60)

CLICK = {
    "sound": choice("sound", _same(*CLICK_SOUNDS)),
    "subdivide": choice("subdivide", SUBDIVISIONS),
    "accent": choice("accent", ON_OFF),
    "heard": _heard(),
}
BASS = {"line": choice("line", _same(*BASS_LINES))}
GUITAR = {
    "strum": either(NAME, _pattern()),
    "pick": later("pick"),
    "riff": later("riff"),
    "sound": choice("sound", _same(*GUITAR_SOUNDS)),
}
PARTS = {
    "click": _part("click", CLICK),
    "bass": _part("bass", BASS),
    "guitar": _part("guitar", GUITAR),
    "lead": _silent("lead"),
    "drums": _silent("drums"),
    "pad": _silent("pad"),
}
METER = parsed("meter", parse_meter)
SETTINGS = {
    "meter": METER,
    "parts": record("parts", PARTS),
    **{key: later(key) for key in ("feel", "dynamic", "note", "words", "per-row")},
}
SECTION = {
    "bars": BARS,
    "times": whole("times", 1, MAX_TIMES),
    "endings": _endings(),
    "tempo": _tempo(ramp=True),
    **SETTINGS,
    "on-pass": later("on-pass"),
}
ENTRY = {
    "section": NAME,
    "times": whole("times", 1, MAX_TIMES),
    "bars": _bar_range(),
    "ending": whole("ending", 1, 999),
    "label": words("label", 60),
    "tempo": _tempo(ramp=True),
    "parts": record("parts", PARTS),
    **{key: later(key) for key in ("transpose", "dynamic", "note")},
}
SONG = {
    "title": words("title"),
    "by": words("by"),
    "tempo": _tempo(ramp=False),
    "key": parsed("key", parse_key),
    "capo": whole("capo", 0, 11),
    "count-in": whole("count-in", 0, 8),
    **SETTINGS,
    "shapes": named("shapes", chord_name, parsed("a shape", parse_fingering)),
    "strums": named("strums", name_of("a strum's"), _pattern()),  # type: ignore[arg-type]
    "sections": named("sections", section_name, record("a section", SECTION, required=("bars",))),
    "form": list_of(
        "form", either(words("a form entry"), record("a form entry", ENTRY, required=("section",)))
    ),
    **{key: later(key) for key in ("tuning", "pitch", "picks", "riffs", "pickup", "practice")},
}
SONG_REQUIRED = ("title", "tempo", "sections", "form")

__all__ = ["ENTRY", "PARTS", "SECTION", "SONG", "SONG_REQUIRED", "near"]
