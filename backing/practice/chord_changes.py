"""Chord changes to practice, as a form: each change there and back, several times.

The last chord leads back to the first: A, F#m7 and D make the changes A to F#m7, F#m7 to D
and D to A. Every change is played in both directions, so one that comes again, in either
direction, is left out: two chords make one change. Each chord gets one bar, strummed down on
the beats.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from fractions import Fraction

from backing.errors import BackingError, FormError, Problem
from backing.form.kinds import sentence
from backing.theory.chords import Chord, ChordError, parse_chord
from backing.theory.rhythm import Meter, note_value_text, parse_meter

# Spaces, commas or bar lines separate chords; brackets belong to their chord.
_CHORD = re.compile(r"(?:\([^()]*\)|[^\s,|])+")
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")
_STRUM_WHOLE = Fraction(2)  # a longer bar repeats a strum of this length

#: The usual tempo in beats a minute; in units a minute where the beats are uneven.
USUAL_TEMPO, USUAL_UNITS = "60", "120"
#: How often each change is usually played: at one speed, and at each speed of a ladder.
USUAL_TIMES, TIMES_ON_LADDER = 8, 2


def drill_text(
    chords: Sequence[Chord],
    tempo: str | None = None,
    meter: str = "4/4",
    times: int = USUAL_TIMES,
    capo: int = 0,
) -> str:
    """The YAML of a form that plays each change `times` over.

    Args:
        chords: at least two, and none the same as the one before it, as from `read_chords`.
        tempo: beats a minute (units a minute where the beats are uneven); None is slow.
        meter: any meter of the form language.
        times: how often each change is played there and back.
        capo: the fret, 0 to 11.

    Raises:
        BackingError: one of these is wrong; it says which, and what to write.
    """
    from backing.form.starter import readable

    try:
        of = parse_meter(meter)
    except ValueError as error:
        raise BackingError(f"{error}.") from None
    if tempo is None:
        tempo = USUAL_TEMPO if of.beat_whole is not None else USUAL_UNITS
    return readable(_text(chords, " ".join(tempo.split()), of, times, capo))


def read_chords(text: str) -> tuple[Chord, ...]:
    """Read chords separated by spaces, commas or bar lines.

    Raises:
        FormError: a text isn't a chord, a chord comes twice in a row, or there are fewer than
            two; with the place of each mistake.
    """
    line = " ".join(text.splitlines()) if "\n" in text or "\r" in text else text
    chords: list[Chord] = []
    problems = []
    for found in _CHORD.finditer(line):
        column = found.start() + 1
        try:
            chord = parse_chord(found[0])
        except ChordError as error:
            problems.append(Problem(1, column + error.offset, sentence(str(error))))
            continue
        if chords and _sound(chord) == _sound(chords[-1]):
            message = f"{chord} comes twice in a row, which isn't a change."
            problems.append(Problem(1, column, message, "Leave one of them out."))
        chords.append(chord)
    if not problems and len(chords) < 2:
        message = "a change takes two chords." if chords else "there are no chords."
        advice = 'Write them in the order of playing: "A F#m7 D".'
        problems.append(Problem(1, 1, message, advice))
    if problems:
        raise FormError("chords", problems, [line])
    return tuple(chords)


def changes(chords: Sequence[Chord]) -> tuple[tuple[Chord, Chord], ...]:
    """Each change between neighbors, the last chord leading to the first; each pair once."""
    found: dict[frozenset[object], tuple[Chord, Chord]] = {}
    for one, other in zip(chords, (*chords[1:], chords[0]), strict=True):
        pair = frozenset((_sound(one), _sound(other)))
        if len(pair) > 1:
            found.setdefault(pair, (one, other))
    return tuple(found.values())


def _sound(chord: Chord) -> tuple[int, tuple[int, ...], int]:
    """What two spellings of one chord, such as A and Amaj, have in common."""
    return chord.root.pitch_class, chord.intervals, chord.bass_class


def title(chords: Sequence[Chord]) -> str:
    """A drill's title; with commas, so that a file's name tells D/F# from D and F#."""
    return f"Changes: {', '.join(map(str, chords))}"


def _text(chords: Sequence[Chord], tempo: str, meter: Meter, times: int, capo: int) -> str:
    pairs = [(f"{one} to {other}", f"| {one} | {other} |") for one, other in changes(chords)]
    lines = [
        "# Chord changes, each played there and back several times.",
        f"title: {json.dumps(title(chords), ensure_ascii=False)}",
        _tempo(meter, tempo),
        f"meter: {meter}",
        *([f"capo: {capo}"] if capo else []),
        "count-in: 1",
        "strums:",
        f'  beats: {{step: {note_value_text(meter.unit_whole)}, play: "{_strum(meter)}"}}',
        "parts:",
        "  guitar: {strum: beats}",
        "sections:",
    ]
    for name, bars in pairs:
        lines += [f"  {json.dumps(name, ensure_ascii=False)}:", f'    bars: "{bars}"']
    lines += ["form:"]
    for name, _ in pairs:
        section = json.dumps(name, ensure_ascii=False)
        lines += [f"  - {{section: {section}, times: {times}}}"]
    return "\n".join(lines) + "\n"


def _tempo(meter: Meter, tempo: str) -> str:
    bpm = tempo if _NUMBER.fullmatch(tempo) else json.dumps(tempo, ensure_ascii=False)
    if meter.beat_whole is not None:
        return f"tempo: {bpm}"
    return f"tempo: {{bpm: {bpm}, beat: {note_value_text(meter.unit_whole)}}}"


def _strum(meter: Meter) -> str:
    """Down on each beat, with an accent on the first."""
    count = int(min(meter.bar_whole, _STRUM_WHOLE) / meter.unit_whole)
    starts = set(meter.beat_starts)
    strokes = ["D" if meter.unit_whole * at in starts else "-" for at in range(max(1, count))]
    return " ".join(["D>", *strokes[1:]])
