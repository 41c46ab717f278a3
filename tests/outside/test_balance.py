"""The band in balance, by a foreign meter, in several soundfonts.

The meter is pyloudnorm's (ITU-R BS.1770-4). The targets are this project's judgement, from
`form/parts.py` and `players/mix.py`: LU above the guitar. What CI runs this with is the bundled
soundfont and two of Debian's, Fluid R3 and the A320U bank (package csound-soundfont), from the
folder that BACKING_TEST_SOUNDFONTS names.
"""

from __future__ import annotations

import os
from functools import cache
from math import log10
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import numpy as np
import pyloudnorm
import pytest
from bench.balance import target

from backing.audio.engines import FLUIDSYNTH, choose
from backing.audio.frames import frame_at
from backing.audio.mixing import mixer_for
from backing.audio.soundfonts import bundled
from backing.audio.soundfonts import choose as choose_soundfont
from backing.form.reader import read_form, read_form_text
from backing.score import Score
from backing.tracks.one import score_of

FORMS = Path(__file__).resolve().parents[2] / "forms"
#: Every part, with full, light and brushed drums; and a demo. All demos are in the benchmark.
BAND = """\
title: Whole Band
tempo: 120
key: G
count-in: 1
parts: {drums: {beat: eighths}, pad: {sound: strings}}
sections:
  verse: {bars: "| G | C | D | G | Em | C | D | G |"}
  chorus:
    bars: "| C | D | G | Em | C | D | G | G |"
    parts: {lead: {pick: {step: 1/8, play: "p i m a m i p2 i"}}}
form:
  - verse
  - {section: chorus, parts: {drums: {level: full}, guitar: {sound: nylon}}}
  - {section: verse, parts: {drums: {level: light}, pad: {sound: organ}}}
  - {section: chorus, parts: {drums: {beat: brushes}, guitar: {sound: clean}, pad: {volume: 60}}}
"""
#: The drums that cover most: full, with a stroke on the snare that comes with every fourth click.
LOUD = """\
title: Loud Drums
tempo: 110
key: G
count-in: 1
parts: {drums: {beat: half-time, level: full}}
sections: {verse: {bars: "| G | C | D | G | Em | C | D | G |"}}
form: [verse x2]
"""
SONGS = ("band", "orchard-wall")
TEXTS = {"band": BAND, "loud": LOUD}
FOLDER = os.environ.get("BACKING_TEST_SOUNDFONTS")
FONTS = [
    bundled().path,
    *(sorted({path.resolve() for path in Path(FOLDER).rglob("*.sf2")}) if FOLDER else ()),
]
WITHIN_LU = 2.0
#: A click's loudest octave against the band's sound there, in dB, and for how many of ten clicks.
OVER_DB, OF_TEN = 1.5, 9
OCTAVES_HZ = (125, 250, 500, 1000, 2000, 4000, 8000)

Stems = tuple[Score, dict[str, Any], int]


def test_there_are_three_soundfonts_where_a_folder_is_named() -> None:
    assert len({path.stem for path in FONTS}) >= 3 or FOLDER is None


@pytest.fixture
def made(demo: str, font: Path, tmp_path_factory: pytest.TempPathFactory) -> Stems:
    return stems(demo, font, tmp_path_factory.getbasetemp())


@cache
def stems(demo: str, font: Path, folder: Path) -> Stems:
    """A demo as it is played, each part's sound in balance, and the rate."""
    form = read_form_text(TEXTS[demo]) if demo in TEXTS else read_form(FORMS / f"{demo}.yaml")
    score, _ = score_of(form)
    work = Path(mkdtemp(dir=folder))
    rendered = mixer_for(score, choose_soundfont(font), choose(), work).render(score, "x", True)
    sounds = {
        part: np.fromfile(path, "<f4").reshape(-1, 2) for part, path in rendered.stems.items()
    }
    for path in (rendered.mix, *rendered.stems.values()):
        path.unlink()
    return score, sounds, rendered.rate


@pytest.mark.parametrize("font", FONTS, ids=lambda path: path.stem)
@pytest.mark.parametrize("demo", SONGS)
def test_every_part_is_where_it_belongs(made: Stems) -> None:
    score, sounds, rate = made
    meter = pyloudnorm.Meter(rate)
    lufs = {part: meter.integrated_loudness(sound) for part, sound in sounds.items()}
    off = {
        part: lufs[part] - lufs["guitar"] - target(score, part) + target(score, "guitar")
        for part in lufs
    }
    assert set(off) >= {"click", "bass", "guitar", "drums"}
    assert {part: lu for part, lu in off.items() if abs(lu) > WITHIN_LU} == {}


@pytest.mark.parametrize("font", FONTS, ids=lambda path: path.stem)
@pytest.mark.parametrize("demo", ["orchard-wall", "loud"])
def test_the_click_stands_out_of_the_band(made: Stems) -> None:
    """In its best octave, over the 50 ms from its start."""
    score, sounds, rate = made
    if choose().key != FLUIDSYNTH:
        pytest.fail("the click's level is measured with FluidSynth")
    click = sounds["click"].mean(axis=1)
    band = sum(sound for part, sound in sounds.items() if part != "click").mean(axis=1)
    at = frame_at(score.tempos, rate)
    first = min(note.start_whole for t in score.tracks if t.part != "click" for note in t.notes)
    (clicks,) = (track for track in score.tracks if track.part == "click")
    frames = [at(note.start_whole) for note in clicks.notes if note.start_whole > first]
    over = [octaves(click, frame, rate) / octaves(band, frame, rate) for frame in frames]
    heard = [10 * log10(float(each.max())) >= OVER_DB for each in over]
    assert 10 * sum(heard) >= OF_TEN * len(heard)


def octaves(sound: Any, frame: int, rate: int) -> Any:
    """The power in each octave after a frame."""
    piece = sound[frame : frame + rate // 20]
    powers = np.abs(np.fft.rfft(piece * np.hanning(2 * len(piece))[len(piece) :], 8192)) ** 2
    places = np.fft.rfftfreq(8192, 1 / rate)
    edge = 2**0.5
    return np.array(
        [powers[(places >= f / edge) & (places < f * edge)].sum() + 1e-18 for f in OCTAVES_HZ]
    )
