"""Which tests of sound and the page this machine can run; those left out are printed at the end."""

from __future__ import annotations

import gc
import os
import shutil
import tempfile
from importlib.util import find_spec
from pathlib import Path

import pytest

#: Songs are large and short-lived here: looking for cycles in them as often as Python usually does
#: takes an eighth of the time.
gc.set_threshold(200_000, 20, 100)

LIBRARIES = (
    "fluidsynth",
    "midirenderer",
    "mutagen",
    "numpy",
    "pyloudnorm",
    "soundfile",
)
HERE = Path(__file__).parent
OF_SOUND = {
    HERE / "audio",
    HERE / "lesson" / "test_lesson_sound.py",
    HERE / "lesson" / "test_same_bytes.py",
    HERE / "outside" / "test_balance.py",
    HERE / "outside" / "test_ear.py",
    HERE / "outside" / "test_ebu_loudness.py",
    HERE / "outside" / "test_pitch.py",
    HERE / "outside" / "test_section_marks.py",
    HERE / "outside" / "test_two_engines.py",
    HERE / "page" / "test_brushes.py",
    HERE / "page" / "test_page_command.py",
    HERE / "page" / "test_sprite.py",
    HERE / "page" / "test_whole_page_json.py",
}
#: The page's tests that need a browser, and sound to fill the page with.
IN_BROWSER = HERE / "page" / "browser"


#: Tests leave the user's cache alone; processes of one run share this one.
if "BACKING_TESTS_CACHE" not in os.environ:
    CACHE = tempfile.TemporaryDirectory()
    os.environ["BACKING_TESTS_CACHE"] = os.environ["XDG_CACHE_HOME"] = CACHE.name


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


def lacking_for_pages() -> str:
    """What of the tests' needs for a browser isn't there."""
    for name in ("playwright", "axe_playwright_python"):
        if find_spec(name) is None:
            return f"the Python package {name} (extra test-page)"
    if shutil.which("chromium") is None:
        return "the browser chromium (Debian: apt-get install chromium)"
    return LACKING


LACKING = lacking()
LACKING_FOR_PAGES = lacking_for_pages()
if LACKING and os.environ.get("BACKING_TEST_AUDIO"):
    raise pytest.UsageError(f"the tests of sound need {LACKING}")
if LACKING_FOR_PAGES and os.environ.get("BACKING_TEST_PAGE"):
    raise pytest.UsageError(f"the tests of the page need {LACKING_FOR_PAGES}")


def pytest_ignore_collect(collection_path: Path) -> bool | None:
    of_sound, of_pages = collection_path in OF_SOUND, collection_path == IN_BROWSER
    return True if (LACKING and of_sound) or (LACKING_FOR_PAGES and of_pages) else None


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if LACKING:
        what = f"tests of sound left out: {LACKING} is missing"
        terminalreporter.write_line(what, yellow=True)
    if LACKING_FOR_PAGES:
        what = f"tests of the page left out: {LACKING_FOR_PAGES} is missing"
        terminalreporter.write_line(what, yellow=True)
