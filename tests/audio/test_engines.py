"""Which engine plays, and what is printed where it is not FluidSynth."""

from __future__ import annotations

import re

import pytest

from backing.audio.engines import FLUIDSYNTH, MIDIRENDERER, VARIABLE, advice, available, choose
from backing.errors import BackingError
from backing.system.install import install_command


def test_without_fluidsynth_midirenderer_plays_and_says_how_to_get_it() -> None:
    engine = choose(hide=[FLUIDSYNTH])
    assert engine.key == MIDIRENDERER
    printed = advice(engine)
    assert printed is not None
    assert "FluidSynth is not installed" in printed
    assert "\n" not in printed


def test_without_any_engine_it_says_what_to_install() -> None:
    assert available(hide=[FLUIDSYNTH, MIDIRENDERER]) == []
    with pytest.raises(BackingError, match=re.escape(install_command("audio"))):
        choose(hide=[FLUIDSYNTH, MIDIRENDERER])


def test_the_variable_names_the_engine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(VARIABLE, MIDIRENDERER)
    assert choose().key == MIDIRENDERER
    monkeypatch.setenv(VARIABLE, "organ")
    with pytest.raises(BackingError, match="organ"):
        choose()
