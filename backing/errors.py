"""The one family of errors: each carries the exit code that the command line ends with.

An error can be pickled, so a child process can hand it to its parent unchanged.
"""

from __future__ import annotations

import errno
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from os import PathLike
from typing import Any, NamedTuple

from backing.system.shortages import BY_ERRNO, Shortage, shortage_of
from backing.text.lists import printable_lines
from backing.text.printable import printable
from backing.text.width import width


class BackingError(Exception):
    """Something that the user can fix, in one sentence; the command exits with 2.

    The text holds names as they are; whoever prints it makes it printable.
    """

    exit_code = 2

    @property
    def printed(self) -> tuple[str, ...]:
        """The lines to print, each printable."""
        return tuple(printable_lines(str(self)).split("\n"))

    def with_text(self, old: str, new: str) -> BackingError:
        """The same kind of error, with `old` replaced by `new` in its text."""
        return type(self)(str(self).replace(old, new))


class DisagreementError(BackingError):
    """A file doesn't match its form; the command exits with 1."""

    exit_code = 1


class ShortageError(BackingError):
    """The computer has run out of something: memory, space on the disk, open files, processes.

    Args:
        shortage: what there is too little of.
        name: the file that can't be made or read; "" until that is known (see `naming`).
        what: what can't be done with the file, as a clause.
    """

    def __init__(self, shortage: Shortage, name: str = "", what: str = "can't be made") -> None:
        self.shortage, self.name, self.what = shortage, name, what
        head = f"{name}: {what}: " if name else ""
        text = f"{head}{shortage.reason}. {shortage.advice}"
        super().__init__(text if name else f"{text[:1].upper()}{text[1:]}")

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.shortage, self.name, self.what)

    def with_text(self, old: str, new: str) -> ShortageError:
        """The same error, with `old` replaced by `new` in the file's name."""
        return type(self)(self.shortage, self.name.replace(old, new), self.what)


class Problem(NamedTuple):
    """One thing wrong in a form: where (lines and columns count from 1), what, and the fix."""

    line: int
    column: int
    message: str
    fix: str = ""


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

    def __reduce__(self) -> tuple[Any, ...]:
        return type(self), (self.name, self.problems, tuple(self.lines), self.rest)

    def with_text(self, old: str, new: str) -> FormError:
        """The same error, with `old` replaced by `new` in the file's name."""
        return type(self)(self.name.replace(old, new), self.problems, self.lines, self.rest)

    @property
    def printed(self) -> tuple[str, ...]:
        """The lines to print; `render` made them printable."""
        return tuple(str(self).split("\n"))

    def render(self) -> str:
        """Every problem with its line and a caret under the place."""
        shown = [self._render_one(problem) for problem in self.problems]
        return "\n".join([*shown, self.rest] if self.rest else shown)

    def _render_one(self, problem: Problem) -> str:
        fix = f" {problem.fix}" if problem.fix else ""
        head = f"{printable(self.name)}:{problem.line}:{problem.column}: {problem.message}{fix}"
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
    return problem._replace(
        message=printable_lines(problem.message), fix=printable_lines(problem.fix)
    )


#: Plain words for what the system reports, as clauses. What isn't here keeps the system's words.
_REASONS = {
    errno.ENOENT: "there is no such file or folder",
    errno.EISDIR: "this is a folder, not a file",
    errno.ENOTDIR: "part of this path is a file, not a folder",
    errno.EACCES: "you don't have permission",
    errno.EPERM: "you don't have permission",
    errno.EEXIST: "there is already a file with this name",
    errno.ENAMETOOLONG: "the name is too long",
    errno.ELOOP: "its links lead in a circle",
    errno.ENXIO: "this is not an ordinary file",
}


def reason(error: OSError) -> str:
    """Why the system refused something, as a plain clause without a period."""
    if found := BY_ERRNO.get(error.errno or 0):
        return found.reason
    return _REASONS.get(error.errno or 0) or str(error.strerror or error).rstrip(".")


def read_error(path: str | PathLike[str], error: OSError, advice: str = "") -> BackingError:
    """The error for a file that the system doesn't let us read; `advice` is a sentence."""
    found = shortage_of(error)
    if found is not None and not found.of_disk:
        return ShortageError(found, str(path), "can't be read")
    if error.errno == errno.ENOENT:
        what = "there is no such file."
    elif error.errno == errno.EISDIR:
        what = f"{reason(error)}."
    else:
        what = f"can't be read: {reason(error)}."
    return BackingError(f"{path}: {what} {advice}".rstrip())


def write_error(path: str | PathLike[str], error: OSError) -> BackingError:
    """The error for a file or folder that the system doesn't let us write."""
    if found := shortage_of(error):
        return ShortageError(found, str(path), "can't be written")
    return BackingError(f"{path}: can't be written: {reason(error)}.")


def raise_shortage(error: BaseException) -> None:
    """Raise a ShortageError, without a file's name, if a shortage is behind an error."""
    if found := shortage_of(error):
        raise ShortageError(found) from None


@contextmanager
def naming(path: str | PathLike[str], what: str = "can't be made") -> Iterator[None]:
    """Turn every shortage into a ShortageError that names `path`; one that has a name keeps it.

    Args:
        path: the file that is being made or read.
        what: what can't be done with it, as a clause.
    """
    try:
        yield
    except ShortageError as error:
        if error.name:
            raise
        raise ShortageError(error.shortage, str(path), what) from None
    except BackingError:
        raise
    except Exception as error:
        if found := shortage_of(error):
            raise ShortageError(found, str(path), what) from None
        raise
