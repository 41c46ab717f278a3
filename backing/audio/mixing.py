"""A song's parts rendered in balance, by gains that all its versions take from the whole song."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from backing.audio.balance import Gains, balanced, click_gain, gains_of, sounds_of
from backing.audio.calibration import Calibration, calibration, measured_files
from backing.audio.engines import Engine
from backing.audio.render import Rendered, render
from backing.audio.soundfonts import Soundfont
from backing.midi.writer import as_it_is
from backing.score import Score
from backing.system.work import writing


class Mixer(NamedTuple):
    """Renders versions of a song with a soundfont and an engine; raw sound goes into `folder`."""

    gains: Gains
    calibration: Calibration
    soundfont: Soundfont
    engine: Engine
    folder: Path
    cores: int | None = None

    def render(
        self,
        score: Score,
        name: str,
        stems: bool = False,
        progress: Callable[[float], None] = lambda share: None,
    ) -> Rendered:
        """A version in balance, as raw files in a folder of this name.

        Raises:
            BackingError: the engine failed, or the disk is full.
        """
        folder = self.folder / name
        with writing(folder):
            folder.mkdir()
        gains = dict(self.gains)
        if not sounds_of(score) <= gains.keys():
            gains = gains_of(score, self.calibration) | gains
        return render(
            balanced(score, gains, self.gains),
            folder,
            self.soundfont,
            self.engine,
            stems=stems,
            progress=progress,
            cores=self.cores,
            click_gain=click_gain(gains, self.gains),
            shortened=self.calibration.shortened(),
        )

    def whole(self, score: Score) -> tuple[Path, int]:
        """The whole song as a raw file, and its rate in Hz."""
        rendered = self.render(score, "whole")
        return rendered.mix, rendered.rate

    def key(self, score: Score) -> str:
        """All that the sound of a score depends on."""
        found = hashlib.sha256(as_it_is(balanced(score, self.gains, self.gains)))
        click = f"{click_gain(self.gains, self.gains):.6g}"
        return " ".join((found.hexdigest(), click, *measured_files(self.soundfont, self.engine)))


def mixer_for(
    whole: Score, soundfont: Soundfont, engine: Engine, folder: Path, cores: int | None = None
) -> Mixer:
    """A mixer with the gains that bring a whole song into balance.

    Raises:
        BackingError: the engine failed while it measured the soundfont.
    """
    calibrated = calibration(soundfont, engine, folder)
    return Mixer(gains_of(whole, calibrated), calibrated, soundfont, engine, folder, cores)
