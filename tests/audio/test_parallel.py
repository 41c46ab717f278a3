"""Several files at once: each as it is alone, and none in the way of another."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pytest
from folders import shown

from backing.audio.sound_files import AudioOptions
from backing.form import read_form_text
from backing.practice.versions import Stretch, Version
from backing.tracks.forms import build
from backing.tracks.one import Built, Piece, save
from backing.tracks.parallel import make_all

from .conftest import SONG, THICK
from .test_audio_build import _children, _running, _until


def at_speed(percent: int) -> Version:
    return Version(speeds=(Fraction(percent, 100),))


def pieces(folder: Path, *percents: int) -> list[Piece]:
    form = read_form_text(THICK)
    return [
        Piece(form, folder / f"at {percent}", at_speed(percent), audio=AudioOptions("wav"))
        for percent in percents
    ]


def test_each_file_is_as_it_is_alone(tmp_path: Path) -> None:
    told: list[float] = []
    several = pieces(tmp_path / "several", 60, 80, 100)
    made = make_all(several, told.append, 2)
    assert told == sorted(told)
    assert len(told) > 3
    assert told[-1] == 1.0
    for piece, built in zip(several, made, strict=True):
        assert isinstance(built, Built)
        assert built.sounds is not None
        alone = save(piece._replace(stem=tmp_path / "alone"), cores=4)
        assert alone.sounds is not None
        assert built.path.read_bytes() == alone.path.read_bytes()
        (several_path,), (alone_path,) = (
            [file.path for file in one.sounds.files] for one in (built, alone)
        )
        assert several_path.read_bytes() == alone_path.read_bytes()
        assert (built.form, built.expected, built.version) == (
            alone.form,
            alone.expected,
            alone.version,
        )
    endings = ("mid", "wav")
    stems = [piece.stem.name for piece in several]
    assert shown(tmp_path / "several") == sorted(f"{s}.{end}" for s in stems for end in endings)


@pytest.mark.parametrize("cores", [1, 2])
def test_a_file_that_fails_is_skipped(tmp_path: Path, cores: int) -> None:
    one, two, three = pieces(tmp_path, 100, 110, 120)
    two = two._replace(version=Version(stretch=Stretch("nowhere", "nowhere")))
    made = make_all([one, two, three], cores=cores)
    assert [isinstance(each, Built) for each in made] == [True, False, True]
    assert "nowhere" in str(made[1])
    assert sorted(path.name for path in tmp_path.glob("*.wav")) == ["at 100.wav", "at 120.wav"]


def test_a_folder_in_the_way_of_a_file_is_named(tmp_path: Path) -> None:
    (tmp_path / "at 60.wav").mkdir()
    made = make_all(pieces(tmp_path, 60, 70), cores=2)
    assert all(isinstance(one, Built) for one in made)
    ((left,), nothing) = (one.left for one in made if isinstance(one, Built))
    says = "this is a folder, so it was left as it is. Choose another name."
    assert str(left) == f"{tmp_path / 'at 60.wav'}: {says}"
    assert nothing == ()
    assert shown(tmp_path) == [
        "at 60.mid",
        "at 60.wav",
        "at 70.mid",
        "at 70.wav",
    ]


def test_a_form_that_fails_in_several_versions_has_one_error(tmp_path: Path) -> None:
    form = tmp_path / "song.yaml"
    form.write_text(SONG)
    nowhere = Stretch("nowhere", "nowhere")
    versions = [at_speed(90), *(at_speed(p)._replace(stretch=nowhere) for p in (60, 70))]
    built, errors = build(
        [form, tmp_path / "lost.yaml"], tmp_path, audio=AudioOptions("wav"), versions=versions
    )
    assert [one.version for one in built] == [at_speed(90)]
    assert len(errors) == 2
    assert "nowhere" in str(errors[0])
    assert "lost.yaml" in str(errors[1])


LONG = """title: L
tempo: 60
parts: {pad: {sound: strings}}
sections:
  verse: {bars: "| G | D |", times: 200}
form: [verse]
"""


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_a_run_of_several_that_is_killed_leaves_no_file_and_no_child(
    tmp_path: Path, how: int
) -> None:
    out = tmp_path / "out"
    (tmp_path / "long.yaml").write_text(LONG)
    process = subprocess.Popen(
        [
            *(sys.executable, "-m", "backing", "build", "long.yaml", "-q"),
            *("--speed", "60,70,80", "--audio", "wav", "--out", str(out)),
        ],
        cwd=tmp_path,
        env=dict(os.environ),
        stderr=subprocess.PIPE,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    _until(lambda: sum(raw.stat().st_size > 0 for raw in out.rglob("mix.raw")) >= 2)
    children = _children(process.pid)
    below = [pid for child in children for pid in _children(child)]
    assert len(children) >= 2
    assert len(below) >= 2
    process.send_signal(how)
    _, printed = process.communicate(timeout=30)
    assert b"Traceback" not in printed
    _until(lambda: not any(map(_running, [*children, *below])))
    if how == signal.SIGINT:
        assert not out.exists()
    else:
        assert all(name.startswith(".backing-work-") for name in shown(out))
