"""Several songs at once: each as it is alone, errors passed over, nothing left behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import soundfile

from backing.audio.build import Sounds, Wanted, build_audio
from backing.audio.several import Song, build_several
from backing.audio.side import Ended, Stop, side_by_side
from backing.errors import BackingError
from backing.form import read_form_text
from backing.players import play
from backing.score import Score
from backing.timeline import unroll

from .conftest import SONG
from .test_audio_build import _children, _running, _until


def at_speed(percent: int) -> Score:
    whole = play(unroll(read_form_text(SONG)))
    tempos = tuple(
        tempo._replace(quarter_bpm=tempo.quarter_bpm * Fraction(percent, 100))
        for tempo in whole.tempos
    )
    return whole._replace(tempos=tempos)


def songs(folder: Path, *percents: int) -> list[Song]:
    return [Song(at_speed(p), folder / f"at {p}", Wanted("wav")) for p in percents]


def test_each_song_is_as_it_is_alone(tmp_path: Path) -> None:
    told: list[float] = []
    ended: list[object] = []
    made = build_several(songs(tmp_path, 60, 80, 100), 2, told.append, ended.append)
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert len(ended) == 3
    for percent, sounds in zip((60, 80, 100), made, strict=True):
        assert isinstance(sounds, Sounds)
        alone = build_audio(at_speed(percent), tmp_path / "alone", Wanted("wav"), cores=1)
        heard, _ = soundfile.read(sounds.files[0].path)
        wanted, _ = soundfile.read(alone.files[0].path)
        assert np.array_equal(heard, wanted)
    assert not list(tmp_path.glob(".*"))


@pytest.mark.parametrize("jobs", [1, 2])
def test_a_song_that_fails_is_passed_over(tmp_path: Path, jobs: int) -> None:
    def wrong(path: Path) -> None:
        raise BackingError("not as it should be")

    one, two, three = songs(tmp_path, 100, 110, 120)
    made = build_several([one, two._replace(proved=wrong), three], jobs)
    assert [isinstance(each, Sounds) for each in made] == [True, False, True]
    assert str(made[1]) == "not as it should be"
    assert sorted(path.name for path in tmp_path.glob("*.wav")) == ["at 100.wav", "at 120.wav"]


def test_what_fails_ends_the_others() -> None:
    stop, went_on = Stop(), []

    def endless() -> None:
        try:
            while True:
                stop.check()
                time.sleep(0.01)
        except Ended:
            went_on.append("ended")
            raise

    def fails() -> None:
        raise BackingError("no")

    with pytest.raises(BackingError, match="no"):
        side_by_side([endless, fails, endless], 2, stop)
    assert went_on


PROGRAM = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from backing.audio.build import Wanted
from backing.audio.several import Song, build_several
from backing.form import read_form_text
from backing.players import play
from backing.timeline import unroll
song = '''title: L
tempo: 60
parts: {pad: {sound: strings}}
sections:
  verse: {bars: "| G | D |", times: 200}
form: [verse]
'''
score = play(unroll(read_form_text(song)))
out = Path(sys.argv[1])
build_several([Song(score, out / str(n), Wanted("wav")) for n in range(4)], 2)
"""


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_a_run_of_several_that_is_ended_leaves_no_file_and_no_child(
    tmp_path: Path, how: int
) -> None:
    out = tmp_path / "out"
    process = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, str(out), str(Path(__file__).parents[2])],
        env=dict(os.environ),
        stderr=subprocess.DEVNULL,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    _until(lambda: sum(raw.stat().st_size > 0 for raw in out.glob(".*/mix.raw")) >= 2)
    children = _children(process.pid)
    assert len(children) >= 2
    process.send_signal(how)
    process.wait(30)
    _until(lambda: not any(map(_running, children)))
    left = [path.name for path in out.iterdir()]
    assert not [name for name in left if not name.startswith(".backing-sound.")]
    if how == signal.SIGINT:
        assert left == []
