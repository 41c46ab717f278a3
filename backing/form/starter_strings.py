"""What a new form says of the student's instrument: its strings, and patterns written for them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import cycle
from typing import NamedTuple

from backing.errors import BackingError
from backing.form.advice import suggestion
from backing.theory.chords import Chord
from backing.theory.fingerings import best
from backing.theory.instruments import GUITAR, INSTRUMENTS, Instrument
from backing.theory.pitch import note_name
from backing.theory.rhythm import Meter, note_value_text
from backing.theory.tunings import NAMED, parse_tuning

#: The steps that a riff may have, and how long its rows may be with their comment signs.
_STEPS = tuple(Fraction(1, under) for under in (8, 16, 4, 2, 1))
_WIDEST_ROW = 88
_HIGHEST_DIGIT = 9


class Strings(NamedTuple):
    """The strings that a new form is for: an instrument, and its tuning as typed if it has one."""

    instrument: Instrument
    typed: str | None
    tuning: tuple[int, ...]

    @property
    def is_usual(self) -> bool:
        """Whether a form need not say what it is for."""
        return self.instrument is GUITAR and self.typed is None


def typed_name(name: str) -> str:
    """An instrument's or tuning's name as a word of the command line: half-step-down."""
    return name.replace(" ", "-")


def read_strings(instrument: str | None, tuning: str | None) -> Strings:
    """The strings of an instrument, in its standard tuning or another.

    Args:
        instrument: one of `INSTRUMENTS`, with spaces or hyphens; a guitar if it is None.
        tuning: as a form has it; a name may have hyphens for its spaces.

    Raises:
        BackingError: there is no such instrument, or it can't be tuned like that.
    """
    by_word = {typed_name(name): row for name, row in INSTRUMENTS.items()}
    word = GUITAR.name if instrument is None else typed_name(" ".join(instrument.split()))
    if word not in by_word:
        advice = suggestion(word, by_word)
        raise BackingError(f"There is no instrument {instrument!r}. {advice}")
    found = by_word[word]
    if tuning is None:
        return Strings(found, None, found.tuning)
    names = {typed_name(name): name for name in NAMED[found.name]}
    typed = " ".join(tuning.split())
    typed = names.get(typed_name(typed), typed)
    try:
        return Strings(found, typed, parse_tuning(typed, found))
    except ValueError as error:
        raise BackingError(f"{error}.") from None


def players_text(strings: Strings) -> str:
    """Who plays unless a form says otherwise, as the start of a sentence."""
    if strings.instrument.is_bass:
        return "A click, a bass that holds the roots, and a plain strummed guitar play"
    return f"A click, a bass and a plain strummed {strings.instrument.name} play"


def key_lines(strings: Strings) -> Iterator[tuple[str, str]]:
    """The instrument's and the tuning's lines, each with its comment."""
    notes = f"{' '.join(map(note_name, strings.tuning))}, the lowest row first"
    if strings.instrument is not GUITAR:
        comment = "what the student plays" if strings.typed else notes
        yield f"instrument: {strings.instrument.name}", comment
    if strings.typed:
        yield f"tuning: {strings.typed}", notes


def line_lines(meter: Meter) -> list[str]:
    """A bass line in degrees to take the comment signs from."""
    step, count = meter_steps(meter)
    starts = [start for start in meter.beat_starts if start < count * step]
    degrees = dict(zip(starts, cycle(("1", "5", "8", "5")), strict=False))
    play = " ".join(degrees.get(step * index, "-") for index in range(count))
    return [
        "# To write your own bass line, remove the # from these two lines. A number is a degree",
        "# of the chord, 1 its root and 8 the octave; - holds.",
        "# parts:",
        f'#   bass: {{line: {{step: {note_value_text(step)}, play: "{play}"}}}}',
    ]


def meter_steps(meter: Meter) -> tuple[Fraction, int]:
    """A pattern's step in a meter, and how many of them are written: at most two whole notes."""
    step = min(Fraction(1, 8), meter.unit_whole)
    return step, int(min(meter.bar_whole, Fraction(2)) / step)


def shape_lines(strings: Strings, chord: Chord) -> list[str]:
    """A shape to take the comment signs from; a bass student has none."""
    if strings.instrument.is_bass:
        return []
    return [
        "# For a shape of your own, remove the # from these two lines. It has a fret for each",
        "# string, the lowest row first; x isn't played.",
        "# shapes:",
        f"#   {chord}: {best(chord, strings.tuning)}",
    ]


def riff_lines(strings: Strings, chords: Sequence[Chord], meter: Meter) -> list[str]:
    """A riff over chords, a bar each, to take the comment signs from; none if bars are too long."""
    tab = _tab(strings, chords, meter)
    if not tab:
        return []
    step, rows = tab
    return [
        "# A riff in tab has a row for each string, the high one on top. To play this one, remove",
        "# the # from its lines and from the line below the verse.",
        "# riffs:",
        "#   tune:",
        f"#     step: {note_value_text(step)}",
        "#     tab: |",
        *(f"#       {row}" for row in rows),
    ]


def riff_part(strings: Strings) -> tuple[str, str]:
    """The line of a section that plays the riff, and its comment."""
    if strings.instrument.is_bass:
        return "# parts: {bass: {riff: tune}}", "the bass plays the riff"
    return "# parts: {lead: {riff: tune}}", f"a second {strings.instrument.name} plays the riff"


def _tab(
    strings: Strings, chords: Sequence[Chord], meter: Meter
) -> tuple[Fraction, list[str]] | None:
    """A bar for each chord, one of its notes on each beat; None if rows would be too long."""
    count = len(strings.tuning)
    for step in _STEPS:
        cells = meter.bar_whole / step
        on_beats = [start / step for start in meter.beat_starts]
        fits = len(chords) * (cells + 1) <= _WIDEST_ROW
        if fits and all(at.denominator == 1 for at in (cells, *on_beats)):
            break
    else:
        return None
    rows = [""] * count
    for chord in chords:
        bar = [["-"] * int(cells) for _ in rows]
        notes = cycle(_notes(strings, chord))
        for at, (string, fret) in zip(on_beats, notes, strict=False):
            bar[string][int(at)] = str(fret)
        rows = [f"{row}|{''.join(own)}" for row, own in zip(rows, bar, strict=True)]
    names = [note_name(note).rstrip("-0123456789") for note in strings.tuning]
    wide = max(map(len, names))
    return step, [f"{name:<{wide}}{row}|" for name, row in zip(names, rows, strict=True)][::-1]


def _notes(strings: Strings, chord: Chord) -> list[tuple[int, int]]:
    """A chord's notes one after another, each its string (0 the lowest row) and fret."""
    if strings.instrument.is_bass:
        root = chord.bass_class
        return [_lowest(strings.tuning, root), _lowest(strings.tuning, root + _fifth(chord))]
    shape = best(chord, strings.tuning)
    return [
        (string, fret)
        for string, fret in enumerate(shape.frets)
        if fret is not None and fret <= _HIGHEST_DIGIT
    ]


def _fifth(chord: Chord) -> int:
    """Semitones from the root to the chord's fifth."""
    return next((step for step in chord.intervals if step in (6, 7, 8)), 7)


def _lowest(tuning: Sequence[int], pitch_class: int) -> tuple[int, int]:
    """The place of a note that is nearest to the nut."""
    frets = [(pitch_class - note) % 12 for note in tuning]
    return frets.index(min(frets)), min(frets)
