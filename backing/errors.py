"""The one family of errors: each carries the exit code that the command line ends with."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from backing.text.width import width


class BackingError(Exception):
    """Something a user can mend, said in one sentence; the command exits with 2."""

    exit_code = 2


class DisagreementError(BackingError):
    """A file is not what its form says; the command exits with 1."""

    exit_code = 1


class Problem(NamedTuple):
    """One thing wrong in a form: where (lines and columns count from 1), what, and the mend."""

    line: int
    column: int
    message: str
    mend: str = ""


class FormError(BackingError):
    """All that is wrong with one form, printed as file:line:column with the line and a caret.

    Args:
        name: the file's name as the user gave it.
        problems: at least one, in any order; they are kept in the order of their places.
        lines: the form's lines, for showing.
        rest: a sentence that ends the list where not all that is wrong is in it.
    """

    def __init__(
        self, name: str, problems: Sequence[Problem], lines: Sequence[str] = (), rest: str = ""
    ) -> None:
        self.name = name
        self.problems = tuple(sorted(map(_printable, problems), key=lambda p: (p.line, p.column)))
        self.lines = lines
        self.rest = rest
        super().__init__(self.render())

    def render(self) -> str:
        """Every problem with its line and a caret under the place."""
        shown = [self._render_one(problem) for problem in self.problems]
        return "\n".join([*shown, self.rest] if self.rest else shown)

    def _render_one(self, problem: Problem) -> str:
        mend = f" {problem.mend}" if problem.mend else ""
        head = f"{printable(self.name)}:{problem.line}:{problem.column}: {problem.message}{mend}"
        if not 1 <= problem.line <= len(self.lines):
            return head
        shown, before = _window(self.lines[problem.line - 1], problem.column - 1)
        return f"{head}\n    {shown}\n    {' ' * width(before)}^"


def _window(line: str, at: int, width: int = 96) -> tuple[str, str]:
    """The part of a line around a place, made safe to print, and what of it stands before."""
    start = max(0, min(at, len(line)) - width // 2) if len(line) > width else 0
    shown = line[start : start + width]
    safe = printable(shown.replace("\t", " "))
    return safe, safe[: max(0, at - start)]


def _printable(problem: Problem) -> Problem:
    return problem._replace(message=printable(problem.message), mend=printable(problem.mend))


def printable(text: str) -> str:
    """A text on one line, in which nothing moves a terminal's cursor or turns the writing."""
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)
