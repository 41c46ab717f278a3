"""The bass: each chord's root, or the note after its slash, in a bass guitar's low register.

Every line strikes that note where a chord starts. `roots` holds it and strikes it again at
each bar line; `beats` strikes it on each beat. `root-fifth` plays it at the start of a bar
and the fifth halfway (4/4, 6/8), on the third beat of three, or where a later group
starts, with the fifth below the root if the range allows; a bar of one beat, or felt in
one (3/8), has the root alone. `walking` plays a note on each beat and leads into the next
chord where that sounds, pushed or not (see `walking`). A written line plays its degrees
(see `degrees`); its 1 and 8 are the slash bass if there is one. For marks, N.C. and silent
sections, see `chord_cues`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from backing.form.model import Form
from backing.form.parts import LINE
from backing.form.pattern_records import BassPattern
from backing.players.chord_cues import Cue, chord_cues
from backing.players.degrees import own_scale, semitones
from backing.players.part_settings import SettingsOf
from backing.players.tiling import Placed, bar_steps, own_meter
from backing.players.walking import Harmony, between
from backing.score import Note
from backing.theory.bass_lines import BASS_LINES, FIFTH, ROOT, WALK
from backing.theory.chords import Chord
from backing.theory.rhythm import Meter
from backing.timeline import Bar, Timeline

#: E1, the open fourth string, to G3, the twelfth fret of the first (standard tuning).
LOWEST, HIGHEST = 28, 55
#: The highest root of a written line, with an octave above it, and of a walking one.
HIGHEST_HOME, HIGHEST_WALK = HIGHEST - 12, HIGHEST - 5
DEFAULT_LINE = "roots"

STRONG, WEAK = 92, 80
WALKING, WALKING_WEAK = 88, 84


class _Pluck(NamedTuple):
    """A note to play: the root, the fifth, a step of a walk, or a degree as written."""

    tone: str
    velocity: int
    strong: bool = False
    opens_bar: bool = False


@dataclass(slots=True)
class _Phrase:
    """A chord's plucks in order, the first where it starts. It `leads_on` unless a rest follows."""

    chord: Chord
    starts: list[Fraction] = field(default_factory=list)
    plucks: list[_Pluck] = field(default_factory=list)
    end_whole: Fraction = Fraction(0)
    leads_on: bool = False


_START = _Pluck(ROOT, STRONG, strong=True)


def play(timeline: Timeline, settings: SettingsOf) -> list[Note]:
    """The bass line in order, one note at a time, `capo` semitones above what is written."""
    form = timeline.form
    cues = chord_cues(
        timeline, settings, lambda bar: _plucks(bar, form, settings), strike_changes=True
    )
    phrases = _phrases(cues)
    notes: list[Note] = []
    first: int | None = None
    for index, phrase in enumerate(phrases):
        if first is None or not phrases[index - 1].leads_on:
            first = _home(phrase, first, form.capo)
        following = phrases[index + 1] if phrase.leads_on else None
        target = _home(following, first, form.capo) if following else None
        walks = len(phrase.plucks) > 1 and phrase.plucks[1].tone == WALK
        if walks:
            target = _other_octave(first, target, len(phrase.plucks))
            next_scale = _harmony((following or phrase).chord, form.capo).scale
            pitches = _walk(phrase, first, target, next_scale, form.capo, index % 2 == 0)
        else:
            pitches = [
                _pitch(pluck.tone, phrase.chord, first, form.capo) for pluck in phrase.plucks
            ]
        for (start, end), pitch, pluck in zip(
            pairwise([*phrase.starts, phrase.end_whole]), pitches, phrase.plucks, strict=True
        ):
            notes.append(Note(start, end, pitch, pluck.velocity))
        first = first if target is None else target
    return notes


def _phrases(found: Sequence[Cue]) -> list[_Phrase]:
    phrases: list[_Phrase] = []
    sounding = False
    for cue in found:
        if cue.action == "strike":
            phrases[-1].starts.append(cue.start_whole)
            phrases[-1].plucks.append(cue.stroke or _START)
            continue
        if sounding:
            phrases[-1].end_whole = cue.start_whole
            phrases[-1].leads_on = cue.action == "change"
        sounding = cue.chord is not None
        if cue.chord is not None:
            phrases.append(_Phrase(cue.chord))
    return phrases


# Which pitch.


def nearest(pitch_class: int, before: int | None, highest: int = HIGHEST) -> int:
    """The pitch of a class, from `LOWEST` to `highest`, that best follows the one before.

    It is the smaller leap, unless the larger one goes down and by at most three
    semitones more: so a line that wanders up comes back. The first note is the lowest.
    """
    choices = range(LOWEST + (pitch_class - LOWEST) % 12, highest + 1, 12)
    if before is None:
        return choices[0]
    return min(choices, key=lambda pitch: 4 * abs(pitch - before) + pitch)


def _home(phrase: _Phrase, before: int | None, capo: int) -> int:
    """The pitch of a chord's bass where the chord starts."""
    written = any(pluck.tone not in (ROOT, FIFTH, WALK) for pluck in phrase.plucks)
    pitch_class = (phrase.chord.bass_class + capo) % 12
    return nearest(pitch_class, before, HIGHEST_HOME if written else HIGHEST)


def _pitch(tone: str, chord: Chord, first: int, capo: int) -> int:
    """A tone of a chord whose bass is at `first`, moved by octaves into the range."""
    if tone in (ROOT, "1"):
        return first
    if tone == "8":
        return _folded(first + 12)
    root = first - (first - chord.root.pitch_class - capo) % 12
    if tone != FIFTH:
        return _folded((root if root >= LOWEST else root + 12) + semitones(chord.intervals, tone))
    fifth = root + semitones(chord.intervals, "5")
    below = (first - fifth) % 12 or (first - root) % 12  # under C/G the other note is C
    return first - below if first - below >= LOWEST else first - below + 12


def _folded(pitch: int) -> int:
    while pitch > HIGHEST:
        pitch -= 12
    return pitch if pitch >= LOWEST else pitch + 12


def _harmony(chord: Chord, capo: int) -> Harmony:
    """A chord's tones and scale as they sound; without a seventh of its own it allows both."""
    root = chord.root.pitch_class + capo
    steps = set(own_scale(chord.intervals))
    if own_scale(chord.intervals)[6] not in chord.intervals:
        steps |= {10, 11}
    tones = frozenset((tone + capo) % 12 for tone in chord.pitch_classes)
    return Harmony(tones, frozenset((root + step) % 12 for step in steps) | tones)


def _other_octave(first: int, target: int | None, count: int) -> int | None:
    """Where the target is the same note again, four notes or more later, its other octave."""
    if target != first or count < 4:
        return target
    return next(
        (other for other in (first - 12, first + 12) if LOWEST <= other <= HIGHEST_WALK), first
    )


def _walk(
    phrase: _Phrase,
    first: int,
    target: int | None,
    next_scale: frozenset[int],
    capo: int,
    upward: bool,
) -> list[int]:
    """A chord's walk, bar by bar: each bar starts from the bass or, in turn, from the fifth."""
    harmony = _harmony(phrase.chord, capo)
    cuts = [0, *(i for i, pluck in enumerate(phrase.plucks) if i and pluck.opens_bar)]
    openings = [first]
    for turn in range(1, len(cuts)):
        tone = _pitch(FIFTH if turn % 2 else ROOT, phrase.chord, first, capo)
        openings.append(nearest(tone % 12, openings[-1]))
    pitches: list[int] = []
    stretches = zip(
        pairwise([*cuts, len(phrase.plucks)]), openings, [*openings[1:], target], strict=True
    )
    for (cut, end), opening, goal in stretches:
        strong = tuple(pluck.strong for pluck in phrase.plucks[cut + 1 : end])
        scale = next_scale if end == len(phrase.plucks) else harmony.scale
        rising = _starts_upward(opening, goal, upward)
        line = between(opening, goal, strong, harmony, scale, rising, LOWEST, HIGHEST)
        pitches += [opening, *line]
        upward = not upward
    return pitches


def _starts_upward(opening: int, goal: int | None, turn: bool) -> bool:
    """Toward the goal; to the same note, by turns up and down; with no goal, away from the edge."""
    if goal is None:
        return opening < (LOWEST + HIGHEST) // 2
    return turn if goal == opening else goal > opening


# Which beats.


def _plucks(bar: Bar, form: Form, settings: SettingsOf) -> Placed[_Pluck]:
    line = LINE.of(settings(bar.playing)) or DEFAULT_LINE
    if not isinstance(line, BassPattern):
        return _built_in(line, bar.meter)
    starts = bar.meter.beat_starts
    return tuple(
        (at, _Pluck(degree, STRONG if at in starts else WEAK))
        for at, degree in bar_steps(line.bars, line.step_whole, bar, own_meter(form, bar))
        if degree != "-"
    )


@lru_cache(maxsize=128)
def _built_in(name: str, meter: Meter) -> Placed[_Pluck]:
    """A bar of a built-in line in any meter."""
    places, tones = BASS_LINES[name]
    strong = _strong_beats(meter)
    beats: Sequence[int] = {
        "bar line": (0,),
        "strong beats": _strong_or_last(meter, strong),
        "beats": range(len(meter.beats)),
    }[places]
    return tuple(
        (
            meter.beat_starts[beat],
            _pluck(tones[turn % len(tones)], beat, beat in strong, in_turn=len(tones) > 1),
        )
        for turn, beat in enumerate(beats)
    )


def _pluck(tone: str, beat: int, is_strong: bool, in_turn: bool) -> _Pluck:
    """A tone on a beat. Strong beats stand out in a walk, elsewhere the bar line or the root."""
    if tone == WALK:
        return _Pluck(tone, WALKING if is_strong else WALKING_WEAK, is_strong, beat == 0)
    stands_out = tone == ROOT if in_turn else beat == 0
    return _Pluck(tone, STRONG if stands_out else WEAK)


def _strong_beats(meter: Meter) -> tuple[int, ...]:
    """A bar's strong beats: its first, the one halfway, the start of a later group."""
    count = len(meter.beats)
    if 1 < len(meter.group_starts) < count:
        return tuple(meter.beat_starts.index(start) for start in meter.group_starts)
    if count <= 3:
        return (0,)
    return (0, (count + 1) // 2) if count <= 6 else tuple(range(0, count, 2))


def _strong_or_last(meter: Meter, strong: tuple[int, ...]) -> tuple[int, ...]:
    """The strong beats; if there is only one, the last beat too, unless the bar is felt in one."""
    count = len(meter.beats)
    in_one = count == 1 or meter.bar_whole <= Fraction(3, 8)
    return (0, count - 1) if len(strong) == 1 and not in_one else strong
