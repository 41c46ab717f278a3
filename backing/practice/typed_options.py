"""Practice options as a command line gives them: texts that become versions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from backing.errors import BackingError
from backing.form.kinds import BadValue, sentence
from backing.form.model import Form
from backing.form.practice_options import (
    BY_KEY,
    ON_COMMAND_LINE,
    OPTIONS,
    conflict,
    exercise_of,
)
from backing.form.practice_records import Exercise
from backing.practice.versions import Version, as_error, check, versions_of


def versions(typed: Mapping[str, str | bool | None]) -> tuple[Version, ...]:
    """The versions that options ask for: one for each speed, or one for a ladder.

    Args:
        typed: the text of each option by its key, True for one without a value; None and False
            are options that were not given.

    Raises:
        BackingError: a text can't be read, or two options don't go together.
    """
    found = tuple(versions_of(read_options(typed)))
    for version in found:
        check(version, ON_COMMAND_LINE, students="")
    return found


def check_with(form: Form, versions: Iterable[Version]) -> None:
    """Check what depends on the part that the student of a form plays.

    Raises:
        BackingError: options don't go together in this form.
    """
    for version in versions:
        check(version, ON_COMMAND_LINE, form.instrument.part)


def read_options(typed: Mapping[str, str | bool | None]) -> Exercise:
    """Options as an exercise has them; arguments and errors as for `versions`."""
    given = {}
    for option in OPTIONS:
        text = typed.get(option.key)
        if text is None or text is False:
            continue
        try:
            given[option.key] = text if text is True else option.value.read(text)
        except BadValue as bad:
            raise as_error(bad, ON_COMMAND_LINE.name(option.key)) from None
    unknown = typed.keys() - BY_KEY.keys()
    assert not unknown, unknown
    found = conflict(given, ON_COMMAND_LINE, students="")
    if found is not None:
        raise BackingError(f"{found.message} {sentence(found.advice)}")
    return exercise_of(given)
