"""Errors pass between processes unchanged: each class of the project can be pickled."""

from __future__ import annotations

import importlib
import pickle
import pkgutil
from collections.abc import Iterator

import pytest

import backing
from backing.errors import BackingError, FormError, Problem, ShortageError
from backing.system.shortages import MEMORY
from backing.system.workers import ProcessError

#: How each class that takes more than a text is made.
MADE = {
    FormError: FormError(
        "song.yaml",
        [Problem(2, 3, "there is no chord 'H'.", "Write B."), Problem(1, 1, "no title.")],
        ["titel: x", "  H"],
        "There are more.",
    ),
    ProcessError: ProcessError("its process was ended by the system (signal 9).", 9),
    ShortageError: ShortageError(MEMORY, "song.wav", "can't be written"),
}


def classes(of: type[BackingError] = BackingError) -> Iterator[type[BackingError]]:
    for module in pkgutil.walk_packages(backing.__path__, "backing."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    yield of
    for below in of.__subclasses__():
        yield from classes(below)


@pytest.mark.parametrize("kind", dict.fromkeys(classes()), ids=lambda kind: kind.__name__)
def test_an_error_comes_back_equal(kind: type[BackingError]) -> None:
    error = MADE[kind] if kind in MADE else kind("song.yaml: the disk is full.")
    back = pickle.loads(pickle.dumps(error))
    assert type(back) is kind
    assert str(back) == str(error)
    assert back.exit_code == error.exit_code

    def comparable(fields: dict[str, object]) -> dict[str, object]:
        return {name: tuple(v) if isinstance(v, list) else v for name, v in fields.items()}

    assert comparable(vars(back)) == comparable(vars(error))


def test_the_walk_finds_the_classes_that_are_known() -> None:
    assert {kind.__name__ for kind in classes()} >= {
        "BackingError", "DisagreementError", "FormError", "ProcessError",
    }  # fmt: skip


@pytest.mark.parametrize("kind", MADE, ids=lambda kind: kind.__name__)
def test_a_text_is_replaced_in_every_kind(kind: type[BackingError]) -> None:
    changed = MADE[kind].with_text("song", "tune").with_text("process", "child")
    assert type(changed) is kind
    assert str(changed) == str(MADE[kind]).replace("song", "tune").replace("process", "child")
