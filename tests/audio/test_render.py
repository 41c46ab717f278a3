"""Rendering: exact lengths and clicks, stems that add up, and children that die."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from backing.audio import render as rendering
from backing.audio import synth_pool
from backing.audio.clicks import AUDIBLE, ready
from backing.audio.engines import ENGINES, Engine
from backing.audio.frames import frame_at
from backing.audio.render import Rendered, render
from backing.audio.soundfonts import bundled
from backing.audio.synth import Synth
from backing.audio.synth_pool import _costs
from backing.errors import BackingError
from backing.form import read_form_text
from backing.players import play
from backing.score import Score, TempoChange
from backing.system.workers import Worker
from backing.timeline import unroll

from .conftest import SONG, THICK


def score(text: str = SONG) -> Score:
    return play(unroll(read_form_text(text)))


def rendered(folder: Path, engine: Engine, stems: bool = False, text: str = SONG) -> Rendered:
    return render(score(text), folder, bundled(), engine, stems=stems)


def samples(path: Path) -> np.ndarray:
    return np.fromfile(path, "<f4").reshape(-1, 2)


def test_a_place_is_rounded_once_from_its_exact_time() -> None:
    tempos = (TempoChange(Fraction(0), Fraction(93)), TempoChange(Fraction(3), Fraction(287, 3)))
    at = frame_at(tempos, 44100)
    for whole in (Fraction(0), Fraction(1, 3), Fraction(3), Fraction(1001, 7)):
        first = min(whole, Fraction(3))
        seconds = first * 240 / 93 + (whole - first) * 240 / Fraction(287, 3)
        assert at(whole) == int(seconds * 44100 + Fraction(1, 2))


@pytest.mark.parametrize("engine", ENGINES, ids=lambda engine: engine.key)
def test_what_a_library_prints_under_ci_does_not_disturb_the_protocol(
    tmp_path: Path, engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CI", "true")
    assert rendered(tmp_path, engine).frames > 0


def test_a_track_after_the_sixteenth_channel_sounds(tmp_path: Path) -> None:
    whole = score()
    guitar = next(track for track in whole.tracks if track.part == "guitar")
    silent = [track._replace(notes=()) for track in whole.tracks if track.part != "click"]
    many = (*silent, *[guitar._replace(notes=())] * 4, guitar)  # of 4 parts: channel 1 + 4 * 5
    made = render(whole._replace(tracks=many), tmp_path, bundled(), ENGINES[0])
    assert float(np.abs(samples(made.mix)).max()) > 0.01


@pytest.mark.parametrize("engine", ENGINES, ids=lambda engine: engine.key)
def test_stems_have_the_same_length_and_add_up_to_the_mix(tmp_path: Path, engine: Engine) -> None:
    made = rendered(tmp_path, engine, stems=True)
    assert set(made.stems) == {"click", "bass", "guitar", "drums", "pad"}
    total = sum(samples(path).astype("f8") for path in made.stems.values())
    # Count-in, two bars of 4/4 at 180, two seconds of ring-out (rounded up to a 64th).
    assert made.frames == round((12 * 60 / 180 + 2) * made.rate)
    mix = samples(made.mix)
    assert len(mix) == made.frames
    assert float(np.abs(total - mix).max()) < 1e-5
    for path in made.stems.values():
        assert float(np.abs(samples(path)).max()) > 0.01


@pytest.mark.parametrize("engine", ENGINES, ids=lambda engine: engine.key)
def test_every_click_starts_on_its_frame(tmp_path: Path, engine: Engine) -> None:
    made = rendered(tmp_path, engine, stems=True)
    click = np.abs(samples(made.stems["click"])[:, 0])
    beat = made.rate * 60 // 180
    for index in range(12):
        place = round(Fraction(index * 60, 180) * made.rate)
        after = click[place : place + beat // 2]
        assert int(np.argmax(after >= AUDIBLE * after.max() / 2)) <= 1
        assert place == 0 or click[place - beat // 4 : place].max() < AUDIBLE * after.max()


def test_the_mix_alone_is_the_sum_of_the_stems(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    alone = samples(rendered(tmp_path / "a", ENGINES[0]).mix)
    summed = samples(rendered(tmp_path / "b", ENGINES[0], stems=True).mix)
    assert float(np.abs(alone - summed).max()) < 1e-6


@pytest.mark.parametrize(("voices_each", "shares"), [(9, 4), (20, 2)])
def test_the_bytes_are_the_same_on_any_number_of_cores(
    tmp_path: Path, voices_each: int, shares: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Only the song decides how many synthesizers play it."""
    monkeypatch.setattr(synth_pool, "VOICES_EACH", voices_each)
    parts = ("bass", "guitar", "drums", "pad")
    found, stems_found = set(), set()
    for cores in (1, 3):
        for files in ({}, {part: tmp_path / f"{part}.raw" for part in parts}):
            job = rendering._job(
                score(THICK), ENGINES[0], 44100, [bundled()], tmp_path / "mix.raw", files
            )._replace(cores=cores)
            synth_pool.play(job, lambda frames: None)
            data = [path.read_bytes() for path in (tmp_path / "mix.raw", *files.values())]
            (stems_found if files else found).add(tuple(data))
    trial = Synth(job.soundfonts, job.rate, 16, 1)
    assert len(synth_pool._shares(job, trial)) == shares
    assert len(found) == len(stems_found) == 1
    ((alone,),), ((mix, *stems),) = found, stems_found
    sounds = [np.frombuffer(data, "<f4").astype("f8") for data in (alone, mix, *stems)]
    assert np.abs(sounds[0] - sounds[1]).max() < 1e-6
    assert np.abs(sum(sounds[2:]) - sounds[1]).max() < 1e-6


def test_how_a_song_is_shared_out_changes_only_the_first_frames_of_notes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """FluidSynth's voices differ in their first 64 frames by what else plays: 1 % in all."""
    job = rendering._job(
        score(), ENGINES[0], 44100, [bundled()], tmp_path / "mix.raw", {}
    )  # fmt: skip
    made = []
    for voices_each in (3, 1000):
        monkeypatch.setattr(synth_pool, "VOICES_EACH", voices_each)
        synth_pool.play(job, lambda frames: None)
        made.append(samples(tmp_path / "mix.raw").astype("f8"))
    assert np.sqrt(np.mean((made[0] - made[1]) ** 2)) < 0.01 * np.sqrt(np.mean(made[1] ** 2))


def test_only_parts_that_use_the_chorus_get_one(tmp_path: Path) -> None:
    """The small bank's strings send to the chorus and its kit does not (seen in its tables)."""
    job = rendering._job(
        score(), ENGINES[0], 44100, [bundled()], tmp_path / "mix.raw", {}
    )  # fmt: skip
    trial = Synth(job.soundfonts, job.rate, 16, 1)
    costs, chorused = _costs(job, trial)
    assert {job.parts[part] for part in chorused} == {"pad"}
    assert all(cost > 0 for cost in costs)


def test_parts_are_silent_until_they_play(tmp_path: Path) -> None:
    """The click is tried on a synthesizer of its own: what is left of it would be heard here."""
    made = rendered(tmp_path, ENGINES[0], stems=True)
    bar = made.rate * 4 * 60 // 180 - 64
    for part in ("bass", "guitar", "pad"):  # the drums lead in
        assert np.abs(samples(made.stems[part])[:bar]).max() < 1e-5


def test_the_same_song_gives_the_same_samples(tmp_path: Path) -> None:
    first = rendered(tmp_path, ENGINES[0]).mix.read_bytes()
    assert rendered(tmp_path, ENGINES[0]).mix.read_bytes() == first


def test_a_click_is_cut_at_its_first_audible_frame_and_has_its_peak() -> None:
    raw = np.zeros((1000, 2), "f4")
    raw[37:500] = np.exp(-np.arange(463) / 50)[:, None] * 0.2
    cut = ready(raw, 44100)
    assert cut[0, 0] == pytest.approx(0.2)
    assert cut[-1, 0] == pytest.approx(0, abs=1e-6)


def test_a_program_that_the_soundfont_lacks_is_played_by_the_bundled_one(
    tmp_path: Path, bank: Path
) -> None:
    data = bytearray(bank.read_bytes())
    at = data.index(b"phdr") + 8
    for record in range(at, data.index(b"pbag"), 38):
        if data[record + 22 : record + 24] == (128).to_bytes(2, "little"):
            data[record + 22 : record + 24] = (5).to_bytes(2, "little")
    poor = tmp_path / "poor.sf2"
    poor.write_bytes(data)
    from backing.audio.soundfonts import choose

    made = render(score(), tmp_path, choose(poor), ENGINES[0], stems=True)
    assert made.warnings == (f"poor.sf2 has no drums: {bank.name} plays drums.",)
    assert float(np.abs(samples(made.stems["drums"])).max()) > 0.01


def test_a_child_that_dies_is_an_error_with_the_soundfonts_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Doomed(Worker):
        def __init__(self, module: str) -> None:
            super().__init__(module)
            self.process.send_signal(11)

    monkeypatch.setattr(rendering, "Worker", Doomed)
    with pytest.raises(BackingError, match=r"TimGM6mb.*signal 11"):
        rendered(tmp_path, ENGINES[0])


def test_a_full_disk_is_an_error(tmp_path: Path) -> None:
    (tmp_path / "mix.raw").symlink_to("/dev/full")
    with pytest.raises(BackingError, match=r"^The disk is full"):
        rendered(tmp_path, ENGINES[0])
