"""When a demo's beats and chords are due, in seconds, read from its form without the package.

It knows what the demos use; anything else raises `ValueError`, so that no demo is misread
unnoticed. Source of the arithmetic: common practice (beats x 60 / tempo; in 6/8 and 12/8 a beat
is a dotted quarter). Numbers in brackets after a meter are the eighths of each beat.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Any, NamedTuple

from ruamel.yaml import YAML

FORM_KEYS = set(
    "title by tempo meter key feel count-in capo instrument shapes strums picks riffs parts"
    " sections form practice".split()
)
SECTION_KEYS = set("bars endings times tempo parts lift dynamic".split())
ENTRY_KEYS = set("section times ending label first last".split())
ENTRY = re.compile(r"(?P<section>.*?)(?: x(?P<times>\d+))?(?: bars (?P<first>\d+)-(?P<last>\d+))?")


class Beat(NamedTuple):
    """A beat: where it starts, how long it lasts and its length in whole notes."""

    start_s: Fraction
    seconds: Fraction
    length_whole: Fraction


class Chord(NamedTuple):
    """A chord as written, from its stroke to the next one, and whether the bass plays it."""

    symbol: str
    start_s: Fraction
    end_s: Fraction
    has_bass: bool


class Times(NamedTuple):
    """A song's bars as beats, its chords, and how many semitones the guitar's capo adds."""

    bars: tuple[tuple[Beat, ...], ...]
    chords: tuple[Chord, ...]
    capo: int


class WrittenBar(NamedTuple):
    """A bar's meter, and the chords and slashes in it."""

    meter: str
    cells: tuple[str, ...]


def times_of(text: str) -> Times:
    """All that is due in a demo, from its text.

    Raises:
        ValueError: the form has something that this reading doesn't know.
    """
    form = YAML(typ="safe").load(text)
    must_know(form, FORM_KEYS)
    unit, bpm = tempo_of(form)
    now = form.get("count-in", 1) * sum(beat_lengths(meter_of(form))) / unit * 60 / bpm
    early = Fraction(1, 12 if form.get("feel") == "swing" else 8) / unit * 60 / bpm
    bars: list[tuple[Beat, ...]] = []
    chords: list[Chord] = []
    for section, written in passes(form):
        has_bass = section.get("parts", {}).get("bass") != "off"
        tempos = tempos_of(section, written, bpm)
        for bar in written:
            beats = []
            for length in beat_lengths(bar.meter):
                beats.append(Beat(now, length / unit * 60 / next(tempos), length))
                now += beats[-1].seconds
            bars.append(tuple(beats))
            chords += chords_in(bar.cells, beats, early, has_bass)
    return Times(tuple(bars), tuple(until_the_next(chords)), form.get("capo", 0))


def must_know(written: Mapping[str, Any], known: set[str]) -> None:
    if unknown := written.keys() - known:
        raise ValueError(f"this reading of forms doesn't know {', '.join(sorted(unknown))}")


def meter_of(form: Mapping[str, Any]) -> str:
    return str(form.get("meter", "4/4"))


def beat_lengths(meter: str) -> list[Fraction]:
    """The lengths of a bar's beats, in whole notes."""
    count, unit, groups = re.fullmatch(r"(\d+)/(\d+)(?: \(([\d+]+)\))?", meter).groups()
    if unit == "8":
        eighths = groups.split("+") if groups else [3] * (int(count) // 3)
        return [Fraction(int(each), 8) for each in eighths]
    return [Fraction(1, int(unit))] * int(count)


def tempo_of(form: Mapping[str, Any]) -> tuple[Fraction, Fraction]:
    """The note that the tempo counts, in whole notes, and how many there are in a minute."""
    tempo = form["tempo"]
    if isinstance(tempo, dict):
        return Fraction(tempo["beat"]), Fraction(tempo["bpm"])
    return beat_lengths(meter_of(form))[0], Fraction(tempo)


def passes(form: Mapping[str, Any]) -> Iterator[tuple[Mapping[str, Any], list[WrittenBar]]]:
    """Each pass in playing order: its section and its bars."""
    for entry in form["form"]:
        if isinstance(entry, str):
            found = ENTRY.fullmatch(entry).groupdict()
            entry = {key: value for key, value in found.items() if value}
        section = form["sections"][entry["section"]]
        must_know(entry, ENTRY_KEYS)
        must_know(section, SECTION_KEYS)
        for number in range(1, int(entry.get("times", section.get("times", 1))) + 1):
            bars = bars_in(section["bars"], meter_of(form))
            if "endings" in section:
                ending = section["endings"][entry.get("ending", number)]
                bars += bars_in(ending, meter_of(form))
            first, last = int(entry.get("first", 1)), int(entry.get("last", len(bars)))
            yield section, bars[first - 1 : last]


def bars_in(text: str, meter: str) -> list[WrittenBar]:
    """Bars as written; a meter applies until the next one, and % is the bar before it."""
    bars: list[WrittenBar] = []
    for written in text.split("|"):
        cells = re.findall(r"[^\s(]+(?:\([^)]*\))?", written)
        if cells and re.fullmatch(r"\d+/\d+", cells[0]):
            meter = cells.pop(0)
        if cells:
            bars.append(WrittenBar(meter, bars[-1].cells if cells == ["%"] else tuple(cells)))
    return bars


def tempos_of(
    section: Mapping[str, Any], bars: Sequence[WrittenBar], bpm: Fraction
) -> Iterator[Fraction]:
    """The tempo of each beat; a section that slows down does so in equal steps, beat by beat."""
    slow = section.get("tempo", {"to": bpm, "over": 0})
    beats = [len(beat_lengths(bar.meter)) for bar in bars]
    steps = sum(beats[len(beats) - slow["over"] :])
    yield from [bpm] * (sum(beats) - steps)
    yield from (bpm + (slow["to"] - bpm) * Fraction(step, steps) for step in range(1, steps + 1))


def chords_in(
    cells: Sequence[str], beats: Sequence[Beat], early: Fraction, has_bass: bool
) -> Iterator[Chord]:
    """A bar's chords, each until it stops, or until the bar ends.

    Where slashes stand, each cell is a beat; otherwise chords share the bar equally. A pushed one
    is `early` seconds early, and a stopped one lasts a beat.
    """
    end = beats[-1].start_s + beats[-1].seconds
    length = sum(beat.length_whole for beat in beats)
    for number, cell in enumerate(cells):
        symbol, _, marks = cell.partition("(")
        by_beats = "/" in cells
        start = beats[number].start_s if by_beats else moment(beats, length * number / len(cells))
        start -= early if "push" in marks else 0
        stop = start + beats[0].seconds if "stop" in marks else end
        if cell != "/":
            yield Chord(symbol, start, stop, has_bass)


def moment(beats: Iterable[Beat], whole: Fraction) -> Fraction:
    """When a place in a bar comes, in seconds; the place is in whole notes from the bar's start."""
    for beat in beats:
        if whole < beat.length_whole:
            return beat.start_s + beat.seconds * whole / beat.length_whole
        whole -= beat.length_whole
    raise ValueError(f"{whole} whole notes after the bar's end")


def until_the_next(chords: Sequence[Chord]) -> Iterator[Chord]:
    """The chords, none longer than until the next one starts."""
    for chord, following in pairwise(chords):
        yield chord._replace(end_s=min(chord.end_s, following.start_s))
    yield chords[-1]
