"""Whole files with something changed: the proof finds it, whichever part and song it is in.

Notes are changed in the score, before it is written, one at a time. What a player may choose may
pass inside its bounds: `may_pass` says what that is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random

import pytest
from form_strategies import forms
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from proof_files import DEMOS

from backing.form import Form, read_form, read_form_text
from backing.midi.writer import to_bytes
from backing.players import play
from backing.players.human import humanize
from backing.score import KeyChange, Note, Score, Track
from backing.theory.keys import parse_key
from backing.timeline import unroll
from backing.verify import verify_bytes

EIGHTH = Fraction(1, 8)


@cache
def form_of(path: Path) -> Form:
    return read_form(path)


@cache
def score_of(path: Path) -> Score:
    return played(form_of(path))


def played(form: Form) -> Score:
    return humanize(play(unroll(form)), form.human)


def agrees(form: Form, score: Score) -> bool:
    return verify_bytes(form, to_bytes(score), quick=True).agrees


def with_notes(score: Score, track: Track, notes: Sequence[Note]) -> Score:
    """A score with other notes in one of its tracks."""
    changed = track._replace(notes=tuple(sorted(notes)))
    return score._replace(tracks=tuple(changed if t is track else t for t in score.tracks))


# One note

Change = Callable[[Note], list[Note]]


def moved(note: Note, by: Fraction) -> list[Note]:
    return [note._replace(start_whole=note.start_whole + by, end_whole=note.end_whole + by)]


CHANGES: dict[str, Change] = {
    "a semitone up": lambda note: [note._replace(pitch=note.pitch + 1)],
    "a semitone down": lambda note: [note._replace(pitch=note.pitch - 1)],
    "an eighth early": lambda note: moved(note, -EIGHTH),
    "an eighth late": lambda note: moved(note, EIGHTH),
    "gone": lambda note: [],
}


def one_changed(score: Score, track: Track, place: int, change: str) -> Score | None:
    """The score with one note changed; None where it would leave the song or meet its like.

    Two notes of one pitch are written as one if they start together.
    """
    notes = list(track.notes)
    changed = CHANGES[change](notes.pop(place))
    if any(met(note, other) for note in changed for other in notes):
        return None
    notes += changed
    if any(note.start_whole < 0 or note.end_whole > score.end_whole for note in notes):
        return None
    return with_notes(score, track, notes)


#: What a player may choose, by part: why a changed note may still be what the form asks for.
MAY_PASS = {
    "guitar": "which strings a stroke takes",
    "lead": "which strings a stroke takes",
    "bass": "the steps of a walk",
    "drums": "what leads into bar 1 or fills a bar",
    "pad": "how its voices are led",
}


def met(note: Note, other: Note) -> bool:
    near = abs(note.start_whole - other.start_whole) < Fraction(1, 64)
    return near and note.pitch == other.pitch


def may_pass(track: Track, place: int, change: str) -> bool:
    """Whether a note is one of those that a player may choose."""
    if track.part in ("guitar", "lead"):
        return change == "gone" and is_outer(track.notes, track.notes[place])
    return track.part in MAY_PASS


def is_outer(notes: Sequence[Note], note: Note) -> bool:
    """Whether a note is the first or the last of its stroke."""
    near = [n.start_whole for n in notes if abs(n.start_whole - note.start_whole) < Fraction(1, 32)]
    return note.start_whole in (min(near), max(near))


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_a_note_changed_in_any_part_is_found(path: Path) -> None:
    form, score = form_of(path), score_of(path)
    dice, tried, passed = Random(path.stem), 0, 0
    for track in score.tracks:
        for place in dice.sample(range(len(track.notes)), min(2, len(track.notes))):
            for change in CHANGES:
                changed = one_changed(score, track, place, change)
                if changed is None:
                    continue
                tried += 1
                if agrees(form, changed):
                    assert may_pass(track, place, change), (track.name, track.notes[place], change)
                    passed += 1
    assert tried >= 25
    assert passed <= tried / 5


@given(forms(), st.integers(0, 10**6))
@settings(
    max_examples=40, derandomize=True, deadline=None, phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
def test_a_note_changed_in_forms_at_random_is_found(text: str, seed: int) -> None:
    form, dice = read_form_text(text), Random(seed)
    score = played(form)
    if not score.tracks:
        return
    assert agrees(form, score)
    for _ in range(3):
        track = dice.choice(score.tracks)
        place, change = dice.randrange(len(track.notes)), dice.choice(list(CHANGES))
        changed = one_changed(score, track, place, change)
        if changed is not None and agrees(form, changed):
            assert may_pass(track, place, change), (track.name, track.notes[place], change)


# A whole part


def parts(path: Path) -> Iterator[Track]:
    yield from (track for track in score_of(path).tracks if not track.bends)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_a_part_emptied_doubled_raised_or_late_is_found(path: Path) -> None:
    form, score = form_of(path), score_of(path)
    assert agrees(form, score)
    late = Fraction(1, 16)
    for track in parts(path):
        raised = [note._replace(pitch=note.pitch + 1) for note in track.notes]
        later = [moved(note, late)[0] for note in track.notes if note.end_whole + late < 1000]
        later = [note for note in later if note.end_whole <= score.end_whole]
        without = score._replace(tracks=tuple(t for t in score.tracks if t is not track))
        doubled = score._replace(tracks=(*score.tracks, track._replace(name="Copy")))
        assert not agrees(form, without), track.name
        assert not agrees(form, with_notes(score, track, raised)), track.name
        assert not agrees(form, with_notes(score, track, later)), track.name
        if track.program is not None:  # percussion that is there twice is one on its channel
            assert not agrees(form, doubled), track.name


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_two_parts_exchanged_are_found(path: Path) -> None:
    """Each plays the other's notes with its own sound."""
    form, score = form_of(path), score_of(path)
    pitched = [track for track in parts(path) if track.program is not None]
    for index, one in enumerate(pitched):
        for other in pitched[index + 1 :]:
            if one.program == other.program:
                continue  # two guitars with one sound: each is where the other was
            exchanged = with_notes(score, one, other.notes)
            exchanged = with_notes(exchanged, other, one.notes)
            assert not agrees(form, exchanged), (one.name, other.name)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_a_bar_left_out_by_any_part_is_found(path: Path) -> None:
    form, score = form_of(path), score_of(path)
    bars, dice = unroll(form).bars, Random(path.stem)
    for track in parts(path):
        starts = [note.start_whole for note in track.notes]
        full = [
            bar for bar in bars if sum(bar.start_whole <= at < bar.end_whole for at in starts) > 1
        ]
        bar = dice.choice(full)
        kept = [
            note for note in track.notes if not bar.start_whole <= note.start_whole < bar.end_whole
        ]
        assert not agrees(form, with_notes(score, track, kept)), (track.name, bar.number)


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_another_sound_or_key_is_found(path: Path) -> None:
    form, score = form_of(path), score_of(path)
    for track in parts(path):
        if track.program is not None:
            piano = track._replace(program=1, changes=())
            tracks = tuple(piano if t is track else t for t in score.tracks)
            assert not agrees(form, score._replace(tracks=tracks)), track.name
    if form.key is not None:
        key = KeyChange(
            Fraction(0), parse_key("Gb" if score.keys[0].key != parse_key("Gb") else "A")
        )
        assert not agrees(form, score._replace(keys=(key,)))


# What forms say, against files of forms that say something else

BAND = """\
title: Trial
tempo: 112
human: 0
key: G
parts: {drums: {beat: eighths}, pad: {sound: organ}, bass: {line: beats}}
sections: {a: {bars: "BARS"}, b: {bars: "| D | C | G | G |"}}
form: [LINES]
"""


def song(bars: str = "| G | C | Em | D |", lines: str = "a, b") -> Form:
    return read_form_text(BAND.replace("BARS", bars).replace("LINES", lines))


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ({"bars": "| G | C(stop) | Em | D |"}, {"bars": "| G | C(ring) | Em | D |"}),
        ({"bars": "| G | C(stop) | Em | D |"}, {}),
        ({"bars": "| G | C(push) | Em | D |"}, {}),
        ({}, {"bars": "| G | C(push) | Em | D |"}),
        ({"bars": "| G | N.C. | Em | D |"}, {"bars": "| G | / | Em | D |"}),
        ({"lines": "a, b"}, {"lines": "b, a"}),
        ({"lines": "a, b, a"}, {"lines": "a, a, b"}),
        ({}, {"bars": "| G | C | D | Em |"}),
    ],
)
def test_the_file_of_another_form_is_found(right: dict[str, str], wrong: dict[str, str]) -> None:
    """In every part that plays it: each alone, put into the right file, is found.

    But for the drums where only their crash differs, which is theirs to choose.
    """
    form, other = song(**right), song(**wrong)
    score, others = played(form), played(other)
    assert agrees(form, score)
    found = set()
    for track in score.tracks:
        of_other = next(t for t in others.tracks if t.name == track.name)
        if of_other.notes != track.notes and track.part != "drums":
            assert not agrees(form, with_notes(score, track, of_other.notes)), track.name
            found.add(track.part)
    assert found >= {"bass", "guitar", "pad"}
