"""The package's public names: each is what its home defines, in whatever order they are used."""

from __future__ import annotations

import pkgutil
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

import backing

ROOT = Path(__file__).resolve().parents[1]
NAMES = [name for name in backing.__all__ if not name.startswith("__")]
MODULES = {module.name for module in pkgutil.iter_modules(backing.__path__)}

#: Each name in turn is the first one that a fresh package is asked for; then all others, then
#: all of them again once every module of the package has been loaded.
WALK = """
import importlib, pkgutil, sys

def fresh():
    for name in [name for name in sys.modules if name.split(".")[0] == "backing"]:
        del sys.modules[name]
    return importlib.import_module("backing")

def wrong(backing, order):
    for name in order:
        found = getattr(backing, name)
        home = backing._HOMES.get(name, "backing.errors")
        meant = getattr(importlib.import_module(home), name)
        if found is not meant or not callable(found):
            yield f"{name} after {order[0]}: {found!r}"

names = sys.argv[1:]
for first in names:
    backing = fresh()
    order = [first, *(name for name in names if name != first)]
    for line in wrong(backing, order):
        print(line)
optional = ("typst", "numpy", "soundfile", "mutagen", "midirenderer", "fluidsynth")
for module in pkgutil.walk_packages(backing.__path__, "backing."):
    if module.name.endswith("__main__"):
        continue
    try:
        importlib.import_module(module.name)
    except ModuleNotFoundError as error:
        if error.name not in optional + ("matplotlib",):
            raise
for line in wrong(backing, names):
    print(line)
print("walked", len(names))
"""


def ran(program: str, *arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_every_name_works_in_every_order() -> None:
    assert ran(WALK, *NAMES) == f"walked {len(NAMES)}\n"


def test_no_module_takes_a_public_name() -> None:
    """Importing `backing.NAME` sets that attribute, so a module would replace the function."""
    assert MODULES.isdisjoint(NAMES)
    assert "tracks" in MODULES


@pytest.mark.parametrize("first", ["midi_of", "Built", "verify_bytes"])
def test_build_can_be_called_after_other_names(first: str) -> None:
    program = f"import backing; backing.{first}; print(callable(backing.build))"
    assert ran(program) == "True\n"


def test_the_example_of_the_package_runs(tmp_path: Path) -> None:
    assert backing.__doc__ is not None
    example = textwrap.dedent(backing.__doc__.split("\n\n")[2])
    assert "midi_of" in example
    song = (ROOT / "forms" / "starter.yaml").as_posix()
    program = (
        f"import backing\n{example}\nbuilt, errors = backing.build([{song!r}], {str(tmp_path)!r})\n"
    )
    program = program.replace('"song.yaml"', repr(song))
    assert ran(program + "print(report.agrees, len(built), errors)") == "True 1 []\n"
