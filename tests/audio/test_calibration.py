"""Measured soundfonts: kept in the cache, the same without one, and what volumes do with them."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from backing.audio.balance import Sound, gains_of
from backing.audio.calibration import (
    KITS,
    OCTAVES_HZ,
    PITCHES,
    Calibration,
    NotePower,
    calibration,
    measured_files,
)
from backing.audio.engines import choose
from backing.audio.loudness import measure
from backing.audio.mixing import mixer_for
from backing.audio.soundfonts import bundled
from backing.form import read_form_text
from backing.players import play
from backing.score import Score
from backing.system.cache import cache_folder
from backing.timeline import unroll

BASS_DRUM, CLOSED_HIHAT = 36, 42

SONG = """\
title: Balance Song
tempo: 160
key: G
count-in: 1
parts: {drums: {beat: eighths}, pad: {sound: strings}, PARTS}
sections:
  verse: {bars: "| G | C | D | G |"}
form: [verse]
"""


def song(parts: str = "click: on") -> Score:
    return play(unroll(read_form_text(SONG.replace("PARTS", parts))))


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Calibration:
    return calibration(bundled(), choose(), tmp_path_factory.mktemp("raw"))


def test_every_sound_of_the_band_is_measured(measured: Calibration) -> None:
    assert {program: list(notes) for program, notes in measured.programs.items()} == {
        program: list(pitches) for program, pitches in PITCHES.items()
    }
    assert set(measured.kits) == set(KITS)
    for notes in measured.programs.values():
        assert all(max(note.held) > 0 for note in notes.values())
        assert all(len(note.held) == 12 and len(note.ending) == 3 for note in notes.values())
    for strokes in measured.kits.values():
        assert all(len(stroke.octaves) == len(OCTAVES_HZ) for stroke in strokes.values())


def test_a_kick_is_low_and_a_cymbal_high(measured: Calibration) -> None:
    def strongest(key: int) -> int:
        octaves = measured.kits[0][key].octaves
        return OCTAVES_HZ[octaves.index(max(octaves))]

    assert strongest(BASS_DRUM) == 125
    assert strongest(CLOSED_HIHAT) >= 4000


def test_it_is_read_from_the_cache_and_made_again_where_that_is_damaged(
    measured: Calibration, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    assert calibration(bundled(), choose(), tmp_path) == measured
    (kept,) = (cache_folder() / "soundfonts").glob("*.json")
    rows = json.loads(kept.read_bytes())
    rows[0][3][0] = 99.0
    kept.write_text(json.dumps(rows))
    changed = calibration(bundled(), choose(), tmp_path)
    assert changed != measured  # it was read
    (tmp_path / "calibration").rmdir()
    for damaged in (b"[", json.dumps(rows[1:]).encode()):
        kept.write_bytes(damaged)
        assert calibration(bundled(), choose(), tmp_path) == measured
        (tmp_path / "calibration").rmdir()


def test_it_works_without_a_cache(
    measured: Calibration, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    nowhere = tmp_path / "file"
    nowhere.write_bytes(b"")
    monkeypatch.setenv("XDG_CACHE_HOME", str(nowhere))
    assert calibration(bundled(), choose(), tmp_path) == measured


@pytest.mark.parametrize(
    ("part", "volume"), [("bass", 50), ("drums", 127), ("pad", 25), ("click", 50)]
)
def test_a_volume_moves_its_part_alone(part: str, volume: int, tmp_path: Path) -> None:
    """By 40 log10(volume / 100) dB: +4.15, -12.04, -24.08."""
    db = {127: 4.15, 50: -12.04, 25: -24.08}[volume]
    levels = []
    for number, written in enumerate((100, volume)):
        text = SONG.replace("drums: {", f"drums: {{volume: {written if part == 'drums' else 100}, ")
        text = text.replace("pad: {", f"pad: {{volume: {written if part == 'pad' else 100}, ")
        others = {name: written if part == name else 100 for name in ("bass", "click")}
        parts = ", ".join(f"{name}: {{volume: {value}}}" for name, value in others.items())
        score = play(unroll(read_form_text(text.replace("PARTS", parts))))
        folder = tmp_path / str(number)
        folder.mkdir()
        mixer = mixer_for(score, bundled(), choose(), folder)
        rendered = mixer.render(score, "stems", stems=True)
        levels.append({name: measure(p, rendered.rate).lufs for name, p in rendered.stems.items()})
    before, after = levels
    assert after[part] - before[part] == pytest.approx(db, abs=0.6)
    assert after["guitar"] - before["guitar"] == pytest.approx(0, abs=0.1)


def test_the_form_moves_volumes_but_never_the_balance(measured: Calibration) -> None:
    plain = gains_of(song(), measured)
    turned = gains_of(song("guitar: {volume: 20}, bass: {volume: 127}"), measured)
    assert plain == turned
    assert set(plain) >= {Sound("guitar", 25), Sound("drums", 0), Sound("pad", 48)}


def test_a_soundfont_that_was_replaced_is_another_one(tmp_path: Path) -> None:
    path = tmp_path / "bank.sf2"
    path.write_bytes(bundled().path.read_bytes())
    font = bundled()._replace(path=path)
    before = measured_files(font, choose())
    data = bytearray(path.read_bytes())
    data[-1] ^= 1
    path.write_bytes(data)
    os.utime(path, ns=(1, 1))
    assert measured_files(font, choose()) != before


def falling(db_a_second: float) -> NotePower:
    """A note that falls so fast after its end."""
    tenths = tuple(10 ** (-db_a_second * tenth / 100) for tenth in range(3))
    return NotePower((1.0,) * 12, tenths)


@pytest.mark.parametrize(
    ("db_a_second", "timecents"),
    [(160, None), (400, None), (80, -1200), (20, -3600), (0, -4800), (-30, -4800)],
)
def test_strings_that_ring_on_end_sooner(db_a_second: float, timecents: float | None) -> None:
    """Half as long is 1,200 timecents less (SoundFont 2.01, 8.1.3)."""
    quick = {pitch: falling(300) for pitch in range(40, 57)}
    slow = {pitch: falling(db_a_second) for pitch in range(60, 63)}
    found = Calibration({25: quick | slow, 33: slow}, {}).shortened()
    assert found == ({} if timecents is None else {25: pytest.approx(timecents, abs=0.01)})


def test_silent_strings_stay_as_they_are() -> None:
    silent = NotePower((0.0,) * 12, (0.0,) * 3)
    assert Calibration({25: {40: silent}, 24: {}}, {}).shortened() == {}
