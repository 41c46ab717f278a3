"""The same form and options give the same bytes, whatever the machine, the place and the moment."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from audio.conftest import THICK
from lesson.songs import held

from backing.audio import render as rendering
from backing.audio import synth_pool
from backing.audio.engines import ENGINES
from backing.audio.soundfonts import VARIABLE, bundled
from backing.audio.synth import Synth
from backing.form import read_form
from backing.players import play
from backing.timeline import unroll

ROOT = Path(__file__).parents[2]
SONG = f"""{THICK}practice:
  formats: [midi, wav, flac, ogg, mp3, chart, page]
  set: [100]
"""
#: `MALLOC_PERTURB_` (GNU C library) fills memory that nobody has written to.
HERE = {"TZ": "Pacific/Kiritimati", "LC_ALL": "C", "PYTHONHASHSEED": "1", "MALLOC_PERTURB_": "165"}
HERE |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
THERE = {"TZ": "America/Adak", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "2", "MALLOC_PERTURB_": "90"}
THERE |= {"OMP_NUM_THREADS": "4", "OPENBLAS_NUM_THREADS": "4", "SOURCE_DATE_EPOCH": "2240524800"}


@pytest.fixture
def form(tmp_path: Path) -> Path:
    path = tmp_path / "song.yaml"
    path.write_text(SONG)
    return path


def ran(form: Path, out: str, jobs: int, environment: dict[str, str]) -> Path:
    command = [sys.executable, "-m", "backing", "lesson", str(form), "--out", out, "--zip", "-q"]
    subprocess.run(
        [*command, "--jobs", str(jobs)],
        cwd=form.parent,
        env={**os.environ, VARIABLE: str(bundled().path), "PYTHONPATH": str(ROOT), **environment},
        check=True,
    )
    return form.parent / out


def test_every_file_of_a_lesson_is_the_same_anywhere_and_after_an_interruption(form: Path) -> None:
    whole = ran(form, "here", 1, HERE)
    other = ran(form, "there", 3, THERE)
    files = held(whole)
    assert {Path(name).suffix for name in files} >= {
        *(".mid", ".wav", ".flac", ".ogg", ".mp3", ".pdf", ".html", ".txt", ".zip", ".json")
    }
    assert held(other) == files
    (sound,) = other.rglob("*.wav")
    sound.unlink()  # as if the run had ended before it: now 4 cores are free for it alone
    assert held(ran(form, "there", 4, HERE)) == files


def test_this_song_is_played_by_several_synthesizers(form: Path) -> None:
    """Otherwise the test above would show nothing."""
    score = play(unroll(read_form(form)))
    job = rendering._job(score, ENGINES[0], 44100, [bundled()], form.parent / "mix.raw", {})
    assert len(synth_pool._shares(job, Synth(job.soundfonts, job.rate, 16, 1))) > 1
