"""What the system reports is put in plain words, in one place, for reading and for writing."""

from __future__ import annotations

import errno
import os
import re
from pathlib import Path

import pytest

import backing
from backing.errors import read_error, reason, write_error


def failed(number: int) -> OSError:
    return OSError(number, os.strerror(number))


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOENT, "there is no such file or folder"),
        (errno.EISDIR, "this is a folder, not a file"),
        (errno.EACCES, "you don't have permission"),
        (errno.ENOSPC, "the disk is full"),
        (errno.ENAMETOOLONG, "the name is too long"),
        (errno.EROFS, "this disk is read-only"),
    ],
)
def test_common_reasons_have_plain_words(number: int, words: str) -> None:
    assert reason(failed(number)) == words
    assert str(write_error("a.mid", failed(number))).startswith(
        f"a.mid: can't be written: {words}."
    )


def test_other_reasons_keep_the_systems_words() -> None:
    assert reason(failed(errno.EXDEV)) == os.strerror(errno.EXDEV)
    assert reason(OSError("the tape is torn.")) == "the tape is torn"


@pytest.mark.parametrize(
    ("number", "sentence"),
    [
        (errno.ENOENT, "there is no such file."),
        (errno.EISDIR, "this is a folder, not a file."),
        (errno.EACCES, "can't be read: you don't have permission."),
    ],
)
def test_what_cannot_be_read_is_one_sentence_and_advice(number: int, sentence: str) -> None:
    assert str(read_error("a.yaml", failed(number))) == f"a.yaml: {sentence}"
    assert str(read_error("a", failed(number), "Give a form.")) == f"a: {sentence} Give a form."


def test_a_name_that_cannot_be_printed_stays_on_one_line() -> None:
    assert read_error("a\nb.yaml", failed(errno.ENOENT)).printed == (
        "a\N{REPLACEMENT CHARACTER}b.yaml: there is no such file.",
    )


def test_only_that_place_uses_the_systems_words() -> None:
    package = Path(backing.__file__).parent
    using = {
        path.relative_to(package).as_posix()
        for path in package.rglob("*.py")
        if re.search(r"\bstrerror\b", path.read_text("utf-8"))
    }
    assert using == {"errors.py"}
