"""Whole valid forms, drawn at random over all of the language and typed as a writer might.

A song is drawn as plain text, lists and mappings, as YAML holds it, then typed in a
mixture of YAML's manners. Nothing here makes a Form, so nothing here can lean on the reader.
"""

from __future__ import annotations

import re
from fractions import Fraction
from math import gcd
from random import Random
from typing import Any, NamedTuple

from hypothesis import strategies as st
from part_strategies import (
    NECKS,
    Written,
    arrangements,
    one,
    open_strings,
    pickup_parts,
    settings_of,
    shapes,
    some,
    sung,
    tables,
    words,
)
from yaml_styles import typed

from backing.theory.instruments import INSTRUMENTS
from backing.theory.rhythm import Meter, parse_meter

# fmt: off
COMMON = ("4/4", "3/4", "6/8", "2/4")
METERS = (*COMMON, "2/2", "12/8", "9/8", "3/8", "4/8", "5/4 (3+2)", "5/4", "5/8", "5/8 (2+3)",
          "7/8", "7/8 (3+2+2)", "8/8 (3+3+2)", "10/8 (3+3+2+2)", "11/16 (3+3+3+2)", "6/16", "3/2",
          "1/4", "2/1", "16/16 (4+4+4+4)")
NOTES = ("C", "D", "E", "F", "G", "A", "B", "F#", "Bb", "Eb", "C#", "Ab", "Db", "G#", "Cb", "E#",
         "A♭")
QUALITIES = ("", "", "", "", "m", "7", "m7", "maj7", "sus4", "sus2", "6", "m6", "9", "m9", "add9",
             "dim", "dim7", "m7b5", "ø", "aug", "mMaj7", "5", "7sus4", "7(b9)", "7#9", "13", "6/9",
             "°", "Δ", "7(#11)", "m11", "maj9", "(b5)")
MARKS = ("", "", "", "", "", "(push)", "(stop)", "(ring)", "(push)(ring)", "(push stop)")
NAMES = ("verse", "chorus", "Куплет", "サビ", "bridge (short)", "bars", "A", "coda: last", "no",
         "007", "half x bars", "ß", "#1", "[in]", "it's", "- so")
KEYS = ("A", "Am", "C", "F#m", "Bb minor", "Eb", "C# major", "Cb", "Abm", "G", "D minor", "F♯m")
# fmt: on


@st.composite
def forms(draw: st.DrawFn) -> str:
    """A form's YAML: it must be read."""
    song = draw(_songs())
    manner = Random(draw(st.integers(0, 999)))
    text = typed(song, manner) + "\n"
    ends, mark = manner.choice(("\n", "\n", "\r\n", "\r")), manner.choice(("", "", "\ufeff"))
    return mark + text.replace("\n", ends)


class _Sketch(NamedTuple):
    """A section with what its entries and tempos must know; `steady` has one bar length.

    `last` is the meter at the end of its body; `of_lines` has the lengths of passes that lines set.
    """

    name: str
    written: Written
    meter: Meter
    last: Meter
    steady: bool
    bodies: dict[int, int]
    endings: tuple[int, ...]
    of_lines: list[int]

    def full(self, ending: int, passes: int, own: dict[int, int]) -> int:
        """The bars that every one of so many passes has; `own` are bodies that a line sets."""
        bodies = {**self.bodies, **own}
        bodies = [bars for number, bars in bodies.items() if number <= passes]
        return min(bodies) + (self.endings[ending - 1] if self.endings else 0)


@st.composite
def _songs(draw: st.DrawFn) -> Written:
    song: Written = {"title": draw(words(60)), "tempo": ""}
    meter = draw(one(*COMMON) | one(*METERS))
    if meter != "4/4" or draw(st.booleans()):
        song["meter"] = meter
    song["tempo"] = draw(_tempo(parse_meter(meter)))
    optional: dict[str, st.SearchStrategy[Any]] = {
        "by": words(60),
        "for": words(40),
        "key": one(*KEYS),
        "capo": st.integers(0, 11).map(str),
        "count-in": one("0", "1", "2", "4"),
        "pitch": one("442", "432.5", "415.304697"),
        "human": one("0", "40", "100"),
    }
    song |= draw(some(optional))
    if draw(st.booleans()):
        instrument, tuning, _ = draw(st.sampled_from(NECKS))
        song |= {"instrument": instrument} if instrument else {}
        song |= {"tuning": tuning} if tuning else {}
        if instrument == "bass":
            song.pop("capo", None)
    for table, strategy in tables(open_strings(song)).items():
        names = draw(st.lists(one("easy", "rolling", "три", "off"), unique=True, max_size=2))
        if names:
            song[table] = {name: draw(strategy) for name in names}
    if draw(one("", "", "shapes")):
        held = shapes(open_strings(song))
        song["shapes"] = draw(st.dictionaries(one("A", "F#m7", "C/G"), held, min_size=1))
    if len(open_strings(song).split()) >= 6 and draw(st.booleans()):
        song["voicing"] = draw(one("full", "shell"))
    if draw(one("", "arrangements", "")):
        song["arrangements"] = draw(arrangements(song))
    song |= draw(settings_of("song", song))
    sections = [
        draw(_section(song, name, parse_meter(meter)))
        for name in draw(st.lists(one(*NAMES), unique=True, min_size=1, max_size=3))
    ]
    song["sections"] = {section.name: section.written for section in sections}
    song["form"] = [
        draw(_entry(song, draw(st.sampled_from(sections)))) for _ in range(draw(st.integers(1, 4)))
    ]
    grouped = [section for section in sections if not re.search(r"[(),]", section.name)]
    if grouped and draw(one("", "group", "")):
        song["form"].insert(0, draw(_group(song, grouped)))
    _add_tempos(draw, song, sections)
    if draw(one("", "", "pickup")):
        own = parse_meter(draw(one(*COMMON)))
        song["pickup"] = f"| {own} {draw(_slots(own, first=True))} |"
        if draw(st.booleans()) and "transpose" not in repr(song["form"][0]):
            parts = draw(pickup_parts(own.bar_whole, open_strings(song)))
            song["pickup"] = {"bars": song["pickup"], "parts": parts}
    if draw(one("", "", "practice")):
        song["practice"] = draw(_practice(song))
    keys = draw(st.permutations(list(song))) if draw(st.booleans()) else list(song)
    return {key: song[key] for key in keys}


@st.composite
def _practice(draw: st.DrawFn, song: Written) -> list[Any] | Written:
    """The week's set: a list, or a mapping with formats."""
    lines = st.lists(_exercises(song), min_size=1, max_size=3)
    if draw(st.booleans()):
        return draw(lines)
    return {
        "formats": draw(st.sampled_from((["midi"], "mp3, page", ["chart", "ogg"]))),
        "set": draw(lines),
    }


@st.composite
def _exercises(draw: st.DrawFn, song: Written) -> str | Written:
    if draw(one("", "", "bare")):
        return draw(one("75", "60, 75%", "62.5"))
    written: Written = draw(
        some({
            "loop": one("1", "2"),
            "capo": one("0", "11"),
            "easier": one("on", "off"),
            "note": words(300),
            "build-up": one("front", "end"),
        })
    )  # fmt: skip
    ladder = {"ladder": one("60-100", "100% - 60%", "60-100 by 12.5"), "between": one("0")}
    written |= draw(
        some(ladder)
        if draw(st.booleans())
        else some({"speed": st.sampled_from(("75", ["60", "90"]))})
    )
    if "ladder" not in written:
        written = {key: value for key, value in written.items() if key != "between"}
    lines = [line if isinstance(line, str) else line["section"] for line in song["form"]]
    played = [line for line in lines if not line.startswith("(")]
    names = [name for name in song["sections"] if name in played]
    if "build-up" in written and len(played) < len(lines):  # a group may be too long for a build-up
        names = []
        written |= {"bars": "1"}
    if "bars" not in written:
        written |= draw(some({"section": one(*names)} if names else {"bars": one("1")}))
    if named := tuple(song.get("arrangements", ())):
        written |= draw(some({"arrangement": st.sampled_from(named)}))
    written |= draw(st.sampled_from(({}, {"without": "guitar, bass"}, {"only": ["click", "bass"]})))
    if "without" not in written and "only" not in written:
        written |= draw(some({"trade": one("1", "2")}))
    written |= draw(some({"transpose": one("-3", "+2")}))
    if "transpose" in written and "capo" not in written:
        written |= draw(some({"keep-shapes": one("on")}))
    return written or {"loop": "3"}


@st.composite
def _section(draw: st.DrawFn, song: Written, name: str, outer: Meter) -> _Sketch:
    written: Written = {}
    meter = outer
    if draw(one("", "", "meter")):
        written["meter"] = draw(one(*METERS))
        meter = parse_meter(written["meter"])
    steady = draw(st.booleans())
    bar = meter.bar_whole if steady else None
    written["bars"], count, last = draw(_bars(meter, None, steady))
    bodies, endings = {0: count}, []
    if draw(one("", "endings")):
        written["endings"] = {}
        number = 1
        for _ in range(draw(st.integers(1, 2))):
            upto = number + draw(one("", "", "-")).count("-")
            text, count, _ = draw(_bars(last, last.bar_whole, steady, most=2))
            written["endings"][f"{number}-{upto}" if upto > number else f"{number}"] = text
            endings += [count] * (upto + 1 - number)
            number = upto + 1
    if draw(st.booleans()):
        written["times"] = str(draw(st.integers(1, 2)))
    written |= draw(settings_of("section", song, bar))
    written |= draw(some({"words": sung(_row_lengths(written["bars"]))}))
    sketch = _Sketch(name, written, meter, last, steady, bodies, tuple(endings), [])
    if draw(one("", "", "on-pass")):
        written["on-pass"], own = draw(_on_pass(song, sketch))
        bodies |= own
    return sketch


@st.composite
def _on_pass(draw: st.DrawFn, song: Written, section: _Sketch) -> tuple[Written, dict[int, int]]:
    """What passes set for themselves, and how many bars those with bars of their own have."""
    written, bodies = {}, {}
    bar = section.meter.bar_whole if section.steady else None
    for passes in draw(st.lists(one("1", "2", "3-4"), unique=True, min_size=1, max_size=2)):
        varied = draw(settings_of("pass", song, bar))
        own = draw(st.booleans())
        if own:
            varied["bars"], count, end = draw(_bars(section.meter, None, section.steady))
            if end != section.last:  # endings go on from here as they do from the usual bars
                varied["bars"], count = f"{varied['bars']}\n{section.last} A", count + 1
            bodies |= dict.fromkeys(map(int, passes.split("-")), count)
        if ("words" in section.written and own) or draw(st.booleans()):
            varied["words"] = draw(sung([1]))  # a line may cut the pass to a single bar
        written[passes] = varied
    return written, bodies


@st.composite
def _entry(draw: st.DrawFn, song: Written, section: _Sketch) -> str | Written:
    own, highest = int(section.written.get("times", "1")), len(section.endings)
    times, written = draw(st.integers(1, 2)), {}
    kind = draw(one("whole", "whole", "cut"))
    own_bodies: dict[int, int] = {}
    if draw(one("", "", "on-pass")):
        written["on-pass"], own_bodies = draw(_on_pass(song, section))
        section.of_lines.extend(own_bodies.values())
    if kind == "cut":
        full = section.full(1, times, own_bodies)
        first = draw(st.integers(1, full))
        last = draw(st.integers(first, full))
        written["bars"] = f"{first}-{last}" if last > first else f"{first}"
    elif highest:
        if draw(st.booleans()):
            written["ending"] = str(draw(st.integers(1, highest)))
        else:
            times = highest // gcd(highest, own)
    bar = section.meter.bar_whole if section.steady else None
    written |= draw(settings_of("entry", song, bar))
    bodies = [last - first + 1] if kind == "cut" else [*section.bodies.values()]
    written |= draw(some({"words": sung([min([*bodies, *own_bodies.values()])])}))
    written |= draw(some({"label": words(60), "transpose": _transposes(section.steady, song)}))
    if set(written) <= {"bars"} and draw(st.booleans()):
        bars = f" bars {written['bars']}" if written else ""
        return f"{section.name}{bars}{f' x{times}' if times > 1 else ''}"
    return {"section": section.name, **({"times": str(times)} if times > 1 else {}), **written}


@st.composite
def _group(draw: st.DrawFn, song: Written, sections: list[_Sketch], deep: int = 2) -> str:
    """Lines in parentheses, some of them groups."""
    lines = []
    for _ in range(draw(st.integers(1, 3))):
        if deep and draw(one("", "", "group")):
            lines.append(draw(_group(song, sections, deep - 1)))
        else:
            lines.append(draw(_plain_entry(draw(st.sampled_from(sections)))))
    times = draw(one("", " x1", " x2", "  x 2"))
    return f"({draw(one('', ' '))}{draw(one(', ', ',')).join(lines)}){times}"


@st.composite
def _plain_entry(draw: st.DrawFn, section: _Sketch) -> str:
    """A line of text, whose passes are all there however often it comes round."""
    own, highest = int(section.written.get("times", "1")), len(section.endings)
    if highest and draw(st.booleans()):
        return f"{section.name} x{highest // gcd(highest, own)}"
    full = section.full(1, 99, {})
    last = draw(st.integers(1, full))
    return draw(one(f"{section.name} bars 1-{last}", f"{section.name} bars  {last} x1"))


def _row_lengths(bars: str) -> list[int]:
    """How many bars each row has."""
    return [row.strip(" |").count("|") + 1 for row in bars.split("\n")]


def _transposes(steady: bool, song: Written) -> st.SearchStrategy[str]:
    # A riff stands only in a steady section. It can't be moved below the open strings, nor may its
    # highest fret, 12, leave the neck.
    highest = min(11, INSTRUMENTS[song.get("instrument", "guitar")].frets - 12)
    return st.integers(0 if steady else -11, highest).map("{:+d}".format)


def _add_tempos(draw: st.DrawFn, song: Written, sections: list[_Sketch]) -> None:
    """Tempos and ramps for sections, entries and passes; ramps fit every pass."""
    for section in sections:
        entries = [e for e in song["form"] if isinstance(e, dict) and e["section"] == section.name]
        shortest = min([*section.bodies.values(), *section.of_lines])
        for entry in song["form"]:
            text = entry if isinstance(entry, str) else f"bars {entry.get('bars', '1-99')}"
            for cut in re.finditer(r"bars +(\d+)(?:-(\d+))?(?=$|[ ,)])", text):
                shortest = min(shortest, int(cut[2] or cut[1]) - int(cut[1]) + 1)
        lines = [section.written, *entries]
        passes = [varied for line in lines for varied in line.get("on-pass", {}).values()]
        places = [*lines, *passes]
        for place in places:
            if draw(one("", "", "", "tempo")):
                place["tempo"] = draw(_tempo(section.meter, min(shortest, 64)))


@st.composite
def _tempo(draw: st.DrawFn, meter: Meter, bars: int = 0) -> str | Written:
    """A tempo; with `bars` it may change over as many."""
    bpm = draw(st.integers(20, 250).map(str) | one("66.5", "119.999", "20.000001"))
    ramp = {"to": draw(st.integers(20, 250).map(str)), "over": str(draw(st.integers(1, bars or 1)))}
    if draw(st.booleans()):
        ramp["from"] = draw(one("first", "last"))
    kind = draw(one("bare", "beat", "ramp", "both")) if bars else draw(one("bare", "beat"))
    if kind == "ramp":
        return ramp
    if kind == "bare" and meter.even:
        return bpm
    full = {"bpm": bpm, "beat": draw(one("1/4", "1/8", "3/8", "1/2", "1/16", "3/16", "1/4t"))}
    return full | ramp if kind == "both" else full


@st.composite
def _bars(
    draw: st.DrawFn, meter: Meter, before: Fraction | None, steady: bool, most: int = 4
) -> tuple[str, int, Meter]:
    """Rows of bars, their number and the meter at their end; `before` is the last bar's length."""
    rows, count = [], 0
    for _ in range(draw(st.integers(1, 2))):
        row = []
        for _ in range(draw(st.integers(1, most))):
            head = ""
            if not steady and draw(one("", "", "", "", "", "meter")):
                head = draw(one(*METERS))
                meter = parse_meter(head)
            again = before == meter.bar_whole and draw(one("", "", "", "%"))
            row.append(f"{head} {again or draw(_slots(meter, first=before is None))}".strip())
            before, count = meter.bar_whole, count + 1
        rows.append(draw(one("| {} |", "{}", "| {}", "|{}|")).format(" | ".join(row)))
    return "\n".join(rows), count, meter


@st.composite
def _slots(draw: st.DrawFn, meter: Meter, first: bool) -> str:
    """One bar's slots; the very first is never a slash."""
    beats, units = len(meter.beats), meter.count
    kind = draw(one("shared", "shared", "shared", "beats", "units", "alone"))
    if kind == "alone":
        return draw(_CELL) if first else "/"
    if kind == "shared":
        counts = [n for n in range(1, min(beats, 4) + 1) if beats % n == 0]
        return " ".join(draw(_CELL) for _ in range(draw(st.sampled_from(counts))))
    wide = beats if kind == "beats" else min(units, 16)
    cells = [draw(_CELL) if draw(one("/", "/", "")) == "" else "/" for _ in range(wide)]
    return " ".join([draw(_CELL), *cells[1:]] if first else cells)


def _some_cells(number: int) -> tuple[str, ...]:
    """Chords with and without a slash bass, some N.C., with and without marks: one draw each."""
    any_of = Random(number).choice
    bass = ("",) * 8 + tuple(f"/{note}" for note in NOTES[:6])
    chord = (
        "N.C." if any_of(range(12)) == 0 else any_of(NOTES) + any_of(QUALITIES) + any_of(bass)
        for _ in range(number)
    )
    return "A", *(symbol + any_of(MARKS) for symbol in chord)


_CELL = st.sampled_from(_some_cells(3000))
