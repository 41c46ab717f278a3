"""Short songs, and the bank that is always there."""

from __future__ import annotations

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
#: With so many voices that two synthesizers play it.
THICK = (
    SONG.replace("tempo: 180", "tempo: 400")
    .replace('D |"}', 'D |", times: 4}')
    .replace("parts: {", 'parts: {guitar: {strum: {step: 1/8, play: "D D D D D D D D"}}, ')
)


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
