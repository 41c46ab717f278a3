"""Short songs, and the bank that is always there."""

from __future__ import annotations

import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

from backing.audio.soundfonts import VARIABLE, bundled

SONG = """\
title: Short Sound
tempo: 180
key: G
count-in: 1
parts: {drums: {beat: eighths}, pad: {sound: strings}}
sections:
  verse: {bars: "| G | D |"}
form: [verse]
"""


#: The meters that can be had here: a library's where there is one, and our own.
METERS = ["library", "own"] if find_spec("pyebur128") else ["own"]


@pytest.fixture(params=METERS)
def meter(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Every meter in turn."""
    if request.param == "own":
        monkeypatch.setitem(sys.modules, "pyebur128", None)  # as if it were not installed
    return str(request.param)


@pytest.fixture(autouse=True)
def bank(monkeypatch: pytest.MonkeyPatch) -> Path:
    """Every test plays with the small bank, whatever else the machine has."""
    path = bundled().path
    monkeypatch.setenv(VARIABLE, str(path))
    return path


@pytest.fixture
def form_file(tmp_path: Path) -> Path:
    path = tmp_path / "song.yaml"
    path.write_text(SONG)
    return path
