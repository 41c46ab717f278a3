"""The pad: held chords in four voices, led from one to the next with the least movement.

Voices are between E3 and E5, which leaves room for the bass and the guitar's low strings;
they are within a twelfth of each other, no two on one pitch. A chord of more than four
tones leaves out its fifth, then its root, then its ninth; one of fewer doubles its root
or fifth, or any tone if no fifth is perfect. A slash bass is left to the bass.

Of all such voicings, the one played keeps every common tone in a voice, and its voices,
low to high, move the fewest semitones in all; of equals, it is the one nearest to the
middle of the range. A tone in both chords sounds on, except on a piano, which dies away
and strikes every chord anew, and where the sound changes. For marks, N.C. and silent
sections, see `chord_cues`.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from itertools import combinations_with_replacement, product

from backing.form.parts import PARTS
from backing.players.chord_cues import chord_cues
from backing.players.part_settings import SettingsOf
from backing.score import Note
from backing.theory.chords import Chord
from backing.theory.general_midi import SUSTAINED
from backing.timeline import Bar, Timeline

DEFAULT_SOUND = "organ"

#: E3 to E5, and how far apart the outer voices may lie.
LOWEST, HIGHEST, WIDEST = 52, 76, 19
MIDDLE = 64
VOICES = 4
VELOCITY = 64
#: What a chord of too many tones leaves out, in semitones above the root, the first one first.
LEFT_OUT = (7, 0, 2, 5, 9)


def play(timeline: Timeline, settings: SettingsOf) -> list[Note]:
    """The chords in order, each voice from low to high, `capo` semitones up."""
    sounds = {
        span.start_whole: settings(span.playing).sound or DEFAULT_SOUND for span in timeline.spans
    }
    notes: list[Note] = []
    sounding: dict[int, Fraction] = {}
    voicing: tuple[int, ...] = ()
    sound = DEFAULT_SOUND
    for cue in chord_cues(timeline, settings, _no_strokes):
        at = cue.start_whole
        kept: tuple[int, ...] = ()  # a mark strikes all voices, a change only those that are new
        if cue.chord is not None:
            voicing = led(voicing, *tones(cue.chord, timeline.form.capo))
        if cue.action == "change":
            before, sound = sound, sounds[at]
            if sound == before and PARTS["pad"].programs[sound] in SUSTAINED:
                kept = voicing
        for pitch in sorted(sounding.keys() - set(kept)):
            if sounding[pitch] < at:
                notes.append(Note(sounding[pitch], at, pitch, VELOCITY))
            del sounding[pitch]
        if cue.chord is not None:
            for pitch in voicing:
                sounding.setdefault(pitch, at)
    return sorted(notes)


def _no_strokes(bar: Bar) -> tuple[()]:
    return ()


def tones(chord: Chord, capo: int = 0) -> tuple[frozenset[int], frozenset[int]]:
    """The pitch classes that a chord's voices take, and those of them that may be doubled."""
    intervals = list(chord.intervals)
    for tone in LEFT_OUT:
        if len(intervals) > VOICES and tone in intervals:
            intervals.remove(tone)
    root = chord.root.pitch_class + capo
    doubled = [0, 7] if {0, 7} <= set(intervals) else intervals
    return (
        frozenset((root + step) % 12 for step in intervals[:VOICES]),
        frozenset((root + step) % 12 for step in doubled),
    )


@lru_cache(maxsize=4096)
def led(
    before: tuple[int, ...], classes: frozenset[int], doubled: frozenset[int]
) -> tuple[int, ...]:
    """The voicing, low to high, that moves least from the one before; the first is central."""
    common = {pitch % 12 for pitch in before} & classes

    def cost(voicing: tuple[int, ...]) -> tuple[int, int, int, tuple[int, ...]]:
        lost = len(common - {pitch % 12 for pitch in voicing if pitch in before})
        moved = sum(abs(new - old) for new, old in zip(voicing, before, strict=False))
        return lost, moved, sum(abs(pitch - MIDDLE) for pitch in voicing), voicing

    return min(voicings(classes, doubled), key=cost)


@lru_cache(maxsize=512)
def voicings(classes: frozenset[int], doubled: frozenset[int]) -> tuple[tuple[int, ...], ...]:
    """Every way to place these pitch classes in four voices."""
    found = set()
    extras = combinations_with_replacement(sorted(doubled), VOICES - len(classes))
    for extra in extras:
        places = [
            range(LOWEST + (one - LOWEST) % 12, HIGHEST + 1, 12) for one in (*classes, *extra)
        ]
        for pitches in product(*places):
            voicing = tuple(sorted(set(pitches)))
            if len(voicing) == VOICES and voicing[-1] - voicing[0] <= WIDEST:
                found.add(voicing)
    return tuple(sorted(found))
