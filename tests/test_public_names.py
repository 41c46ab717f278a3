"""The package's public names: all listed, usable in any order, described and with examples run."""

from __future__ import annotations

import doctest
import inspect
import pkgutil
import re
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import api_page
import pytest

import backing

ROOT = Path(__file__).resolve().parents[1]
NAMES = [name for name in backing.__all__ if not name.startswith("__")]
MODULES = {module.name for module in pkgutil.iter_modules(backing.__path__)}
SONG = 'title: Two Gates\ntempo: 100\nsections: {a: {bars: "| A | D |"}}\nform: [a x2]\n'

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
        if found is not meant or not callable(found) or found.__name__ != name:
            yield f"{name} after {order[0]}: {found!r}"

names = sys.argv[1:]
for first in names:
    backing = fresh()
    if not set(names) <= set(dir(backing)):
        print("not in dir:", set(names) - set(dir(backing)))
    order = [first, *(name for name in names if name != first)]
    for line in wrong(backing, order):
        print(line)
    if not set(names) <= set(dir(backing)):
        print("no longer in dir:", set(names) - set(dir(backing)))
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


def test_the_names_are_known_to_type_checkers() -> None:
    """Each name is imported from its home for checkers, and the package says that it is typed."""
    source = Path(backing.__file__).read_text(encoding="utf-8")
    for name, home in backing._HOMES.items():
        assert re.search(rf"    from {re.escape(home)} import .*\b{name}\b", source), name
    assert set(backing._HOMES) | {"BackingError", "DisagreementError", "FormError"} == set(NAMES)
    assert files("backing").joinpath("py.typed").is_file()


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="'backing' has no attribute 'unwind'"):
        backing.unwind  # noqa: B018


# The steps of `midi_of`


@pytest.mark.parametrize("path", sorted((ROOT / "forms").glob("*.yaml")), ids=lambda p: p.stem)
def test_the_steps_written_out_give_the_same_bytes(path: Path) -> None:
    form = backing.read_form(path)
    for count_in, seed in ((True, 0), (False, 7)):
        exact = backing.play(backing.unroll(form, count_in))
        steps = backing.to_bytes(backing.humanize(exact, form.human, seed))
        assert steps == backing.midi_of(form, count_in, seed)
        assert (steps == backing.to_bytes(exact)) == (form.human == 0)


# What is written about them


def test_the_page_is_what_the_docstrings_make() -> None:
    assert api_page.PAGE.read_text(encoding="utf-8") == api_page.page(), "run tests/api_page.py"


def test_the_page_has_every_name_once() -> None:
    listed = [name for names in api_page.CHAPTERS.values() for name in names]
    assert sorted(listed) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_every_function_describes_its_arguments(name: str) -> None:
    thing = getattr(backing, name)
    text = inspect.getdoc(thing) or ""
    assert text
    assert "Alias for field number" not in text
    if not inspect.isfunction(thing):
        return
    described = re.findall(r"^    (\w+): ", text, re.MULTILINE)
    arguments = list(inspect.signature(thing).parameters)
    assert [one for one in described if one in arguments] == arguments


def examples() -> list[doctest.DocTest]:
    """The examples of the package and of each name, in the order of the names."""
    finder = doctest.DocTestFinder(recurse=False, exclude_empty=True)
    things = [("backing", backing), *((name, getattr(backing, name)) for name in NAMES)]
    found = (test for name, thing in things for test in finder.find(thing, name, globs={}))
    return [test for test in found if test.examples]


#: Those that need an engine and a soundfont run in `tests/audio/test_sound_examples.py`.
OF_SOUND = ("make_page", "render_audio", "verify_audio")


def run_example(example: doctest.DocTest, folder: Path) -> None:
    """Run an example in a folder that has a form `song.yaml`."""
    (folder / "song.yaml").write_text(SONG)
    report: list[str] = []
    result = doctest.DocTestRunner().run(example, out=report.append)
    assert result.failed == 0, "".join(report)
    assert result.attempted == len(example.examples)


@pytest.mark.parametrize(
    "example",
    [one for one in examples() if one.name not in OF_SOUND],
    ids=lambda example: str(example.name),
)
def test_the_examples_run(
    example: doctest.DocTest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    run_example(example, tmp_path)


def test_every_example_of_the_page_is_one_of_these() -> None:
    assert {one.name for one in examples()} >= {"backing", "draw_chart", *OF_SOUND}
    shown = api_page.page().count(">>> ")
    assert shown == sum(len(example.examples) for example in examples())
