"""A form with the arrangement of a version."""

from __future__ import annotations

from backing.errors import BackingError
from backing.form.advice import suggestion
from backing.form.arrangements import arranged, riff_problems
from backing.form.kinds import quoted
from backing.form.model import Form
from backing.practice.stretch import bars_of
from backing.practice.versions import Version
from backing.timeline import unroll


def arranged_for(form: Form, version: Version) -> Form:
    """A form with a version's arrangement, if it has one, played throughout.

    Raises:
        BackingError: the form has no such arrangement, or one of its riffs doesn't fit bars that
            the version plays.
    """
    if not version.arrangement:
        return form
    check_arrangement(form, version.arrangement)
    timeline = unroll(form, count_in=False)
    first, last = bars_of(timeline, version.stretch)
    played = {bar.playing.entry for bar in timeline.bars[first - 1 : last]}
    for entry, problem in riff_problems(form, version.arrangement):
        if entry in played:
            raise BackingError(f"{form.title}: {problem.message} {problem.fix}")
    return arranged(form, version.arrangement)


def check_arrangement(form: Form, name: str) -> None:
    """Refuse an arrangement that a form doesn't have.

    Raises:
        BackingError: with the arrangement that was probably meant.
    """
    if name not in form.arrangements:
        fix = suggestion(name, form.arrangements) or "Write it under arrangements first."
        raise BackingError(f"{form.title}: there is no arrangement {quoted(name)}. {fix}")
