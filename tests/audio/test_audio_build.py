"""`build --audio`: what is written and printed, and what is left where it goes wrong."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import soundfile
from click.testing import CliRunner, Result
from folders import shown

from backing.audio.engines import MIDIRENDERER, VARIABLE
from backing.cli import main
from backing.system.work import work_folder

LONG = """\
title: Long Sound
tempo: 60
parts: {drums: {beat: eighths}, pad: {sound: strings}}
sections:
  verse: {bars: "| G | D |", times: 200}
form: [verse]
"""


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments])


@pytest.mark.parametrize("kind", ["wav", "flac", "ogg", "mp3"])
def test_a_mix_of_each_format_is_written_and_printed(
    form_file: Path, tmp_path: Path, kind: str
) -> None:
    result = run("build", form_file, "--audio", kind, "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    assert shown(tmp_path / "out") == sorted([f"Short Sound.{kind}", "Short Sound.mid"])
    (line,) = [line for line in result.output.splitlines() if f".{kind}:" in line]
    for word in ("0:06", "LUFS", "true peak", "FluidSynth", "TimGM6mb.sf2"):
        assert word in line


def test_stems_are_as_long_as_the_mix(form_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run("build", form_file, "--audio", "flac", "--stems", "--json", "--out", out)
    table = json.loads(result.output)
    paths = [Path(each["path"]) for each in table["audio"]]
    assert len(paths) == 6
    assert {soundfile.info(path).frames for path in paths} == {6 * 44100}


@pytest.mark.parametrize(
    ("instrument", "parts"),
    [("ukulele", "bass, click, ukulele"), ("five-string bass", "bass, click, guitar")],
)
def test_stems_are_called_what_the_student_plays(
    tmp_path: Path, instrument: str, parts: str
) -> None:
    form = tmp_path / "song.yaml"
    text = f"title: Own\ntempo: 200\ninstrument: {instrument}\n"
    form.write_text(text + 'sections: {a: {bars: "| G |"}}\nform: [a]\n', "utf-8")
    result = run("build", form, "--audio", "flac", "--stems", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    names = [f"Own - {part}.flac" for part in parts.split(", ")]
    assert shown(tmp_path / "out") == sorted([*names, "Own.flac", "Own.mid"])
    for name in names:
        with soundfile.SoundFile(tmp_path / "out" / name) as stem:
            assert stem.copy_metadata()["title"] == name.removesuffix(".flac")


def test_another_persons_sound_file_is_left_and_the_rest_is_made(
    form_file: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "Short Sound.wav").write_bytes(b"my own recording")
    arguments = ("build", form_file, "--audio", "wav,mp3", "--out", out)
    for _ in range(2):
        result = run(*arguments, "--json")
        assert result.exit_code == 2
        assert (out / "Short Sound.wav").read_bytes() == b"my own recording"
        table = json.loads(result.stdout)
        assert [each["path"] for each in table["audio"]] == [str(out / "Short Sound.mp3")]
        assert table["left"] == [str(out / "Short Sound.wav")]
    (out / "Short Sound.mid").write_bytes(b"saved from a sequencer")
    result = run(*arguments)
    assert "Wrote " + str(out / "Short Sound.mid") not in result.output
    assert "Wrote " + str(out / "Short Sound.mp3") in result.output
    assert (out / "Short Sound.mid").read_bytes() == b"saved from a sequencer"
    assert run(*arguments, "--force").exit_code == 0
    assert (out / "Short Sound.wav").read_bytes().startswith(b"RIFF")
    assert run(*arguments).exit_code == 0


def test_midirenderer_makes_audio_and_one_line_says_so(
    form_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(VARIABLE, MIDIRENDERER)
    result = run("build", form_file, "--audio", "wav", "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    message = [line for line in result.output.splitlines() if "FluidSynth is not installed" in line]
    assert len(message) == 1


def test_a_damaged_soundfont_is_one_sentence_and_exit_code_2(
    form_file: Path, tmp_path: Path
) -> None:
    bad = tmp_path / "bad.sf2"
    bad.write_bytes(b"RIFF\0\0\0\0sfbk")
    out = tmp_path / "out"
    result = run("build", form_file, "--audio", "wav", "--soundfont", bad, "--out", out)
    assert result.exit_code == 2
    assert "bad.sf2" in result.output
    assert not out.exists()


@pytest.mark.parametrize(
    "options", [["--audio", "aiff"], ["--stems"], ["--audio", "wav", "--loudness", "3"]]
)
def test_what_is_not_available_is_refused_before_any_work(
    form_file: Path, tmp_path: Path, options: list[str]
) -> None:
    result = run("build", form_file, *options, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert not (tmp_path / "out").exists()


def test_sounds_names_the_engine_the_soundfont_and_its_license(bank: Path) -> None:
    output = run("sounds").output
    assert "FluidSynth (used)" in output
    assert str(bank) in output
    assert "GPL-2" in output


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_a_run_that_is_killed_leaves_no_file_and_no_child(tmp_path: Path, how: int) -> None:
    form, out = tmp_path / "long.yaml", tmp_path / "out"
    form.write_text(LONG)
    command = [sys.executable, "-m", "backing", "build", str(form), "--audio", "wav"]
    root = Path(__file__).parents[2]
    environment = {**os.environ, "PYTHONPATH": str(root)}
    process = subprocess.Popen(
        [*command, "--out", str(out)],
        env=environment,
        cwd=tmp_path,
        # Tests that run in the background would hand on that SIGINT is ignored.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    work = f".backing-work-{process.pid}-*"
    _until(lambda: any(raw.stat().st_size for raw in out.rglob("mix.raw")))
    (folder,) = out.glob(work)
    children = _children(process.pid)
    assert children
    process.send_signal(how)
    process.wait(30)
    _until(lambda: not any(map(_running, children)))
    if how == signal.SIGINT:
        assert not out.exists()
    else:
        assert shown(out) == [folder.name]
        with work_folder(out) as next_:  # the next run takes away what was left
            assert shown(out) == [next_.name]


def _until(done: object) -> None:
    for _ in range(600):
        if done():  # type: ignore[operator]
            return
        time.sleep(0.05)
    raise AssertionError("nothing came of it in 30 seconds")


def _children(pid: int) -> list[int]:
    return [
        int(path.parent.name)
        for path in Path("/proc").glob("[0-9]*/stat")
        if _fields(path)[1:2] == [str(pid)]
    ]


def _running(pid: int) -> bool:
    return _fields(Path(f"/proc/{pid}/stat"))[:1] not in ([], ["Z"])


def _fields(path: Path) -> list[str]:
    try:
        return path.read_text().rpartition(")")[2].split()
    except OSError:
        return []
