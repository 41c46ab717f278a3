"""The language's tables as a JSON Schema (draft 2020-12), for editors that complete and check YAML.

It is drawn from the very tables that the reader walks. It takes every form that the reader
takes and refuses what can be seen without reading bars, names and patterns together; that
is the reader's work. Editors read YAML 1.2: `off` is a word there, not false.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any

from backing.form.kinds import record
from backing.form.language import SONG, SONG_REQUIRED
from backing.form.parts import COMMON_KEYS, PARTS
from backing.form.practice_options import OPTIONS

DRAFT = "https://json-schema.org/draft/2020-12/schema"
_WORTH_A_NAME = 120

#: What each key says, wherever it stands.
KEYS = MappingProxyType(
    {
        "title": "The song's title; built files are named after it.",
        "by": "Who wrote the song: free text for the printed page.",
        "for": "The student's name, for the chart, the page and the week's contents.",
        "tempo": "Beats per minute, or {bpm: 60, beat: 3/8} to say which note is counted.",
        "meter": "Such as 4/4, 6/8 or 7/8 (2+2+3).",
        "key": "The key of the chords as written, such as A, Bb or F#m.",
        "capo": "The capo's fret; everything sounds that many semitones higher.",
        "count-in": "Bars of click before bar 1; the default is 1.",
        "pickup": "One bar that leads into bar 1, in place of the count-in's last bar.",
        "instrument": "What the student plays; the default is a guitar.",
        "tuning": "A name such as drop D, or each string's note, lowest row first: D A D G B E.",
        "pitch": "The A above middle C in hertz; the default is 440.",
        "human": "How much the players' timing and loudness vary, 0 to 100.",
        "feel": "straight, swing, or {swing: 2/1, on: 1/8} with the ratio, long to short.",
        "dynamic": "How loud to play.",
        "lift": "Whether the bar before gets louder toward this one.",
        "parts": "Who plays what: each part is off, on, or a mapping.",
        "arrangement": "One of the song's arrangements, over the parts written beside it.",
        "arrangements": "Part settings by name: simple: {guitar: {strum: easy}, lead: off}.",
        "note": "A note for the printed page.",
        "words": "Words to sing: a cue for each row of bars, or cells between bar lines; or off.",
        "per-row": "Bars per row on the printed page.",
        "shapes": "Fingerings to use for chords by name, low string first: F#m7: 2x2222.",
        "voicing": "full, or shell for jazz comping: root, third, seventh and perhaps one more.",
        "strums": "Strums by name, for parts to play.",
        "picks": "Picked patterns by name, for parts to play.",
        "riffs": "Riffs in tab by name, for parts to play.",
        "sections": "The song's sections by name, each with its bars.",
        "form": "What plays, in order: NAME, NAME x2, NAME bars 5-8, (NAME, NAME) x3, a mapping.",
        "bars": 'Bars between bar lines, "| A | D / / E7 | % |", one row per line.',
        "times": "How many times to play it.",
        "endings": 'Bars that end each pass, by its number: 1: "| D | E7 |".',
        "on-pass": "What one pass changes, by its number: 3: {dynamic: loud}.",
        "section": "Which section to play.",
        "ending": "Which ending every pass takes.",
        "label": "What to call this instead of its section's name.",
        "transpose": "Semitones up or down for the chords of this line.",
        "practice": "The week's exercises, in practice order, and the formats of their files.",
        "formats": "midi, mp3, wav, flac, ogg, chart (paper) and page (for a browser).",
        "set": "The exercises: percent of the tempo, or a mapping, one a line.",
        "bpm": "How many of the counted note per minute.",
        "beat": "The note that is counted: 1/4, or 3/8 for a dotted quarter.",
        "to": "The tempo to change to, beat by beat.",
        "over": "How many bars the change takes.",
        "from": "Whether the first or the last bars change tempo; the default is last.",
        "swing": "The ratio, long to short, from 1/1 to 4/1; or by-tempo.",
        "on": "Which notes swing; the default is 1/8.",
        "frets": "A fret for each string, low first: x02220, or x-10-12-12-11-10.",
        "fingers": "The finger for each string, 1 to 4, or 0 or x for none.",
        **{part.name: part.about for part in PARTS.values()},
        **{key.name: key.about for key in COMMON_KEYS},
        "step": "What one step is worth: 1/4, 1/8, 1/8t (a triplet's eighth) or 1/16.",
        "chords": "How strings that are picked together sound: together, or rolled.",
        "plays-through": "Whether the riff goes on where a chord's (stop) silences the others.",
        "tab": "A row of cells for each string, the high one first; RH and PM rows for the hand.",
    }
)
#: What a key says in one place only: by the title of its mapping, and the key.
PLACES = MappingProxyType(
    {
        ("a section", "tempo"): "This section's own, or a change: {to: 60, over: 1}.",
        ("a pickup", "bars"): 'The one bar: "| N.C. / / D |".',
        ("a pickup", "parts"): "Riffs that are played in it: {guitar: {riff: NAME}}.",
        ("a form entry", "tempo"): "This line's own, or a change: {to: 60, over: 1}.",
        ("a pass", "tempo"): "This pass's own, or a change: {to: 60, over: 1}.",
        ("a form entry", "on-pass"): "What one pass of this line changes: 3: {dynamic: loud}.",
        ("a form entry", "bars"): "Only some of the section's bars: 5-8.",
        **{("an exercise", option.key): option.help for option in OPTIONS},
        ("an exercise", "note"): "What to watch in this exercise.",
        **{(part.name, key.name): key.about for part in PARTS.values() for key in part.keys},
        (
            "a strum",
            "play",
        ): "D down, U up, x damped, p, p2 thumb, - none; D> accented, D. short.",
        ("a pick", "play"): "p thumb, p2 its second string, i, m, a fingers, (pa) both, - none.",
        ("a bass line", "play"): "Degrees of the chord, 1 its root, 8 the octave; - holds.",
        ("a beat", "play"): 'A line for each drum, x struck, x> accented: snare: "- x - x".',
    }
)


def form_schema() -> dict[str, Any]:
    """The schema of a whole form, its repeated pieces under `$defs`."""
    whole = _described(record("a form", SONG, SONG_REQUIRED).schema)
    written = Counter(_text(piece) for _, piece in _pieces("form", whole))
    names: dict[str, str] = {}
    for name, piece in _pieces("form", whole):
        text = _text(piece)
        if written[text] > 1 and len(text) > _WORTH_A_NAME and text not in names:
            taken = sum(known.rstrip("0123456789") == name for known in names.values())
            names[text] = f"{name}{taken + 1}" if taken else name
    pieces = {name: json.loads(text) for text, name in names.items()}
    return {
        "$schema": DRAFT,
        **_named(whole, names),
        "title": "A song's form",
        "description": "What backing reads: a song's sections, bars and players.",
        "$defs": {name: _inside(piece, names) for name, piece in sorted(pieces.items())},
    }


def _described(schema: Mapping[str, Any]) -> dict[str, Any]:
    """A schema with a description for every key of every record in it."""
    out = {key: _each(value, _described) for key, value in schema.items()}
    for key, value in out.get("properties", {}).items():
        written = PLACES.get((schema.get("title", ""), key)) or KEYS.get(key)
        if written:
            out["properties"][key] = {"description": written, **value}
    return out


def _each(value: Any, change: Any) -> Any:
    """A keyword's value with every schema or mapping in it changed."""
    if isinstance(value, Mapping):
        return change(value)
    if isinstance(value, (list, tuple)):
        return [_each(item, change) for item in value]
    return value


def _pieces(name: str, value: Any) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every schema that is a value of a key, with the key's name, without its description."""
    if isinstance(value, list):
        for item in value:
            yield from _pieces(name, item)
    elif isinstance(value, dict):
        for key, inner in value.items():
            if key in ("properties", "patternProperties"):
                for of, schema in inner.items():
                    called = of if key == "properties" else name
                    yield called, _bare(schema)
                    yield from _pieces(called, schema)
            else:
                yield from _pieces(name, inner)


def _named(value: Any, names: Mapping[str, str]) -> Any:
    """A schema with the pieces that have a name put by reference."""
    if isinstance(value, list):
        return [_named(item, names) for item in value]
    if not isinstance(value, dict):
        return value
    name = names.get(_text(_bare(value)))
    if name is None:
        return _inside(value, names)
    written = {"description": value["description"]} if "description" in value else {}
    return {**written, "$ref": f"#/$defs/{name}"}


def _inside(value: dict[str, Any], names: Mapping[str, str]) -> dict[str, Any]:
    return {key: _named(inner, names) for key, inner in value.items()}


def _bare(schema: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in schema.items() if key != "description"}


def _text(schema: Any) -> str:
    return json.dumps(schema, sort_keys=True, ensure_ascii=False)
