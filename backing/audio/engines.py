"""Engines: the programs that turn notes into sound, and which of them this machine has.

FluidSynth is the usual engine, used through pyfluidsynth; its C library belongs to the system. If
it is missing, the package midirenderer plays, which pip alone can install.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Container
from contextlib import redirect_stdout
from importlib.util import find_spec
from io import StringIO
from threading import Lock
from typing import Any, NamedTuple

from backing.errors import BackingError, raise_shortage
from backing.system.install import install_command

FLUIDSYNTH, MIDIRENDERER = "fluidsynth", "midirenderer"
#: An environment variable that names the engine to use.
VARIABLE = "BACKING_ENGINE"
HOW_TO_GET = {
    "darwin": "brew install fluid-synth",
    "win32": "choco install fluidsynth",
    "linux": "apt install libfluidsynth3 (Debian, Ubuntu), dnf install fluidsynth-libs (Fedora)",
}

_loading = Lock()


class Engine(NamedTuple):
    """An engine's key, its printed name, and its frames per second, if it has only one rate."""

    key: str
    name: str
    rate: int | None = None


ENGINES = (
    Engine(FLUIDSYNTH, "FluidSynth"),
    Engine(MIDIRENDERER, "midirenderer", rate=48000),
)


def available(hide: Container[str] = ()) -> list[Engine]:
    """The engines of this machine, the one to use first; `hide` leaves some out by their keys."""
    named = os.environ.get(VARIABLE)
    return [
        engine
        for engine in ENGINES
        if engine.key not in hide and named in (None, "", engine.key) and _is_there(engine.key)
    ]


def choose(hide: Container[str] = ()) -> Engine:
    """The engine to use.

    Raises:
        BackingError: there is none, or not the one that the variable BACKING_ENGINE names.
    """
    named = os.environ.get(VARIABLE)
    if named and named not in [engine.key for engine in ENGINES]:
        keys = ", ".join(engine.key for engine in ENGINES)
        raise BackingError(f"{VARIABLE} is {named!r}, but the engines are {keys}.")
    for engine in available(hide):
        return engine
    raise BackingError(f"No sound engine is installed. To install one: {install_command('audio')}")


def advice(engine: Engine) -> str | None:
    """A line that says that an engine replaces FluidSynth, and how to get FluidSynth."""
    if engine.key == FLUIDSYNTH:
        return None
    how = HOW_TO_GET.get(sys.platform, HOW_TO_GET["linux"])
    return f"FluidSynth is not installed, so {engine.name} plays. To get it: {how}"


def load_fluidsynth() -> Any:
    """The module fluidsynth; what it prints on import under the variable CI is dropped.

    Raises:
        ImportError, OSError, AttributeError: its C library is missing, or not whole.
    """
    with _loading:  # the redirection is the whole process's
        if "fluidsynth" not in sys.modules:
            with redirect_stdout(StringIO()):
                import fluidsynth  # noqa: F401
    return sys.modules["fluidsynth"]


def _is_there(key: str) -> bool:
    if find_spec(key) is None:
        return False
    if key != FLUIDSYNTH:
        return True
    try:
        return hasattr(load_fluidsynth(), "new_fluid_synth")
    except (ImportError, OSError, AttributeError) as error:
        raise_shortage(error)
        return False  # its C library is missing, or not whole
