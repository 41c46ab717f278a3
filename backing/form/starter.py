"""The text of a new form: a few keys with comments beside them, and a song that builds at once.

Its chords are written out for C major or A minor and transposed to the key, which also decides
how they are spelled.
"""

from __future__ import annotations

import json
import re
import textwrap
from fractions import Fraction

from backing.errors import BackingError, FormError
from backing.form.reader import read_form_text
from backing.form.starter_strings import (
    Strings,
    key_lines,
    line_lines,
    meter_steps,
    players_text,
    read_strings,
    riff_lines,
    riff_part,
    shape_lines,
)
from backing.theory.chords import Chord, parse_chord
from backing.theory.keys import Key, parse_key
from backing.theory.rhythm import Meter, note_value_text, parse_meter

MOST_BARS = 999
_MAJOR = ("C", "Am", "F", "G7")
_MINOR = ("Am", "F", "Dm", "E7")
_PLAIN = re.compile(r"[^\W\d_][^\W_]*(?: [^\W_]+)*")
_NOT_TEXT = {"true", "false", "null", "yes", "no", "on", "off", "y", "n"}
_NOTES = {
    Fraction(1, 16): "sixteenth",
    Fraction(1, 8): "eighth",
    Fraction(3, 16): "dotted eighth",
    Fraction(1, 4): "quarter",
    Fraction(3, 8): "dotted quarter",
    Fraction(1, 2): "half",
    Fraction(1): "whole",
}
_COLUMN = 32
#: The longest line of a comment that stands alone.
_WIDTH = 88


def starter(
    title: str,
    meter: str = "4/4",
    bars: int = 8,
    tempo: str | None = None,
    key: str = "G",
    instrument: str | None = None,
    tuning: str | None = None,
) -> str:
    """The YAML of a first form for a song.

    Args:
        title: the title of the song.
        meter: any meter that a form can have.
        bars: the number of bars in the verse, 1 to 999.
        tempo: beats per minute (units per minute if the beats are uneven); a walking
            pace by default.
        key: the key of the chords.
        instrument: what the student plays; a guitar by default.
        tuning: the instrument's tuning, if it isn't the standard one.

    Raises:
        BackingError: one of these is wrong; the message says which and what to write.
    """
    try:
        parsed_meter, parsed_key = parse_meter(meter), parse_key(key)
    except ValueError as error:
        raise BackingError(f"{error}.") from None
    if not 1 <= bars <= MOST_BARS:
        raise BackingError(f"A verse can't have {bars} bars. Write 1 to {MOST_BARS}.")
    strings = read_strings(instrument, tuning)
    tempo = " ".join(tempo.split()) if tempo else None
    return readable(_text(" ".join(title.split()), parsed_meter, bars, tempo, parsed_key, strings))


def readable(text: str) -> str:
    """Return a generated text unchanged if it is a valid form.

    Raises:
        BackingError: it isn't; without line and column, since the user has never seen the text.
    """
    try:
        read_form_text(text)
    except FormError as error:
        problem = error.problems[0]
        raise BackingError(f"{problem.message} {problem.fix}".strip()) from None
    return text


def _text(
    title: str, meter: Meter, bars: int, tempo: str | None, key: Key, strings: Strings
) -> str:
    chords = [_in_key(chord, key) for chord in (_MINOR if key.minor else _MAJOR)]
    verse = [chords[index % 4] for index in range(bars)]
    rows = [" | ".join(_padded(verse, at)) for at in range(0, bars, 4)]
    home, _, _, away = chords
    last, comment = _shared_bar(chords[2], away, meter)
    lines = [
        *_comment(
            "Change what is written after the colons and between the bar lines. Everything after "
            f"a # is a comment for you. {players_text(strings)} unless you write something else "
            "here."
        ),
        "",
        f"title: {_typed(title)}",
        *_tempo(meter, tempo),
        _beside(f"meter: {meter}", _meter_comment(meter)),
        _beside(f"key: {key}", "the key of the chords as you write them"),
        *(_beside(*line) for line in key_lines(strings)),
        *_capo(strings),
        _beside("count-in: 2", "bars of click before bar 1"),
        "",
        *(line_lines(meter) if strings.instrument.is_bass else _strum_lines(meter)),
        *_own_strings(strings, chords[: min(4, bars)], meter),
        "",
        "sections:",
        _beside("  verse:", "a bar line between bars; % repeats the bar before"),
        "    bars: |",
        *(f"      | {row} |" for row in rows),
        *_riff_over_verse(strings, chords[: min(4, bars)], meter),
        "  ending:",
        _beside(
            f'    bars: "| {last} | {home}(ring) |"', f"{comment}(ring): strike once, let it sound"
        ),
        "",
        _beside("form:", "the sections in playing order"),
        _beside("  - verse x2", "twice"),
        "  - ending",
        "",
        "# Exercises for the week: `backing lesson` makes a file for each of these lines, or the",
        "# usual ones if there are none. Numbers are percentages of the tempo.",
        "# practice:",
        "#   - 60, 80",
        "#   - {section: verse, ladder: 60-100}",
    ]
    return "\n".join(lines) + "\n"


def _comment(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, initial_indent="# ", subsequent_indent="# ")


def _strum_lines(meter: Meter) -> list[str]:
    return [
        "# To write your own strum, remove the # from these four lines. D is a stroke down,",
        "# U up, - none, and > accents the stroke before it.",
        "# strums:",
        f'#   mine: {{step: {note_value_text(meter_steps(meter)[0])}, play: "{_strum(meter)}"}}',
        "# parts:",
        _beside("#   guitar: {strum: mine}", "or picked: {pick: arpeggio}"),
    ]


def _capo(strings: Strings) -> list[str]:
    """A bass has none."""
    comment = "remove the first #, and everything sounds two frets higher"
    return [] if strings.instrument.is_bass else [_beside("# capo: 2", comment)]


def _own_strings(strings: Strings, chords: list[Chord], meter: Meter) -> list[str]:
    """A shape and a riff for strings that aren't a guitar's usual ones."""
    if strings.is_usual:
        return []
    blocks = [shape_lines(strings, chords[0]), riff_lines(strings, chords, meter)]
    return [line for block in blocks if block for line in ("", *block)]


def _riff_over_verse(strings: Strings, chords: list[Chord], meter: Meter) -> list[str]:
    if strings.is_usual or not riff_lines(strings, chords, meter):
        return []
    line, comment = riff_part(strings)
    return [_beside(f"    {line}", comment)]


def _beside(text: str, comment: str) -> str:
    """A line with its comment beside it; the comments line up unless the line is too long."""
    return f"{text:<{_COLUMN - 2}}  # {comment}"


def _in_key(chord: str, key: Key) -> Chord:
    return parse_chord(chord).moved(parse_key("Am" if key.minor else "C"), key)


def _padded(verse: list[Chord], at: int) -> list[str]:
    """The four bars of a row, padded so that the columns line up."""
    widths = [
        max(len(str(chord)) for chord in verse[column::4]) for column in range(min(4, len(verse)))
    ]
    row = verse[at : at + 4]
    return [f"{chord!s:<{width}}" for chord, width in zip(row, widths, strict=False)]


def _shared_bar(first: Chord, second: Chord, meter: Meter) -> tuple[str, str]:
    """A bar that two chords share if the meter has few enough beats, and the comment on it."""
    beats = len(meter.beats)
    if beats % 2 == 0:
        return f"{first} {second}", "two chords share a bar; "
    if beats in (3, 5):
        slots = [str(first), *["/"] * (beats - 2), str(second)]
        return " ".join(slots), "/ holds the chord; "
    return str(second), ""


def _tempo(meter: Meter, tempo: str | None) -> list[str]:
    beat = meter.beat_whole
    if beat is None:
        unit = note_value_text(meter.unit_whole)
        bpm = tempo or _pace(meter.unit_whole)
        comment = f"{_note(meter.unit_whole)}s per minute, since the beats differ in length"
        return [_beside(f"tempo: {{bpm: {bpm}, beat: {unit}}}", comment)]
    return [
        _beside(f"tempo: {tempo or _pace(beat)}", f"beats per minute; the beat is a {_note(beat)}")
    ]


def _pace(counted: Fraction) -> str:
    """A walking pace: about 90 quarters per minute, slower for long beats, faster for short."""
    return {Fraction(1): "40", Fraction(1, 2): "60", Fraction(3, 8): "60"}.get(
        counted,
        "92" if counted == Fraction(1, 4) else "180" if counted == Fraction(1, 8) else "120",
    )


def _meter_comment(meter: Meter) -> str:
    unit = _note(meter.unit_whole)
    counted = f"{meter.count} {unit}{'s' * (meter.count > 1)} in a bar"
    beats = len(meter.beats)
    return counted if beats == meter.count else f"{counted}, {beats} beat{'s' * (beats > 1)}"


def _note(value: Fraction) -> str:
    return f"{_NOTES.get(value, note_value_text(value))} note"


def _strum(meter: Meter) -> str:
    """A stroke down on each beat, the first one accented, and one up at the end of the bar."""
    step, count = meter_steps(meter)
    starts = set(meter.beat_starts)
    strokes = ["D" if step * index in starts else "-" for index in range(count)]
    strokes[0] = "D>"
    if strokes[-1] == "-":
        strokes[-1] = "U"
    return " ".join(strokes)


def _typed(title: str) -> str:
    """A title that YAML reads as text, in quotes if necessary."""
    if _PLAIN.fullmatch(title) and title.lower() not in _NOT_TEXT:
        return title
    return json.dumps(title, ensure_ascii=False)
