"""A form with one of its arrangements, a named set of part settings, played throughout."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from backing.form.model import (
    ONE_OF_THESE,
    Arrangement,
    Form,
    PartSettings,
    PassSettings,
    Settings,
    laid_over,
)
from backing.form.riffs import RiffCheck, RiffProblem


def arranged(form: Form, name: str) -> Form:
    """A form in which an arrangement overrides all other part settings, key by key.

    Args:
        form: as read.
        name: one of its `arrangements`.
    """
    nearest = form.arrangements[name]
    sections = {
        called: replace(
            section,
            settings=_over(section.settings, nearest),
            on_pass=_passes(section.on_pass, nearest),
        )
        for called, section in form.sections.items()
    }
    entries = tuple(
        entry._replace(
            settings=_over(entry.settings, nearest), on_pass=_passes(entry.on_pass, nearest)
        )
        for entry in form.entries
    )
    song = _over(form.settings, nearest)._replace(arrangement=nearest)  # its name, for the chart
    pickup = {
        part: own
        for part, own in form.pickup_parts.items()
        if part not in nearest.parts or _leaves_riffs(nearest.parts[part])
    }
    return form._replace(settings=song, pickup_parts=pickup, sections=sections, entries=entries)


def riff_problems(form: Form, name: str) -> Iterator[tuple[int, RiffProblem]]:
    """Where an arrangement's riffs don't fit: the index of each such line, and the problem."""
    found = arranged(form, name)
    check = RiffCheck(found.riffs, found.settings, found.neck_of)
    for index, entry in enumerate(found.entries):
        for problem in check.problems(entry, found.sections[entry.section]):
            yield index, problem


def _leaves_riffs(part: PartSettings) -> bool:
    """Whether a part goes on playing riffs; other riffs leave that of the pickup alone."""
    return part.on is not False and not set(part.values) & {*ONE_OF_THESE} - {"riff"}


def _passes(on_pass: Mapping[int, PassSettings], nearest: Arrangement) -> dict[int, PassSettings]:
    return {
        number: own._replace(settings=_over(own.settings, nearest))
        for number, own in on_pass.items()
    }


def _over(settings: Settings, nearest: Arrangement) -> Settings:
    parts = settings.arranged_parts
    if not parts and settings.arrangement is None:
        return settings
    return settings._replace(parts=laid_over(parts, nearest.parts), arrangement=None)
