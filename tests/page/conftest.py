"""The page's tests play with the small bank that is always there."""

from __future__ import annotations

from pathlib import Path

import pytest

from backing.audio.soundfonts import VARIABLE, bundled


@pytest.fixture(autouse=True)
def bank(monkeypatch: pytest.MonkeyPatch) -> Path:
    path = bundled().path
    monkeypatch.setenv(VARIABLE, str(path))
    return path
