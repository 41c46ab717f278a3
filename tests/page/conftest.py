"""The page's tests use the small soundfont that is always there."""

from __future__ import annotations

from pathlib import Path

import pytest

from backing.audio.soundfonts import VARIABLE, bundled


@pytest.fixture(autouse=True)
def soundfont(monkeypatch: pytest.MonkeyPatch) -> Path:
    path = bundled().path
    monkeypatch.setenv(VARIABLE, str(path))
    return path
