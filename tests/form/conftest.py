"""What the form room's tests share: a form read, or its problems asked for."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from backing.errors import FormError, Problem
from backing.form import Form, read_form_text


@pytest.fixture
def reads() -> Callable[[str], Form]:
    """A form that must be read."""
    return read_form_text


@pytest.fixture
def problems() -> Callable[[str], list[Problem]]:
    """The problems of a form that must be refused; each is a sentence and says what to write."""

    def found(text: str) -> list[Problem]:
        with pytest.raises(FormError) as caught:
            read_form_text(text, "song.yaml")
        for problem in caught.value.problems:
            line = caught.value.lines[problem.line - 1]
            assert 1 <= problem.column <= len(line) + 1
            printed = f"{problem.message} {problem.fix}".strip()
            assert printed[-1] in ".?" or ": " in printed, printed
            assert problem.fix or ";" in problem.message, printed
        return list(caught.value.problems)

    return found


@pytest.fixture
def only(problems: Callable[[str], list[Problem]]) -> Callable[[str], Problem]:
    """The one problem of a form."""

    def found(text: str) -> Problem:
        (problem,) = problems(text)
        return problem

    return found


@pytest.fixture
def pointed(only: Callable[[str], Problem]) -> Callable[[str], tuple[str, str]]:
    """What stands at the place of a form's one problem, to its line's end; and what is printed."""

    def found(text: str) -> tuple[str, str]:
        problem = only(text)
        plain = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
        line = plain.split("\n")[problem.line - 1]
        return line[problem.column - 1 :], f"{problem.message} {problem.fix}".strip()

    return found
