"""The bass: each chord's root, or the note after its slash, in a bass guitar's low register.

`roots` holds the note and strikes it again at each bar line; `beats` strikes it on each
beat. Marks, N.C. and silent sections are as `cues` tells.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from backing.players.cues import SettingsOf, cues
from backing.score import Note
from backing.theory.chords import Chord
from backing.timeline import Bar, Timeline

#: E1, the open fourth string, to G3, the twelfth fret of the first (standard tuning).
LOWEST, HIGHEST = 28, 55
LINES = ("roots", "beats")
DEFAULT_LINE = "roots"

STRONG, WEAK = 92, 80
_BAR_LINE = Fraction(0)


def play(timeline: Timeline, settings: SettingsOf) -> list[Note]:
    """The bass line in order, one note at a time, `capo` semitones above what is written."""
    capo = timeline.form.capo
    notes: list[Note] = []
    start: Fraction | None = None
    pitch: int | None = None
    velocity = STRONG
    for cue in cues(timeline, settings, lambda bar: _strokes(bar, settings), strike_changes=True):
        if cue.action == "change":
            continue  # its strike follows
        if start is not None and pitch is not None:
            notes.append(Note(start, cue.start_whole, pitch, velocity))
        start = None
        if cue.action == "strike" and cue.chord is not None:
            start, velocity = cue.start_whole, cue.stroke or STRONG
            pitch = nearest(_bass_class(cue.chord, capo), pitch)
    return notes


def nearest(pitch_class: int, before: int | None) -> int:
    """The pitch of a class, within the range, that lies best after the one before.

    The smaller leap wins, unless the larger goes down and by no more than three
    semitones further: a line that wanders up comes home. The first note is the lowest.
    """
    choices = range(LOWEST + (pitch_class - LOWEST) % 12, HIGHEST + 1, 12)
    if before is None:
        return choices[0]
    return min(choices, key=lambda pitch: 4 * abs(pitch - before) + pitch)


def _bass_class(chord: Chord, capo: int) -> int:
    return (chord.bass_class + capo) % 12


def _strokes(bar: Bar, settings: SettingsOf) -> Sequence[tuple[Fraction, int]]:
    line = settings(bar.playing).line or DEFAULT_LINE
    starts = bar.meter.beat_starts if line == "beats" else (_BAR_LINE,)
    return [(start, WEAK if start else STRONG) for start in starts]
