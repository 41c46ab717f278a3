"""What the proof takes for a grip of a chord, against an open data set of guitar chord shapes.

Source: npm `@tombatossals/chords-db` 0.5.1 (MIT); see data/README.md. Measured over its clean
suffixes: the proof takes every position that one hand can hold by our rules and that has all
the tones that name its chord, and none of which a note is moved out of the chord.
"""

from __future__ import annotations

from collections.abc import Iterator

from outside.published_shapes import CLEAN, entries

from backing.theory.chords import Chord
from backing.theory.fretboard import STANDARD_TUNING, Fingering
from backing.theory.hand import difficulty
from backing.verify.comparison.grips import Neck, Spelling, Struck, grip_for

NECK = Neck(STANDARD_TUNING, 0)


def positions() -> Iterator[tuple[Chord, Fingering]]:
    """Every published position of a clean suffix that a hand can hold."""
    for entry in entries():
        if entry.suffix in CLEAN:
            for shape in entry.positions:
                if difficulty(shape) < float("inf"):
                    yield entry.chord, shape


def spelled(chord: Chord) -> Spelling:
    """All tones of a chord, of which a fifth may be left out (common practice)."""
    tones = sum(1 << tone for tone in chord.pitch_classes)
    fifth = 1 << (chord.root.pitch_class + 7) % 12
    return Spelling(tones, tones & ~fifth, None)


def taken(chord: Chord, run: tuple[int, ...]) -> bool:
    """Whether the proof takes a downstroke over these pitches for the chord."""
    sweep = tuple((pitch,) for pitch in run)
    struck = Struck(frozenset({sweep}), frozenset(), has_all=True)
    return grip_for(struck, NECK, spelled(chord)) is not None


def run_of(shape: Fingering) -> tuple[int, ...]:
    return tuple(pitch for pitch in shape.pitches() if pitch is not None)


def has_its_name(chord: Chord, shape: Fingering) -> bool:
    """Whether a position has all the chord's tones but perhaps its fifth."""
    sounding = sum(1 << tone for tone in {pitch % 12 for pitch in run_of(shape)})
    return not spelled(chord).needed & ~sounding


def test_published_positions_are_grips() -> None:
    named = [(chord, shape) for chord, shape in positions() if has_its_name(chord, shape)]
    assert len(named) >= 440
    assert [
        (str(chord), str(shape)) for chord, shape in named if not taken(chord, run_of(shape))
    ] == []


def test_those_without_a_tone_that_names_the_chord_are_not() -> None:
    lacking = [(chord, shape) for chord, shape in positions() if not has_its_name(chord, shape)]
    assert [
        (str(chord), str(shape)) for chord, shape in lacking if taken(chord, run_of(shape))
    ] == []


def test_a_position_with_a_foreign_note_is_not() -> None:
    tried = 0
    for chord, shape in positions():
        run = run_of(shape)
        for place, pitch in enumerate(run):
            for moved in (pitch - 1, pitch + 1):
                if moved % 12 not in chord.pitch_classes:
                    tried += 1
                    assert not taken(chord, (*run[:place], moved, *run[place + 1 :]))
    assert tried > 4000
