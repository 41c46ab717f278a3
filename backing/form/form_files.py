"""Forms' files: each is read, or gives the error why it can't be, so that the others go on."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from backing.errors import BackingError, naming
from backing.form.model import Form
from backing.form.reader import read_form_bytes
from backing.form.source import read_data


class FormFile(NamedTuple):
    """A form's file: its path as the user gave it, its bytes, and the form or the error."""

    path: str
    data: bytes = b""
    form: Form | None = None
    error: BackingError | None = None


def read_file(path: str | Path) -> FormFile:
    """Read one form's file; raises nothing that the user can fix."""
    name = str(path)
    try:
        with naming(name, "can't be read"):
            data = read_data(name)
            return FormFile(name, data, read_form_bytes(data, name))
    except BackingError as error:
        return FormFile(name, error=error)


def split(files: Iterable[FormFile]) -> tuple[list[tuple[str, Form]], list[BackingError]]:
    """The forms that could be read, each with its path, and the errors of the others."""
    files = list(files)
    forms = [(file.path, file.form) for file in files if file.form is not None]
    return forms, [file.error for file in files if file.error is not None]
