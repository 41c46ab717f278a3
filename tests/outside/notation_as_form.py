"""Notated music written as a form's YAML.

A bar that is not as long as its meter says (a pickup, the last bar before a repeat) has a
meter of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Any

from outside.notation import (
    Bar,
    Piece,
    Unsayable,
    bars_of,
    length_of,
    pieces_of,
    terms_of,
    with_pickup,
)

from backing.theory.rhythm import METER_UNITS, MOST_UNITS, parse_meter

#: What music21 takes where no tempo is written.
USUAL_TEMPO = Fraction(120)


def form_of(part: Any, title: str, count_in: int = 0, guitar: bool = True) -> str:
    """The form's YAML text, its players exact.

    Raises:
        Unsayable: with the reason.
    """
    pickup, pieces = with_pickup(pieces_of(bars_of(part)))
    return _Writer(title, count_in, guitar).text(pickup, pieces)


class _Writer:
    """Pieces as YAML; remembers the chord that sounds and the tempo that holds."""

    def __init__(self, title: str, count_in: int, guitar: bool) -> None:
        self.head = f"title: {title}\ncount-in: {count_in}\nhuman: 0\n"
        self.head += "" if guitar else "parts: {guitar: off}\n"
        self.sounding = "N.C."
        self.tempo = USUAL_TEMPO

    def text(self, pickup: Bar | None, pieces: Sequence[Piece]) -> str:
        lead_in, meter = "", pieces[0].bars[0].meter
        if pickup is not None:
            self.tempo = pickup.tempo or self.tempo
            lead_in = f'pickup: "{self._bars((pickup,), "")}"\n'
        sections = "".join(
            f"  part {number}:\n{''.join(self._piece(piece, _meter(meter)))}"
            for number, piece in enumerate(pieces, 1)
        )
        return (
            f"{self.head}tempo: {_bpm(USUAL_TEMPO)}\nmeter: {_meter(meter)}\n"
            f"{lead_in}sections:\n{sections}"
            f"form: [{', '.join(f'part {number}' for number, _ in enumerate(pieces, 1))}]\n"
        )

    def _piece(self, piece: Piece, meter: str) -> Iterator[str]:
        self.tempo = piece.bars[0].tempo or self.tempo
        before = self.sounding
        first = piece.bars[0].chords
        yield f"    tempo: {_bpm(self.tempo)}\n"
        yield f'    bars: "{self._bars(piece.bars, meter)}"\n'
        last = _own_meter(piece.bars[-1])
        if piece.times > 1:
            yield f"    times: {piece.times}\n"
        if piece.endings:
            yield "    endings:\n"
        after = self.sounding
        ends = {after} if not piece.endings else set()
        for passes, bars in piece.endings:
            self.sounding = after
            span = f"{passes[0]}-{passes[-1]}" if len(passes) > 1 else f"{passes[0]}"
            yield f'      {span}: "{self._bars(bars, last, goes_on=True)}"\n'
            ends.add(self.sounding)
        if piece.times > 1 and not (first and first[0][0] == 0) and ends != {before}:
            raise Unsayable("a repeat that goes back into another chord than it came from")

    def _bars(self, bars: Sequence[Bar], meter: str, goes_on: bool = False) -> str:
        """Bars after one of `meter`; the first names its chord unless it goes on from others."""
        words = []
        for index, bar in enumerate(bars):
            own = _own_meter(bar)
            slots = self._slots(bar, own, index == 0 and not goes_on)
            words.append(slots if own == meter else f"{own.replace(' ', '')} {slots}")
            meter = own
        return f"| {' | '.join(words)} |"

    def _slots(self, bar: Bar, own: str, named: bool) -> str:
        chords = dict(bar.chords)
        if named:
            chords.setdefault(Fraction(0), self.sounding)
        self.sounding = [self.sounding, *chords.values()][-1]
        if set(chords) <= {0}:
            return chords.get(Fraction(0), "/")
        meter = parse_meter(own)
        units = [meter.unit_whole * number * 4 for number in range(meter.count)]
        for starts in ([beat * 4 for beat in meter.beat_starts], units):
            if set(chords) <= set(starts):
                return " ".join(chords.get(start, "/") for start in starts)
        raise Unsayable("a chord between the units of a bar")


def _bpm(quarters: Fraction) -> str:
    return f"{{bpm: {float(quarters):g}, beat: 1/4}}"


def _meter(meter: str) -> str:
    """A written meter in our words: `3/8+2/8` is 5/8 (3+2)."""
    terms = terms_of(meter)
    unit = max(unit for _, unit in terms)
    groups = [count * unit // unit_ for count, unit_ in terms]
    return _spelled(sum(groups), unit, groups if len(groups) > 1 else ())


def _own_meter(bar: Bar) -> str:
    """The meter that is as long as the bar: the written one, or one made for it."""
    if bar.quarters == length_of(bar.meter):
        return _meter(bar.meter)
    written = max(unit for _, unit in terms_of(bar.meter))
    for unit in METER_UNITS:
        count = bar.quarters * unit / 4
        if unit >= written and count.denominator == 1:
            return _spelled(int(count), unit)
    raise Unsayable(f"a bar of {bar.quarters / 4} of a whole note")


def _spelled(count: int, unit: int, groups: Sequence[int] = ()) -> str:
    if unit not in METER_UNITS:
        raise Unsayable(f"a meter in units of 1/{unit}")
    if not 1 <= count <= MOST_UNITS:
        raise Unsayable(f"a bar of {count} units")
    if not groups and unit >= 8 and count > 4 and count not in (5, 6, 7, 9, 12):
        groups = [3] * (count // 3) + ([count % 3] if count % 3 else [])
    return f"{count}/{unit}" + (f" ({'+'.join(map(str, groups))})" if groups else "")
