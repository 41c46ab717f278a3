"""Which of the tests of sound this machine can run; what is left out is said at the end."""

from __future__ import annotations

import os
from importlib.util import find_spec
from pathlib import Path

import pytest

LIBRARIES = (
    "fluidsynth",
    "midirenderer",
    "mutagen",
    "numpy",
    "pyebur128",
    "pyloudnorm",
    "soundfile",
)
HERE = Path(__file__).parent
OF_SOUND = {
    HERE / "audio",
    HERE / "outside" / "test_ebu_loudness.py",
    HERE / "outside" / "test_pitch.py",
    HERE / "outside" / "test_two_engines.py",
}


def lacking() -> str:
    """What of the tests' needs for sound isn't there."""
    for name in LIBRARIES:
        if find_spec(name) is None:
            return f"the Python package {name} (extra test-audio)"
    try:
        import fluidsynth  # noqa: F401 - it loads the C library
    except (ImportError, OSError):
        return "FluidSynth's library (Debian: apt-get install libfluidsynth3)"
    return ""


LACKING = lacking()
if LACKING and os.environ.get("BACKING_TEST_AUDIO"):
    raise pytest.UsageError(f"the tests of sound need {LACKING}")


def pytest_ignore_collect(collection_path: Path) -> bool | None:
    return True if LACKING and collection_path in OF_SOUND else None


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if LACKING:
        what = f"tests of sound left out: {LACKING} is missing"
        terminalreporter.write_line(what, yellow=True)
