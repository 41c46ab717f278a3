"""`build --audio` and then `verify`, as a user calls them, on the sound that was made."""

from __future__ import annotations

import sys
from pathlib import Path
from random import Random

import numpy as np
import pytest
import soundfile

from backing.cli import main
from backing.form import read_form
from backing.system.install import install_command
from backing.verify import expect
from backing.verify.expected.click import every_click
from backing.verify.sound.audio import verify_audio

from .test_audio_build import run

WAYS = ["wav", "flac", "ogg", "mp3"]
SONG = """\
title: Proof of Sound
tempo: 121.7
count-in: 1
parts: {drums: {beat: eighths}, pad: {sound: strings}}
sections:
  verse: {bars: "| G | D | Em | C |", times: 4}
form: [verse]
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    (folder / "song.yaml").write_text(SONG)
    for way in WAYS:
        result = run("build", folder / "song.yaml", "--audio", way, "--stems", "--out", folder)
        assert result.exit_code == 0, result.output
    return folder


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", ["Proof of Sound", "Proof of Sound - click"])
def test_every_click_lies_within_one_sample_of_the_maths(made: Path, name: str, way: str) -> None:
    """Half a sample is the rounding; what the music adds to the measure is the rest."""
    report = verify_audio(read_form(made / "song.yaml"), made / f"{name}.{way}")
    assert report.agrees, report.findings
    assert report.clicks_found == 4 * 17
    assert report.worst_s * report.rate < 1.0
    assert abs(report.drift_s) * report.rate < 1.0  # the rounding may lean one way for long
    assert run("verify", made / "song.yaml", made / f"{name}.{way}").exit_code == 0


@pytest.mark.parametrize("way", WAYS)
def test_a_stem_without_a_click_proves_its_length(made: Path, way: str) -> None:
    result = run("verify", made / "song.yaml", made / f"Proof of Sound - pad.{way}")
    assert result.exit_code == 0, result.output
    assert "only the length was proven" in result.output


def test_stems_without_a_count_in_agree(made: Path, tmp_path: Path) -> None:
    form = made / "song.yaml"
    out = tmp_path / "out"
    done = run("build", form, "--audio", "wav", "--stems", "--no-count-in", "--out", out)
    assert done.exit_code == 0, done.output
    assert run("verify", form, out / "Proof of Sound.wav", "--no-count-in").exit_code == 0
    for part in ("bass", "guitar", "drums", "pad"):
        path = out / f"Proof of Sound - {part}.wav"
        report = verify_audio(read_form(form), path, count_in=False, clicked=False)
        assert report.agrees, report.findings
        assert report.length_only


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("how", ["stretched", "cut", "cut and padded", "wrong tempo"])
def test_damage_to_the_sound_that_was_made_is_caught(
    made: Path, tmp_path: Path, how: str, way: str
) -> None:
    sound, rate = soundfile.read(made / f"Proof of Sound.{way}", dtype="float32")
    form = made / "song.yaml"
    if how == "stretched":
        at = np.arange(round(len(sound) * 1.001)) / 1.001
        sound = np.stack([np.interp(at, np.arange(len(sound)), s) for s in sound.T], axis=1)
        sound = sound[: len(at) * 1000 // 1001]  # as long as it was: the clicks must tell
    elif how == "wrong tempo":
        form = tmp_path / "slower.yaml"
        form.write_text(SONG.replace("121.7", "121.2"))
    else:
        cut = round(0.05 * rate)
        sound = np.delete(sound, np.s_[len(sound) // 2 : len(sound) // 2 + cut], axis=0)
        if "padded" in how:
            sound = np.pad(sound, ((0, cut), (0, 0)))
    spoiled = tmp_path / f"spoiled.{way}"
    soundfile.write(spoiled, sound, rate)
    result = run("verify", form, spoiled)
    assert result.exit_code == 1
    assert "Disagrees" in result.output


@pytest.mark.parametrize("way", WAYS)
def test_an_extra_click_in_the_click_stem_that_was_made_is_caught(
    made: Path, tmp_path: Path, way: str
) -> None:
    sound, rate = soundfile.read(made / f"Proof of Sound - click.{way}", dtype="float32")
    clicks = every_click(expect(read_form(made / "song.yaml")))
    first, other = (round(float(click.at_s) * rate) for click in (clicks[0], clicks[40]))
    length = rate // 20
    sound[other + rate // 5 : other + rate // 5 + length] += sound[first : first + length]
    spoiled = tmp_path / f"spoiled.{way}"
    soundfile.write(spoiled, sound, rate)
    result = run("verify", made / "song.yaml", spoiled)
    assert result.exit_code == 1
    assert "something else sounds between them" in result.output


def test_the_decoder_prints_nothing_about_a_damaged_mp3(
    made: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """libmpg123 prints notes of its own, past Python."""
    whole, spoiled = (made / "Proof of Sound.mp3").read_bytes(), tmp_path / "spoiled.mp3"
    for seed in range(8):
        dice, data = Random(seed), bytearray(whole)
        for _ in range(200):
            data[dice.randrange(len(data))] = dice.randrange(256)
        spoiled.write_bytes(data)
        with pytest.raises(SystemExit) as end:
            main(["verify", str(made / "song.yaml"), str(spoiled)])
        printed = capfd.readouterr()
        code = int(str(end.value.code or 0))
        start = {0: "", 1: "Disagrees", 2: str(spoiled)}[code]  # few bytes may damage no click
        assert (printed.out == "") == (code > 0)
        assert (printed.err == "") == (code == 0)
        assert all(line.startswith(start) for line in printed.err.splitlines())


def test_a_missing_library_is_named_with_what_to_install(
    made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "soundfile", None)
    result = run("verify", made / "song.yaml", made / "Proof of Sound.wav")
    assert result.exit_code == 2
    assert install_command("audio") in result.output
