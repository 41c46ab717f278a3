"""Settings and parts of a form at random, as plain text, lists and mappings: all their keys."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from typing import Any

from hypothesis import strategies as st
from part_tables import words_of

from backing.form.model import ONE_OF_THESE
from backing.form.parts import GUITARS, PARTS
from backing.theory.bass_lines import BASS_LINES
from backing.theory.picks import PICKS

Written = dict[str, Any]

# fmt: off
# Texts that YAML would take for something else, and letters of many scripts.
TITLES = ("Lantern", "Тихая вода", "静かな川", "نهر هادئ", "Ærø: på ny", "\"Quoted\" & 'so'",
          "# 9 | 10", "off", "1e3", "null", "- dash", "a\u0301ccent", "🎸 for two", "% off", "yes",
          "{brace", "x2")
STEPS = ("1/8", "1/8", "1/4", "1/16", "1/8t", "1/4t", "3/16", "1/16t", "1/2", "1/1")
STANDARD = "E2 A2 D3 G3 B3 E4"
STROKES = ("D", "U", "x", "-", "D>", "U>", "x>", "D.", "U>.", "p", "p2", "p.")
FINGERS = ("p", "p2", "i", "m", "a", "-", "(pa)", "(ima)", "(p2m)")
DEGREES = ("1", "3", "b3", "5", "b7", "8", "-", "#4", "13", "b13")
DRUMS = ("kick", "snare", "Closed Hi-Hat", "ride", "cowbell", "Low Floor Tom")
TAB = ("0", "3", "7", "12", "10", "x", "5h7", "7p5", "5/9", "9\\5", "7b", "7b9", "5~", "3h5p3",
       "9h10", "r", "(5)", "(10)~", "5.", "(3).", "2h(3)", "x", "-", "-", "-", "--", "---")
#: Instruments and tunings as they are typed, "" where none is, and their open strings.
NECKS = (("", "", STANDARD), ("", "D2 A2 D3 G3 B3 E4", "D2 A2 D3 G3 B3 E4"),
         ("", "Eb2 Ab2 Db3 Gb3 Bb3 Eb4", "Eb2 Ab2 Db3 Gb3 Bb3 Eb4"), ("", STANDARD, STANDARD),
         ("guitar", "open G", "D2 G2 D3 G3 B3 D4"), ("", "C G C G C E", "C2 G2 C3 G3 C4 E4"),
         ("", "DADF#AD", "D2 A2 D3 F#3 A3 D4"), ("ukulele", "", "G4 C4 E4 A4"),
         ("ukulele", "low G", "G3 C4 E4 A4"), ("baritone ukulele", "", "D3 G3 B3 E4"),
         ("bass", "", STANDARD), ("bass", "", STANDARD),
         ("", "G3 D3 A3 B3 D4", "G3 D3 A3 B3 D4"),
         ("", "seven-string", "B1 E2 A2 D3 G3 B3 E4"),
         ("", "F#1 B1 E2 A2 D3 G3 B3 E4", "F#1 B1 E2 A2 D3 G3 B3 E4"))
SHAPES = {4: ("0003", "2010", "x-10-12-12"), 5: ("02012", "x2010"),
          6: ("x02220", "x-10-12-12-11-10", "022100"), 7: ("xx02220", "x022100"),
          8: ("xxx02220", "x-x-x-10-12-12-11-10")}
# fmt: on


def open_strings(song: Written) -> str:
    """The notes of a song's open strings."""
    typed = song.get("instrument", ""), song.get("tuning", "")
    return next(notes for *neck, notes in NECKS if tuple(neck) == typed)


@cache
def one(*choices: str) -> st.SearchStrategy[str]:
    return st.sampled_from(choices)


@cache
def words(longest: int) -> st.SearchStrategy[str]:
    drawn = st.text(st.characters(categories=("L", "N", "P", "S", "M")), min_size=1, max_size=12)
    return st.sampled_from([title[:longest] for title in TITLES]) | drawn


@st.composite
def some(draw: st.DrawFn, table: dict[str, st.SearchStrategy[Any]], least: int = 0) -> Written:
    """Some keys of a table with their values."""
    keys = draw(st.lists(one(*table), unique=True, min_size=least, max_size=4))
    return {key: draw(table[key]) for key in keys}


_NOTHING: st.SearchStrategy[Written] = st.builds(dict)


def settings_of(
    level: str, song: Written, bar: Fraction | None = None
) -> st.SearchStrategy[Written]:
    """What a song, section, pass or entry sets, but for meter and tempo.

    Riffs are played only where `bar` says that the bars have that one length.
    """
    tables = ("strums", "picks", "arrangements")
    strums, picks, named = (tuple(song.get(table, ())) for table in tables)
    return _settings_of(level, strums, picks, named, bar, open_strings(song))


@cache
def _settings_of(
    level: str,
    strums: tuple[str, ...],
    picks: tuple[str, ...],
    named: tuple[str, ...],
    bar: Fraction | None,
    tuning: str,
) -> st.SearchStrategy[Written]:
    feel = st.fixed_dictionaries(
        {"swing": one("2/1", "3/2", "1/1", "4/1", "by-tempo")},
        optional={"on": one("1/8", "1/16")},
    )
    table: dict[str, st.SearchStrategy[Any]] = {
        "feel": one("straight", "swing") | feel,
        "dynamic": one("soft", "medium", "loud"),
        "note": words(300),
        "parts": _parts(strums, picks, bar, tuning),
    }
    if named:
        table["arrangement"] = st.sampled_from(named)
    if level in ("section", "entry"):
        table["lift"] = one("on", "off")
    if level != "entry":
        table["per-row"] = st.integers(1, 16).map(str)
    return some(table, least=1 if level == "pass" else 0)


@st.composite
def sung(draw: st.DrawFn, rows: list[int]) -> str | list[str]:
    """Words for rows of so many bars: cues and cells in a list or a block, or none."""
    kind = draw(one("off", "alone", "rows", "rows"))
    if kind == "off":
        return "off"
    cells = words(20).filter(lambda text: text != "off" and not {*"|#"} & {*text}) | st.just("")
    lengths = rows[: draw(st.integers(1, len(rows)))] if kind == "rows" else [sum(rows)]
    typed = []
    for length in lengths:
        row = draw(st.lists(cells, min_size=1, max_size=min(length, 5)))
        alone = len(row) == 1 and row[0] and draw(st.booleans())
        typed.append(row[0] if alone else f"| {' | '.join(row)} |")
    return typed if draw(st.booleans()) else "\n".join(typed)


def arrangements(song: Written) -> st.SearchStrategy[Written]:
    """Named sets of part settings, without riffs, which don't fit every section."""
    strums, picks = (tuple(song.get(table, ())) for table in ("strums", "picks"))
    parts = _parts(strums, picks, None, open_strings(song))
    return st.dictionaries(one("simple", "full band", "два"), parts, min_size=1, max_size=2)


@cache
def _parts(
    strums: tuple[str, ...], picks: tuple[str, ...], bar: Fraction | None, tuning: str
) -> st.SearchStrategy[Written]:
    """Parts by name; a riff only where the bars have one length, `bar`."""
    one_of_these = st.one_of(
        st.fixed_dictionaries({"strum": _named(strums) | _STRUMS}),
        st.fixed_dictionaries({"pick": _named((*picks, *PICKS)) | _PICKS}),
        _NOTHING,
        _NOTHING if bar is None else st.fixed_dictionaries({"riff": riffs(bar, tuning)}),
    )
    lines = st.dictionaries(one(*DRUMS), _play(("x", "-", "x>")), min_size=1, max_size=3)
    written = {
        "beat": st.fixed_dictionaries({"step": one(*STEPS), "play": lines}),
        "line": st.fixed_dictionaries({"step": one(*STEPS), "play": _play(DEGREES)}),
        "plays": one("2 of 4", "1 of 1", "1 of 3"),
    }
    bass_lines = st.fixed_dictionaries({"line": one(*BASS_LINES) | written["line"]})
    if bar is not None:
        bass_lines |= st.fixed_dictionaries({"riff": riffs(bar, "E1 A1 D2 G2")})
    own = {"bass": bass_lines | _NOTHING, **{part.name: one_of_these for part in GUITARS}}
    tables = {}
    for part in PARTS.values():
        keys = [key for key in part.keys if key.name not in ONE_OF_THESE]
        table = {
            key.name: _words(*words_of(key)) | written.get(key.name, st.nothing()) for key in keys
        }
        tables[part.name] = _part(table, own.get(part.name, _NOTHING))
    return some(tables, least=1)


@cache
def _words(*words: str) -> st.SearchStrategy[str]:
    return one(*words) if words else st.nothing()


@st.composite
def _part(
    draw: st.DrawFn,
    table: dict[str, st.SearchStrategy[Any]],
    more: st.SearchStrategy[Written] = _NOTHING,
) -> str | Written:
    if draw(st.integers(0, 4)) == 0:
        return draw(one("on", "off"))
    common = {"volume": st.integers(0, 127).map(str), "pan": st.integers(-64, 63).map(str)}
    return draw(more) | draw(some({**table, **common}, least=1))


def _named(names: tuple[str, ...]) -> st.SearchStrategy[str]:
    return st.sampled_from(names) if names else st.nothing()


def _play(tokens: tuple[str, ...]) -> st.SearchStrategy[str]:
    bar = st.lists(one(*tokens), min_size=1, max_size=8).map(" ".join)
    return st.lists(bar, min_size=1, max_size=2).map(" | ".join)


@st.composite
def riffs(draw: st.DrawFn, bar: Fraction, tuning: str = "") -> Written:
    """One or two bars of tab, which may state steps of their own.

    Rows are named after the strings of `tuning`, or have no names.
    """
    steps = {"1/8": Fraction(1, 8), "1/16": Fraction(1, 16), "1/8t": Fraction(1, 12)}
    fit = [name for name, step in steps.items() if not bar % step]
    usual = draw(one(*fit))
    bars = [draw(one("", "", *fit)) for _ in range(draw(st.integers(1, 2)))]
    widths = [int(bar / steps[own or usual]) for own in bars]
    rows = []
    names = [name.rstrip("0123456789") for name in reversed(tuning.split())]
    strings = len(names) or 6
    names = draw(st.sampled_from((names or [""] * 6, [""] * strings, ["I"] * strings)))
    for index, name in enumerate(names):
        cells = draw(_tab_row(widths))
        heads = [f"{own}: " if own and index == 0 else "" for own in bars]
        rows.append(f"{name}|" + "|".join(map(str.__add__, heads, cells)) + "|")
    if draw(st.booleans()):
        palm = draw(st.lists(one("=", "-"), min_size=sum(widths), max_size=sum(widths)))
        rows.append("P.M.|" + "|".join(_cut("".join(palm), widths)) + "|")
    if draw(st.booleans()):
        rows.append("RH|" + "|".join(_hand(rows[:strings], draw(one("p", "i", "m", "a")))) + "|")
    keys = draw(
        st.fixed_dictionaries(
            {},
            optional={"plays-through": one("on", "off"), "chords": one("rolled", "together")},
        )
    )
    return {"step": usual, "tab": "\n".join(rows) + "\n", **keys}


@st.composite
def _tab_row(draw: st.DrawFn, widths: list[int]) -> list[str]:
    """One string's cells; slurs and slides may cross a bar line, two digits and bends may not."""
    total, row = sum(widths), ""
    for token in draw(st.lists(one(*TAB), max_size=10)):
        crosses = len(row) < widths[0] < len(row) + len(token)
        whole = not re.fullmatch(r"\d([hp/\\]\d)+", token)
        if crosses and whole:
            row = row.ljust(widths[0], "-")
        if len(row) + len(token) <= total:
            row += f"{token}-"
    return _cut(row[:total].ljust(total, "-"), widths)


@st.composite
def pickup_parts(draw: st.DrawFn, bar: Fraction, tuning: str) -> Written:
    """What the parts of a pickup play: riffs of one bar."""
    strings = {"guitar": tuning, "lead": tuning, "bass": "E1 A1 D2 G2"}
    parts = {}
    for part in draw(st.sets(one(*strings), min_size=1)):
        fits = riffs(bar, strings[part]).filter(
            lambda riff: riff["tab"].split("\n")[0].count("|") == 2
        )
        parts[part] = {"riff": draw(fits)}
    return parts


def _hand(rows: list[str], letter: str) -> list[str]:
    """A letter wherever a string is surely picked: at a number with nothing before it."""
    bars = zip(*(re.sub(r"1/\d+t?: ", "", row).split("|")[1:-1] for row in rows), strict=True)
    found = []
    for bar in bars:
        picked = {m.end() - 1 for cells in bar for m in re.finditer(r"-(?=[0-9(x]).", cells)}
        found.append("".join(letter if at in picked else "-" for at in range(len(bar[0]))))
    return found


def _cut(row: str, widths: list[int]) -> list[str]:
    """A row's cells bar by bar."""
    return [row[: widths[0]], *([row[widths[0] :]] if len(widths) > 1 else [])]


_STRUMS = st.fixed_dictionaries({"step": one(*STEPS), "play": _play(STROKES)})
_PICKS = st.fixed_dictionaries({"step": one(*STEPS), "play": _play(FINGERS)})


def tables(tuning: str) -> dict[str, st.SearchStrategy[Written]]:
    """Strategies for the tables of what parts play, by name."""
    return {"strums": _STRUMS, "picks": _PICKS, "riffs": riffs(Fraction(1), tuning)}


def shapes(tuning: str) -> st.SearchStrategy[Any]:
    """A shape for these strings, perhaps with fingers."""
    strings = len(tuning.split())
    plain, fingers = one(*SHAPES[strings]), one("0" * strings, "1" * strings)
    return plain | st.fixed_dictionaries({"frets": plain}, optional={"fingers": fingers})
