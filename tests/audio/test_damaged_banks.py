"""Banks with spoiled tables: each plays or is one clear error, and no child stays behind."""

from __future__ import annotations

import os
import random
import signal
from pathlib import Path

import numpy as np
import pytest

from backing.audio import render as rendering
from backing.audio.engines import ENGINES
from backing.audio.render import render
from backing.audio.soundfonts import Soundfont, bundled, choose
from backing.errors import BackingError

from .test_audio_build import _children, _running
from .test_render import score

TABLES = ("phdr", "pbag", "pgen", "inst", "ibag", "imod", "igen", "shdr")


def spoiled(table: str, seed: int, folder: Path) -> Path:
    """The small bank with some bytes of one table thrown like dice."""
    data = bytearray(bundled().path.read_bytes())
    start = data.index(table.encode(), data.index(b"pdta")) + 8
    size = int.from_bytes(data[start - 4 : start], "little")
    dice = random.Random(f"{table} {seed}")
    for _ in range(dice.choice((1, 8, 64, 512))):
        data[start + dice.randrange(size)] = dice.randrange(256)
    path = folder / "spoiled.sf2"
    path.write_bytes(data)
    return path


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("table", TABLES)
def test_a_damaged_table_plays_or_gives_one_error(table: str, seed: int, tmp_path: Path) -> None:
    path = spoiled(table, seed, tmp_path)
    try:
        made = render(score(), tmp_path, choose(path), ENGINES[0])
        assert np.isfinite(np.fromfile(made.mix, "<f4")).all()
    except BackingError as error:
        printed = str(error)
    else:
        printed = "spoiled.sf2 plays"
    assert "spoiled.sf2" in printed
    assert "\n" not in printed
    assert not [child for child in _children(os.getpid()) if _running(child)]


def test_some_are_refused_and_some_play(tmp_path: Path) -> None:
    """So that the test above is of both."""
    outcomes = set()
    for table, seed in (("pbag", 0), ("pbag", 1), ("imod", 0), ("imod", 1)):
        try:
            render(score(), tmp_path, choose(spoiled(table, seed, tmp_path)), ENGINES[0])
            outcomes.add("plays")
        except BackingError:
            outcomes.add("refused")
    assert outcomes == {"plays", "refused"}


def test_an_engine_that_hangs_is_killed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rendering, "SILENT_S", 2.0)

    def hang(share: float) -> None:
        for child in _children(os.getpid()):
            os.kill(child, signal.SIGSTOP)

    long = score()._replace(end_whole=score().end_whole * 40)
    with pytest.raises(BackingError, match=r"TimGM6mb.sf2: the engine made no progress for 2 s"):
        render(long, tmp_path, bundled(), ENGINES[0], progress=hang)
    assert not _children(os.getpid())


def test_a_soundfont_that_gives_numbers_that_are_not_sound_is_an_error(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from backing.audio import synth_pool

    def broken(job: object, share: object) -> object:
        yield np.full((2, synth_pool.CHUNK), np.nan, "f4")

    monkeypatch.setattr(synth_pool, "_planes", broken)
    bank: Soundfont = bundled()
    job = rendering._job(score(), ENGINES[0], 44100, [bank], tmp_path / "mix.raw", {})
    with pytest.raises(BackingError, match=r"TimGM6mb.sf2: it gives numbers that are not sound"):
        synth_pool.play(job, lambda frames: None)
