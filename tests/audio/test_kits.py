"""Brushes as soundfonts play them, and the click beside them on one channel.

The click's level is measured in the file itself: its events go to a synthesizer as they stand,
with channel 10 for all percussion.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from midi_edits import PERCUSSION, read

from backing.audio.engines import ENGINES
from backing.audio.kits import STAND_INS, with_kits_of
from backing.audio.render import presets_of, render
from backing.audio.soundfonts import PERCUSSION_BANK, bundled, validate
from backing.audio.synth import Planes, Synth
from backing.form import read_form_text
from backing.players import play
from backing.theory.built_in_beats import FOOT, HAT, KICK, SNARE
from backing.theory.general_midi import BRUSH_KIT, STANDARD_KIT
from backing.theory.general_midi import PERCUSSION as NAMES
from backing.timeline import unroll
from backing.tracks.one import midi_of

RATE = 44100
#: The click keeps its level to this, in dB.
MOST_DB = 0.5
SONG = """\
title: Brushes
tempo: 100
human: 0
parts: {bass: off, guitar: off, drums: {beat: brushes}}
sections: {a: {bars: "| A | D | E | A |"}}
form: [a]
"""


def click_levels(data: bytes, soundfont: Path, keep: tuple[int, ...]) -> np.ndarray:
    """Each click's energy in dB. Of the programs on channel 10 only those in `keep` are sent."""
    synth = Synth([str(soundfont)], RATE, 16, 1)
    synth.reverb(False)
    synth.chorus(False)
    drums = next(track.name for track in read(data).tracks if track.name == "Drums")
    events = []
    file = read(data)
    silent = {id(m) for track in file.tracks if track.name == drums for m in track}
    seconds = 60 / 100 / file.ticks_per_beat
    for number, track in enumerate(file.tracks):
        tick = 0
        for message in track:
            tick += message.time
            if getattr(message, "channel", None) == PERCUSSION:
                events.append((tick * seconds, number, message, id(message) in silent))
    planes, starts = Planes(2, int(RATE * (events[-1][0] + 30))), []
    at = 0
    for now, _, message, of_drums in sorted(events, key=lambda event: event[:2]):
        frame = int(now * RATE)
        if frame > at:
            synth.process(frame - at, planes, at)
            at = frame
        if message.type == "program_change":
            if message.program in keep:
                synth.send(PERCUSSION, bytes(message.bytes()))
        elif not of_drums:
            synth.send(PERCUSSION, bytes(message.bytes()))
            if message.type == "note_on" and message.velocity:
                starts.append(frame)
    synth.process(RATE, planes, at)
    sound = planes.samples.sum(axis=0).astype("f8")
    length = int(0.12 * RATE)
    return np.array([10 * np.log10(np.mean(sound[s : s + length] ** 2)) for s in starts])


def test_the_click_keeps_its_level_between_brushes() -> None:
    """TimGM6mb's brush set has all of channel 10 6 dB louder."""
    data = midi_of(read_form_text(SONG))
    kept = click_levels(data, bundled().path, (STANDARD_KIT, BRUSH_KIT))
    plain = click_levels(data, bundled().path, ())
    brushed = click_levels(data, bundled().path, (BRUSH_KIT,))
    assert len(kept) == len(plain) == 20
    assert np.abs(kept - plain).max() <= MOST_DB
    assert (brushed - plain).max() > 5


def test_a_soundfont_with_brushes_plays_the_score_as_it_is() -> None:
    score = play(unroll(read_form_text(SONG)))
    presets = validate(bundled().path).presets
    assert presets_of(score) >= {(PERCUSSION_BANK, STANDARD_KIT), (PERCUSSION_BANK, BRUSH_KIT)}
    assert with_kits_of(score, presets) is score


def test_without_a_brush_set_the_standard_kit_plays_softly() -> None:
    score = play(unroll(read_form_text(SONG)))
    changed = with_kits_of(score, {(PERCUSSION_BANK, STANDARD_KIT)})
    assert presets_of(changed) == {(PERCUSSION_BANK, STANDARD_KIT)}
    for before, after in zip(score.tracks, changed.tracks, strict=True):
        if before.part == "click":
            assert after == before
            continue
        assert after.changes == ()
        assert {note.pitch for note in after.notes} == {KICK, SNARE, HAT, FOOT}
        for one, other in zip(before.notes, after.notes, strict=True):
            assert other[:2] == one[:2]
            assert other.pitch == STAND_INS.get(one.pitch, one.pitch)
            assert 1 <= other.velocity < one.velocity
            assert other.pitch in NAMES


@pytest.mark.parametrize("engine", ENGINES, ids=lambda engine: engine.key)
def test_brushes_sound_and_need_no_stand_in(engine, tmp_path: Path) -> None:
    made = render(play(unroll(read_form_text(SONG))), tmp_path, bundled(), engine)
    assert made.warnings == ()
    assert np.abs(np.fromfile(made.mix, "<f4")).max() > 0.001
