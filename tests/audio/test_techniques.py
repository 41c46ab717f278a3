"""Natural harmonics, palm mutes and damped strokes as a soundfont plays them.

Sources: a string that is touched at 1/k of its length sounds k times its frequency, at fret 12
the octave (Fletcher and Rossing, The Physics of Musical Instruments, 1998, from memory); the
palm near the bridge makes the string die away sooner (common practice).
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TypeAlias

import numpy as np
import pytest

from backing.audio.engines import ENGINES, FLUIDSYNTH, Engine, choose
from backing.audio.mixing import mixer_for
from backing.audio.render import render
from backing.audio.soundfonts import bundled
from backing.audio.soundfonts import choose as choose_soundfont
from backing.form import read_form_text
from backing.players import play
from backing.timeline import unroll

#: A bar's samples, and how many a second has.
Sound: TypeAlias = "tuple[np.ndarray, int]"

SONG = """\
title: Signs
tempo: 120
count-in: 0
human: 0
parts:
  click: off
  bass: off
  guitar:
    riff:
      step: 1/8
      tab: |
        e |--------|--------|--------|--------|--------|
        B |--------|--------|--------|--------|--------|
        G |0-------|<12>----|<7>-----|r-------|--------|
        D |--------|--------|--------|--------|--------|
        A |--------|--------|--------|--------|--------|
        E |--------|--------|--------|3-------|3-------|
        PM|--------|--------|--------|--------|==------|
sections: {a: {bars: "| G | G | G | G | G |"}}
form: [a]
"""
DAMPED = """\
title: Chop
tempo: 60
count-in: 0
human: 0
strums: {chop: {step: 1/4, play: "x - - -"}}
parts: {click: off, bass: off, guitar: {strum: chop}}
sections: {a: {bars: "| A |"}}
form: [a]
"""
G3_HZ = 196.0  # fourteen semitones below A 440, in equal temperament
BAR_S = 2.0
#: Seven semitones of equal temperament are 0.1 percent short of 3:2, and banks are that far out.
NEAR = 0.005


@pytest.fixture(scope="module", params=ENGINES, ids=lambda engine: engine.key)
def bars(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> list[Sound]:
    """Each bar of the song."""
    engine: Engine = request.param
    score = play(unroll(read_form_text(SONG)))
    made = render(score, tmp_path_factory.mktemp("signs"), bundled(), engine)
    sound = np.fromfile(made.mix, "<f4").reshape(-1, 2).mean(axis=1).astype("f8")
    length = int(BAR_S * made.rate)
    return [(sound[at * length : (at + 1) * length], made.rate) for at in range(5)]


def lowest_hz(sound: np.ndarray, rate: int) -> float:
    """The lowest partial that is within 20 dB of the strongest, after the attack."""
    part = sound[int(0.2 * rate) : int(1.5 * rate)]
    count = 1 << 18
    levels = np.abs(np.fft.rfft(part * np.hanning(len(part)), count))
    first = int(60 * count / rate)
    strong = levels[first:] > levels[first:].max() / 10
    start = first + int(np.argmax(strong))
    return (start + int(np.argmax(levels[start : start + int(20 * count / rate)]))) * rate / count


@pytest.mark.parametrize(("bar", "partial"), [(0, 1), (1, 2), (2, 3)])
def test_a_harmonic_sounds_its_partial_of_the_open_string(
    bars: list[Sound], bar: int, partial: int
) -> None:
    assert lowest_hz(*bars[bar]) == pytest.approx(partial * G3_HZ, rel=NEAR)


def test_a_palm_mute_starts_as_loud_as_an_open_note_and_dies_away_sooner(bars: list[Sound]) -> None:
    def level_db(bar: int, since_s: float, until_s: float) -> float:
        sound, rate = bars[bar]
        power = np.mean(sound[int(since_s * rate) : int(until_s * rate)] ** 2)
        return 10 * float(np.log10(max(power, 1e-12)))

    assert level_db(4, 0.02, 0.1) == pytest.approx(level_db(3, 0.02, 0.1), abs=2)
    assert level_db(4, 0.4, 0.5) < level_db(3, 0.4, 0.5) - 10


@pytest.mark.parametrize("engine", ENGINES, ids=lambda engine: engine.key)
@pytest.mark.parametrize("sound", ["steel", "nylon", "clean"])
def test_a_damped_stroke_is_over_after_a_fifth_of_a_second(
    engine: Engine, sound: str, tmp_path: Path
) -> None:
    text = DAMPED.replace("strum: chop}", f"strum: chop, sound: {sound}}}")
    made = render(play(unroll(read_form_text(text))), tmp_path, bundled(), engine)
    frames = np.fromfile(made.mix, "<f4").reshape(-1, 2).mean(axis=1).astype("f8")
    block = made.rate // 50
    levels = [float(np.mean(frames[at * block : (at + 1) * block] ** 2)) for at in range(20)]
    least_db = 30 if engine.key == FLUIDSYNTH else 15  # the other engine's room is louder
    assert 10 * np.log10(max(levels[:5]) / max(levels[10], 1e-12)) > least_db


STOPPED = """\
title: Stop
tempo: 90
count-in: 0
human: 0
strums: {once: {step: 1/4, play: "D - - -"}}
parts: {click: off, bass: off, guitar: {strum: once, sound: SOUND}}
sections: {a: {bars: "| G(stop) |"}}
form: [a]
"""
#: A stopped chord lasts an eighth at 90, and must be over this long after its end.
END_S, AFTER_S = 1 / 3, 0.2
FOLDER = os.environ.get("BACKING_TEST_SOUNDFONTS")
FONTS = {bundled().path.resolve()}
FONTS |= {path.resolve() for path in Path(FOLDER).rglob("*.sf2")} if FOLDER else set()


@pytest.mark.parametrize("font", sorted(FONTS), ids=lambda path: path.stem)
@pytest.mark.parametrize("sound", ["steel", "nylon", "clean"])
def test_a_stopped_chord_is_over_after_a_fifth_of_a_second(
    font: Path, sound: str, tmp_path: Path
) -> None:
    """In Fluid R3 the steel guitar was down by 9.5 dB then."""
    score = play(unroll(read_form_text(STOPPED.replace("SOUND", sound))))
    made = mixer_for(score, choose_soundfont(font), choose(), tmp_path).render(score, "stop")
    frames = np.fromfile(made.mix, "<f4").reshape(-1, 2).mean(axis=1).astype("f8")

    def level_db(since_s: float) -> float:
        piece = frames[int(since_s * made.rate) : int((since_s + 0.03) * made.rate)]
        return 10 * float(np.log10(np.mean(piece**2) + 1e-12))

    assert level_db(END_S + AFTER_S) < max(level_db(tenth / 100) for tenth in range(10)) - 25


def test_only_the_strings_that_are_named_end_sooner(tmp_path: Path) -> None:
    def sound(name: str, shortened: dict[int, float], text: str) -> bytes:
        (tmp_path / name).mkdir()
        score = play(unroll(read_form_text(text)))
        made = render(score, tmp_path / name, bundled(), choose(), shortened=shortened)
        return made.mix.read_bytes()

    steel = STOPPED.replace("SOUND", "steel")
    bass = steel.replace("bass: off, guitar: {strum: once, sound: steel}", "guitar: off")
    drums = bass.replace("guitar: off", "guitar: off, drums: {beat: eighths}")
    assert sound("steel", {}, steel) != sound("steel short", {25: -3600.0}, steel)
    assert sound("nylon", {}, steel) == sound("nylon short", {24: -3600.0}, steel)
    assert sound("drums", {}, drums) == sound("drums short", {25: -3600.0}, drums)
