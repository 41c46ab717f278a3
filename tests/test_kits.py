"""Brushes share channel 10 with the click: each is on its kit, however the tracks are read.

Source: General MIDI 2 (RP-024): a program on channel 10 chooses a kit for all that follows it.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import groupby, permutations

import pytest
from midi_edits import PERCUSSION, Placed, at_resolution, read, tracks_of

from backing.errors import BackingError
from backing.form import read_form_text
from backing.midi.writer import to_bytes
from backing.practice import Version, play_version
from backing.practice.versions import Stretch
from backing.score import Control, Note, Score, TempoChange, Track
from backing.theory.general_midi import CLICK_SOUNDS
from backing.tracks.one import midi_of

SONG = """\
title: Two Kits
tempo: 132
human: {human}
parts:
  bass: off
  guitar: off
  click: {{sound: sticks, subdivide: 1/16}}
  drums: {{beat: brushes}}
sections:
  verse: {{bars: "| A | D(push stop) | E | A |"}}
  chorus: {{bars: "| A | D | E(ring) | A |", parts: {{drums: {{beat: eighths, fill: on}}}}}}
form: [verse, chorus, verse x2, chorus]
"""
CLICKS = {pitch for sound in CLICK_SOUNDS.values() for pitch in sound}


def song(human: int) -> bytes:
    return midi_of(read_form_text(SONG.format(human=human)))


def merged(tracks: list[list[Placed]]) -> Iterator[tuple[int, int]]:
    """Each stroke's track and kit: tracks are read one after another at each tick."""
    every = [
        (placed.tick, place, placed.message, number)
        for place, (number, track) in enumerate(tracks)
        for placed in track
        if getattr(placed.message, "channel", None) == PERCUSSION
    ]
    kit = 0
    for _, _, message, number in sorted(every, key=lambda row: row[:2]):
        if message.type == "program_change":
            kit = message.program
        elif message.type == "note_on" and message.velocity:
            yield number, kit


@pytest.mark.parametrize("ticks_per_quarter", [960, 480, 240, 96])
@pytest.mark.parametrize("human", [0, 75])
def test_every_order_of_tracks_gives_each_its_kit(human: int, ticks_per_quarter: int) -> None:
    tracks = list(enumerate(tracks_of(at_resolution(song(human), ticks_per_quarter))))
    names = {
        number: next((m.name for _, m in track if m.type == "track_name"), "")
        for number, track in tracks
    }
    found = []
    for order in permutations(tracks):
        kits = list(merged(order))
        assert {kit for number, kit in kits if names[number] == "Click"} == {0}
        drums = [kit for number, kit in kits if names[number] == "Drums"]
        assert set(drums) == {0, 40}
        found.append(drums)
    assert all(drums == found[0] for drums in found)


def test_a_song_without_brushes_says_nothing_about_kits() -> None:
    text = SONG.format(human=0).replace("beat: brushes", "beat: shuffle")
    messages = [m for track in tracks_of(midi_of(read_form_text(text))) for _, m in track]
    assert not [m for m in messages if m.type == "program_change" and m.channel == PERCUSSION]


def test_the_channel_ends_on_the_standard_kit() -> None:
    last = max(
        (
            (placed.tick, placed.message.program)
            for track in tracks_of(song(75))
            for placed in track
            if placed.message.type == "program_change" and placed.message.channel == PERCUSSION
        ),
        key=lambda row: row[0],
    )
    assert last[1] == 0


def with_changes(*changes: Control) -> Score:
    notes = (Note(Fraction(0), Fraction(1, 8), 38, 90),)
    track = Track("drums", "Drums", None, 100, 0, notes, (), changes)
    return Score(
        "", (track,), (TempoChange(Fraction(0), Fraction(120)),), (), (), (), (), Fraction(1)
    )


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (Control(Fraction(0), "pan", 9), "so only its kit and volume can change"),
        (Control(Fraction(0), "program", 128), "a program from 0 to 127"),
    ],
)
def test_percussion_changes_nothing_but_its_kit(change: Control, says: str) -> None:
    with pytest.raises(BackingError, match=says):
        to_bytes(with_changes(change))


def test_a_practice_round_starts_on_its_own_kit() -> None:
    """A loop from the chorus into the verse ends with brushes and starts with sticks."""
    form = read_form_text(SONG.format(human=0))
    version = Version(stretch=Stretch(bars=(7, 10)), loop=3)
    data = to_bytes(play_version(form, version).score)
    drums = next(track for track in read(data).tracks if track.name == "Drums")
    programs = [m.program for m in drums if m.type == "program_change"]
    assert [kit for kit, _ in groupby(programs)] == [0, 40, 0, 40, 0, 40]
