"""The text of a new form: few keys, much said beside them, and a song that builds at once.

Its chords are written out for C major or A minor and moved into the writer's key, so that
they are spelled as that key spells them.
"""

from __future__ import annotations

import json
import re
from fractions import Fraction

from backing.errors import BackingError, FormError
from backing.form.reader import read_form_text
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


def starter(
    title: str, meter: str = "4/4", bars: int = 8, tempo: str | None = None, key: str = "G"
) -> str:
    """The YAML of a first form for a song.

    Args:
        title: the song's.
        meter: any that the language has.
        bars: how many the verse has, 1 to 999.
        tempo: beats a minute (units a minute where the beats are uneven); a walking
            pace unless given.
        key: of the chords.

    Raises:
        BackingError: one of these can't be; it says which and what to write.
    """
    try:
        of, in_key = parse_meter(meter), parse_key(key)
    except ValueError as error:
        raise BackingError(f"{error}.") from None
    if not 1 <= bars <= MOST_BARS:
        raise BackingError(f"a verse can't have {bars} bars. Write 1 to {MOST_BARS}.")
    tempo = " ".join(tempo.split()) if tempo else None
    return readable(_text(" ".join(title.split()), of, bars, tempo, in_key))


def readable(text: str) -> str:
    """A text that we wrote of what a user asked for, once it is found to be a form.

    Raises:
        BackingError: something in it can't be; without a place, which the user never saw.
    """
    try:
        read_form_text(text)
    except FormError as error:
        problem = error.problems[0]
        raise BackingError(f"{problem.message} {problem.mend}".strip()) from None
    return text


def _text(title: str, meter: Meter, bars: int, tempo: str | None, key: Key) -> str:
    chords = [_in_key(chord, key) for chord in (_MINOR if key.minor else _MAJOR)]
    verse = [chords[index % 4] for index in range(bars)]
    rows = [" | ".join(_padded(verse, at)) for at in range(0, bars, 4)]
    home, _, _, away = chords
    last, says = _shared(chords[2], away, meter)
    lines = [
        "# Change what stands after the colons and between the bar lines.",
        "# What follows a # is a remark for you. Click, bass and a plain strummed guitar",
        "# play unless this form says otherwise.",
        "",
        f"title: {_typed(title)}",
        *_tempo(meter, tempo),
        _beside(f"meter: {meter}", _meter_says(meter)),
        _beside(f"key: {key}", "of the chords as you write them"),
        _beside("# capo: 2", "take the first # away, and all sounds two frets higher"),
        _beside("count-in: 2", "bars of click before bar 1"),
        "",
        "# A strum of your own: take the # away from these four lines. D is down, U up,",
        "# - none, and > leans on the stroke before it.",
        "# strums:",
        f'#   mine: {{step: {_step(meter)}, play: "{_strum(meter)}"}}',
        "# parts:",
        "#   guitar: {strum: mine}",
        "",
        "sections:",
        _beside("  verse:", "a bar line between bars; % plays the bar before again"),
        "    bars: |",
        *(f"      | {row} |" for row in rows),
        "  ending:",
        _beside(
            f'    bars: "| {last} | {home}(ring) |"', f"{says}(ring): strike once, let it sound"
        ),
        "",
        _beside("form:", "the sections in playing order"),
        _beside("  - verse x2", "twice"),
        "  - ending",
        "",
        "# Exercises for the week: `backing lesson` makes a file of each of these lines, and a",
        "# usual set without them. Numbers are percent of the tempo.",
        "# practice:",
        "#   - 60, 80",
        "#   - {section: verse, ladder: 60-100}",
    ]
    return "\n".join(lines) + "\n"


def _beside(text: str, says: str) -> str:
    """A line with its remark beside it, in a column of its own where it can be."""
    return f"{text:<{_COLUMN - 2}}  # {says}"


def _in_key(chord: str, key: Key) -> Chord:
    tonic = parse_key("Am" if key.minor else "C").tonic
    return parse_chord(chord).moved(tonic, key.tonic)


def _padded(verse: list[Chord], at: int) -> list[str]:
    """Four bars of a row, each as wide as its column's widest."""
    widths = [
        max(len(str(chord)) for chord in verse[column::4]) for column in range(min(4, len(verse)))
    ]
    row = verse[at : at + 4]
    return [f"{chord!s:<{width}}" for chord, width in zip(row, widths, strict=False)]


def _shared(first: Chord, second: Chord, meter: Meter) -> tuple[str, str]:
    """A bar of two chords where its beats can be shared out in a line; and what to say of it."""
    beats = len(meter.beats)
    if beats % 2 == 0:
        return f"{first} {second}", "two chords share a bar; "
    if beats in (3, 5):
        slots = [str(first), *["/"] * (beats - 2), str(second)]
        return " ".join(slots), "/ holds a chord on; "
    return str(second), ""


def _tempo(meter: Meter, tempo: str | None) -> list[str]:
    beat = meter.beat_whole
    if beat is None:
        unit = note_value_text(meter.unit_whole)
        bpm = tempo or _pace(meter.unit_whole)
        says = f"{_note(meter.unit_whole)}s a minute, since the beats differ in length"
        return [_beside(f"tempo: {{bpm: {bpm}, beat: {unit}}}", says)]
    return [
        _beside(f"tempo: {tempo or _pace(beat)}", f"beats a minute; the beat is a {_note(beat)}")
    ]


def _pace(counted: Fraction) -> str:
    """A walking pace: about 90 quarters a minute, slower for long beats and quicker for short."""
    return {Fraction(1): "40", Fraction(1, 2): "60", Fraction(3, 8): "60"}.get(
        counted,
        "92" if counted == Fraction(1, 4) else "180" if counted == Fraction(1, 8) else "120",
    )


def _meter_says(meter: Meter) -> str:
    unit = _note(meter.unit_whole)
    counted = f"{meter.count} {unit}{'s' * (meter.count > 1)} in a bar"
    beats = len(meter.beats)
    return counted if beats == meter.count else f"{counted}, {beats} beat{'s' * (beats > 1)}"


def _note(value: Fraction) -> str:
    return f"{_NOTES.get(value, note_value_text(value))} note"


def _step(meter: Meter) -> str:
    return note_value_text(min(Fraction(1, 8), meter.unit_whole))


def _strum(meter: Meter) -> str:
    """A stroke down on each beat, leaning on the first, and one up before the bar ends."""
    step = min(Fraction(1, 8), meter.unit_whole)
    starts = set(meter.beat_starts)
    count = int(min(meter.bar_whole, Fraction(2)) / step)
    strokes = ["D" if step * index in starts else "-" for index in range(count)]
    strokes[0] = "D>"
    if strokes[-1] == "-":
        strokes[-1] = "U"
    return " ".join(strokes)


def _typed(title: str) -> str:
    """A title as YAML takes it for text, in quotes if need be."""
    if _PLAIN.fullmatch(title) and title.lower() not in _NOT_TEXT:
        return title
    return json.dumps(title, ensure_ascii=False)
