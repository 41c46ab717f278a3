"""Every key of the form language: where it is allowed and what kind of value it takes.

These tables are the only list of the language's keys. The reader walks them, and so
does everything else that has to know the language.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction

from backing.form.exercises import exercise_table, practice_kind
from backing.form.kinds import (
    NEVER,
    BadValue,
    Kind,
    Reading,
    either,
    list_of,
    named,
    parse_text,
    quoted,
    record,
    text_of,
)
from backing.form.model import Feel
from backing.form.parts import ON_OFF, PART_KINDS, PICKUP_KINDS, same
from backing.form.pass_kinds import by_pass, endings_kind
from backing.form.pattern_kinds import NAME, NAMED, NOTE_VALUE, PICK, RIFF, STRUM
from backing.form.scalars import choice, decimal, parsed, whole, words
from backing.form.tree import Node
from backing.form.words import words_kind
from backing.text.printable import printable
from backing.theory.chords import parse_chord
from backing.theory.fretboard import Fingering, parse_fingering
from backing.theory.instruments import INSTRUMENTS
from backing.theory.keys import parse_key
from backing.theory.rhythm import parse_meter, parse_note_value
from backing.theory.shells import VOICINGS
from backing.theory.tunings import named_tunings

MAX_TIMES = 9999


def name_of(what: str) -> Callable[[str], str]:
    """A check for names that the writer chooses: one visible line of at most 60 characters."""

    def check(text: str) -> str:
        name = " ".join(text.split())
        if not name or len(name) > 60 or name != printable(name):
            raise ValueError(
                f"{quoted(text)} can't be used as {what} name; write a short name on one line"
            )
        return name

    return check


#: A note with its octave, and one without.
_NOTE, _LETTER = r"[A-G][#♯b♭]?-?[0-9]{1,2}", r"[A-G][#♯b♭]?"
_COUNTED = r"(^|\s)(x[0-9]+|bars\s+\S+)$"


def section_name(text: str) -> str:
    """A section's name, which can't look like the rest of a form entry (ValueError)."""
    name = name_of("a section's")(text)
    if re.search(_COUNTED, name):
        raise ValueError(
            f"a section can't be named {quoted(name)}: its end would be read as a "
            "count in the form list; choose another name"
        )
    return name


def chord_name(text: str) -> str:
    """A chord symbol as the chord itself prints it (ValueError)."""
    if len(text) > 40:
        raise ValueError(
            f"{quoted(text)} is too long for one chord; write a chord such as A, F#m7 or D/F#"
        )
    return str(parse_chord(text))


def _bar_range() -> Kind:
    def read(node: Node, reading: Reading) -> tuple[int, int]:
        text = text_of(node, "bars")
        match = re.fullmatch(r"([0-9]{1,5})(?:\s*-\s*([0-9]{1,5}))?", text)
        if not match:
            raise BadValue(
                f"can't read {quoted(text)} as bars.", "Write the first and last bar, such as: 5-8"
            )
        return int(match[1]), int(match[2] or match[1])

    pattern = r"^\s*[0-9]{1,5}(\s*-\s*[0-9]{1,5})?\s*$"
    return Kind(read, {"type": ["string", "integer"], "pattern": pattern, "minimum": 1})


def _feel() -> Kind:
    """`straight`, `swing` (2/1 on eighths), or a mapping with the ratio and the level."""
    bare = choice("feel", {"straight": Feel(), "swing": Feel(Fraction(2))})
    raw = record(
        "feel",
        {
            "swing": parsed("swing", _ratio, r"by-tempo|[0-9]{1,3}/[0-9]{1,3}"),
            "on": choice("on", {"1/8": Fraction(1, 8), "1/16": Fraction(1, 16)}),
        },
        required=("swing",),
    )

    def read(node: Node, reading: Reading) -> Feel | None:
        written = raw.read(node, reading)
        if "swing" not in written:
            return None
        ratio = written["swing"]
        return Feel(None if ratio == "by-tempo" else ratio, written.get("on", Fraction(1, 8)))

    return either(bare, Kind(read, raw.schema))


def _ratio(text: str) -> Fraction | str:
    """A swing ratio, long to short (ValueError): 1/1 to 4/1, or by-tempo."""
    if text == "by-tempo":
        return text
    match = re.fullmatch(r"([0-9]{1,3})/([0-9]{1,3})", text)
    if not match or not int(match[2]) or not 1 <= Fraction(int(match[1]), int(match[2])) <= 4:
        raise ValueError(
            f"can't read {quoted(text)} as a swing ratio; write long to short (1/1 to 4/1), as in "
            "2/1, or by-tempo"
        )
    return Fraction(int(match[1]), int(match[2]))


def _shape() -> Kind:
    """Frets alone, or frets with fingers."""
    raw = record(
        "a shape",
        {
            "frets": words("frets", 40),
            "fingers": words("fingers", 40),
        },
        required=("frets",),
    )

    def read(node: Node, reading: Reading) -> Fingering | None:
        written = raw.read(node, reading)
        if "frets" not in written or set(written.nodes) - set(written):
            return None
        return parse_text(
            written.nodes["frets"],
            written["frets"],
            lambda text: _frets(text, written.get("fingers", "")),
        )

    pattern = r"[xX0-9]{4,8}|([xX]|[0-9]{1,2})(-([xX]|[0-9]{1,2})){3,7}"
    return either(parsed("a shape", _frets, pattern, ("string", "integer")), Kind(read, raw.schema))


def _frets(text: str, fingers: str = "") -> Fingering:
    if len(text) > 40:
        raise ValueError(
            f"can't read {quoted(text)} as a shape; write a fret for each string, such as x02220"
        )
    return parse_fingering(text, fingers)


def _tuning() -> Kind:
    """A name, letters or notes, as they are typed: the instrument decides what they mean."""
    notes = rf"{_NOTE}(\s+{_NOTE}){{3,7}}|{_LETTER}(\s*{_LETTER}){{3,7}}"
    written = parsed("tuning", str, notes)
    schema = {"anyOf": [{"enum": list(named_tunings())}, dict(written.schema)]}
    return Kind(written.read, schema)


def _tempo(ramp: bool) -> Kind:
    """A bare number or a mapping; a change (`to`, `over`, `from`) belongs to a section or entry."""
    table: dict[str, Kind] = {
        "bpm": BPM,
        "beat": parsed("beat", parse_note_value, NOTE_VALUE),
    }
    if ramp:
        table |= {
            "to": BPM,
            "over": whole("over", 1, 64),
            "from": choice("from", {"first": True, "last": False}),
        }
    else:
        table |= {key: Kind(_refuse_song_ramp, NEVER) for key in ("to", "over", "from")}
    needs = {"beat": ["bpm"], "to": ["over"], "over": ["to"], "from": ["to"]}
    rules = {"minProperties": 1, "dependentRequired": needs if ramp else {"beat": ["bpm"]}}
    return either(BPM, record("tempo", table, rules=rules))


def _refuse_song_ramp(node: Node, reading: Reading) -> object:
    raise BadValue(
        "the tempo of a whole song can't change gradually.", "Write the change in a section."
    )


BPM = decimal("a tempo", 10, 500)
BARS = Kind(lambda node, reading: node, {"type": "string", "pattern": r"\S"})

METER = parsed(
    "meter",
    parse_meter,
    r"[0-9]{1,3}\s*/\s*(1|2|4|8|16)(\s*\(\s*[0-9]+\s*(\+\s*[0-9]+\s*)*\))?",
)
_KEY = (
    r"[A-G][#♯b♭]?"
    r"(m|\s*([Mm][Ii][Nn]([Oo][Rr])?|[Mm][Aa][Jj]([Oo][Rr])?))?"
)
KEY = parsed("key", parse_key, _KEY)
#: An exercise of the week's set.
EXERCISE = exercise_table(KEY)
SETTINGS = {
    "meter": METER,
    "feel": _feel(),
    "dynamic": choice("dynamic", same("soft", "medium", "loud")),
    "parts": record("parts", PART_KINDS),
    "arrangement": NAME,
    "note": words("note", 300),
    "per-row": whole("per-row", 1, 16),
}
#: Not for a whole song: each section has its own.
WORDS = words_kind()
#: The bar before a line of the form grows into it: for sections and lines, not for a pass.
LIFT = choice("lift", ON_OFF)
PASS = {"bars": BARS, "tempo": _tempo(ramp=True), **SETTINGS, "words": WORDS}
ON_PASS = by_pass("on-pass", record("a pass", PASS))
SECTION = {
    "bars": BARS,
    "times": whole("times", 1, MAX_TIMES),
    "endings": endings_kind(BARS),
    "tempo": _tempo(ramp=True),
    **SETTINGS,
    "words": WORDS,
    "lift": LIFT,
    "on-pass": ON_PASS,
}
ENTRY = {
    "section": NAME,
    "times": whole("times", 1, MAX_TIMES),
    "bars": _bar_range(),
    "ending": whole("ending", 1, 999),
    "label": words("label", 60),
    "transpose": whole("transpose", -11, 11),
    "tempo": _tempo(ramp=True),
    **{key: SETTINGS[key] for key in ("feel", "dynamic", "parts", "arrangement", "note")},
    "words": WORDS,
    "lift": LIFT,
    "on-pass": ON_PASS,
}
LINE = record("a form entry", ENTRY, required=("section",))
#: A pickup with what its parts play in it.
PICKUP = {"bars": BARS, "parts": record("parts", PICKUP_KINDS)}
SONG = {
    "title": words("title"),
    "by": words("by"),
    "for": words("for", 60),
    "tempo": _tempo(ramp=False),
    "key": KEY,
    "capo": whole("capo", 0, 11),
    "count-in": whole("count-in", 0, 8),
    "pickup": either(BARS, record("a pickup", PICKUP, required=("bars",))),
    "instrument": choice("instrument", INSTRUMENTS),
    "tuning": _tuning(),
    "pitch": decimal("pitch", 390, 490),
    "human": whole("human", 0, 100),
    **SETTINGS,
    "shapes": named("shapes", chord_name, _shape(), {"propertyNames": {"pattern": r"^\s*[A-G]"}}),
    "voicing": choice("voicing", same(*VOICINGS)),
    "strums": named("strums", name_of("a strum's"), STRUM, {"propertyNames": NAMED}),
    "picks": named("picks", name_of("a pick's"), PICK, {"propertyNames": NAMED}),
    "riffs": named("riffs", name_of("a riff's"), RIFF, {"propertyNames": NAMED}),
    "arrangements": named(
        "arrangements",
        name_of("an arrangement's"),
        record("an arrangement", PART_KINDS),
        {"propertyNames": NAMED},
    ),
    "sections": named(
        "sections",
        section_name,
        record("a section", SECTION, required=("bars",)),
        {"minProperties": 1, "propertyNames": {**NAMED, "not": {"pattern": _COUNTED}}},
    ),
    "form": list_of("form", either(words("a form entry", 1000), LINE)),
    "practice": practice_kind(EXERCISE),
}
SONG_REQUIRED = ("title", "tempo", "sections", "form")
