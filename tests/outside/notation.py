"""Notated music: what a music21 part, as written, says of bars, repeats, endings and chords.

How that is played out is left to our forms, so that music21's own expansion can be held
against it. A pickup that is played again with a repeat goes, as a form's writer would put
it, after the earlier passes' last bar. Offsets and lengths are quarters, exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

#: MusicXML 4.0 kind-value, by music21's names, as our chord symbols write it.
QUALITIES = {
    "major": "",
    "minor": "m",
    "augmented": "aug",
    "diminished": "dim",
    "dominant-seventh": "7",
    "major-seventh": "maj7",
    "minor-seventh": "m7",
    "diminished-seventh": "dim7",
    "augmented-seventh": "aug7",
    "half-diminished-seventh": "m7b5",
    "minor-major-seventh": "mMaj7",
    "major-sixth": "6",
    "minor-sixth": "m6",
    "dominant-ninth": "9",
    "major-ninth": "maj9",
    "minor-ninth": "m9",
    "dominant-11th": "11",
    "major-11th": "maj11",
    "minor-11th": "m11",
    "dominant-13th": "13",
    "major-13th": "maj13",
    "minor-13th": "m13",
    "suspended-second": "sus2",
    "suspended-fourth": "sus4",
    "power": "5",
}
_SIGNS = {-1: "b", 0: "", 1: "#"}
_MINOR_THIRD = ("minor", "dorian", "phrygian", "aeolian", "locrian")


class Unsayable(Exception):
    """The form language, or this translation into it, has no way to say so."""


@dataclass(frozen=True, slots=True)
class Bar:
    """A written bar; `closes` is how often the repeat that ends here plays, or 0."""

    quarters: Fraction
    meter: str
    chords: tuple[tuple[Fraction, str], ...]
    opens: bool
    closes: int
    passes: tuple[int, ...]
    tempo: Fraction | None

    @property
    def short(self) -> bool:
        """Whether it is shorter than its meter says."""
        return self.quarters < length_of(self.meter)


@dataclass(frozen=True, slots=True)
class Piece:
    """Bars that play `times` times, and the endings of its passes."""

    bars: tuple[Bar, ...]
    times: int = 1
    endings: tuple[tuple[tuple[int, ...], tuple[Bar, ...]], ...] = ()


def bars_of(part: Any) -> list[Bar]:
    """The part's bars as written. A part without chord symbols has its tonic in each bar."""
    symbols = list(part.recurse().getElementsByClass("ChordSymbol"))
    tonic = ((Fraction(0), tonic_of(part)),)
    meter, bars = "4/4", []
    measures = list(part.getElementsByClass("Measure"))
    # A bar of one staff of two may lack notes; where the next one starts is sure.
    lines = [exact(m.offset) for m in measures[1:]] + [exact(part.highestTime)]
    for measure, line in zip(measures, lines, strict=True):
        if measure.timeSignature is not None:
            meter = measure.timeSignature.ratioString
        bars.append(
            Bar(
                line - exact(measure.offset),
                meter,
                _chords(measure) if symbols else tonic,
                _direction(measure.leftBarline) == "start",
                _times(measure.rightBarline),
                _passes(measure),
                _tempo(measure),
            )
        )
        if _direction(measure.leftBarline) == "end":
            raise Unsayable("a repeat ends before its bar line")
    return bars


def tonic_of(part: Any) -> str:
    """The tonic chord of the part's first key; C where none is written."""
    from music21 import key

    keys = part.recurse().getElementsByClass(key.Key)
    if not keys:
        return "C"
    return _name(keys[0].tonic) + ("m" if keys[0].mode in _MINOR_THIRD else "")


def exact(number: Any) -> Fraction:
    """A length of music21's, which keeps triplets as fractions and the rest as floats."""
    return Fraction(number)


def _direction(line: Any) -> str | None:
    return getattr(line, "direction", None)


def _times(line: Any) -> int:
    return (line.times or 2) if _direction(line) == "end" else 0


def _passes(measure: Any) -> tuple[int, ...]:
    found = [
        number
        for bracket in measure.getSpannerSites("RepeatBracket")
        for number in bracket.numberRange
    ]
    return tuple(found)


def _tempo(measure: Any) -> Fraction | None:
    marks = list(measure.recurse().getElementsByClass("MetronomeMark"))
    if not marks:
        return None
    if len(marks) > 1 or marks[0].getOffsetInHierarchy(measure):
        raise Unsayable("a tempo changes inside a bar")
    return Fraction(marks[0].getQuarterBPM()).limit_denominator(1000)


def _chords(measure: Any) -> tuple[tuple[Fraction, str], ...]:
    found: dict[Fraction, str] = {}
    for symbol in measure.recurse().getElementsByClass("ChordSymbol"):
        at = exact(symbol.getOffsetInHierarchy(measure))
        if at in found:
            raise Unsayable("two chords at one place")
        found[at] = _symbol(symbol)
    return tuple(sorted(found.items()))


def _symbol(symbol: Any) -> str:
    if symbol.chordKind not in QUALITIES:
        raise Unsayable(f"a chord of the kind {symbol.chordKind}")
    root, bass = symbol.root(), symbol.bass()
    text = _name(root) + QUALITIES[symbol.chordKind]
    for change in symbol.chordStepModifications:
        alter = change.interval.chromatic.semitones
        if change.modType == "subtract":
            text += f"(no{change.degree})"
        else:
            sign = _SIGNS[alter] or ("add" if change.modType == "add" else "")
            text += f"({sign}{change.degree})"
    return text + (f"/{_name(bass)}" if bass.pitchClass != root.pitchClass else "")


def _name(pitch: Any) -> str:
    alter = pitch.accidental.alter if pitch.accidental else 0
    if alter not in _SIGNS:
        raise Unsayable("a double sharp or flat for a root")
    return f"{pitch.step}{_SIGNS[alter]}"


def terms_of(meter: str) -> list[tuple[int, int]]:
    """`3/8+2/8` as its parts."""
    pairs = (part.split("/") for part in meter.split("+"))
    return [(int(count), int(unit)) for count, unit in pairs]


def length_of(meter: str) -> Fraction:
    return sum((Fraction(4 * count, unit) for count, unit in terms_of(meter)), Fraction(0))


# Repeats


def pieces_of(bars: Sequence[Bar]) -> list[Piece]:
    """What is played once, and what is repeated, in order."""
    pieces: list[Piece] = []
    start, opened, at = 0, False, 0

    def plain(until: int) -> None:
        if until > start:
            pieces.append(Piece(tuple(bars[start:until])))

    while at < len(bars):
        bar = bars[at]
        if bar.opens or (bar.tempo is not None and not opened):
            if opened:
                raise Unsayable("a repeat within a repeat")
            plain(at)
            start, opened = at, bar.opens
        at += 1
        if bar.closes:
            if not opened and pieces:
                if not _alone(bars, at):
                    raise Unsayable("a later repeat without its start")
                continue
            at = _last_ending(bars, at)
            pieces.append(_repeated(bars[start:at], bar.closes))
            start, opened = at, False
    if opened:
        raise Unsayable("a repeat without its end")
    plain(len(bars))
    return pieces


def _alone(bars: Sequence[Bar], at: int) -> bool:
    """Whether the bar before `at` is a first ending that no second one follows.

    Without a start either, nothing tells what to play again: the MusicXML suite's 45e has
    one, and music21, partitura and verovio all play it once.
    """
    return bars[at - 1].passes == (1,) and not any(bar.passes for bar in bars[at : at + 1])


def _last_ending(bars: Sequence[Bar], at: int) -> int:
    """Where the endings that go on after the repeat sign before `at` end."""
    passes = bars[at - 1].passes
    while passes and at < len(bars) and bars[at].passes and max(bars[at].passes) >= max(passes):
        passes = bars[at].passes
        at += 1
    return at


def _repeated(bars: Sequence[Bar], times: int) -> Piece:
    body = tuple(bar for bar in bars if not bar.passes)
    endings: dict[tuple[int, ...], tuple[Bar, ...]] = {}
    for bar in bars[len(body) :]:
        endings[bar.passes] = (*endings.get(bar.passes, ()), bar)
    if not endings:
        return Piece(body, times)
    named = [number for passes in endings for number in passes]
    if body != tuple(bars[: len(body)]) or sorted(named) != list(range(1, len(named) + 1)):
        raise Unsayable("endings that don't number the passes")
    if len(named) < 2:
        raise Unsayable("an ending for one pass alone")
    return Piece(body, max(named), tuple(endings.items()))


def with_pickup(pieces: Sequence[Piece]) -> tuple[Bar | None, list[Piece]]:
    """A short first bar taken out; where it repeats, it follows each pass but the last."""
    first, *rest = pieces
    pickup = first.bars[0]
    if not pickup.short or (len(first.bars) == 1 and not rest):
        return None, list(pieces)
    bars, endings = first.bars[1:], first.endings
    if first.times > 1 and not endings:
        *body, last = bars
        early = tuple(range(1, first.times))
        bars, endings = tuple(body), ((early, (last,)), ((first.times,), (last,)))
    endings = tuple(
        (passes, with_it if first.times in passes else (*with_it, replace(pickup, opens=False)))
        for passes, with_it in endings
    )
    if endings and (not bars or len(endings[-1][0]) > 1):
        raise Unsayable("a pickup played again within an ending")
    return pickup, [Piece(bars, first.times, endings), *rest] if bars else rest
