"""The teacher's notes on exercises, each with the exercise that it is about."""

from __future__ import annotations

from collections.abc import Iterator

from backing.form.model import Form
from backing.form.practice_records import Exercise
from backing.practice.versions import AS_WRITTEN, describe, versions_of
from backing.text.percent import percent
from backing.theory.instruments import Instrument


def exercise_notes(form: Form) -> Iterator[str]:
    """Each note in a form's practice list: `Chorus, loop 8: thumb on the low strings`."""
    for exercise in form.practice.exercises:
        if exercise.note:
            yield f"{_called(exercise, form.instrument)}: {exercise.note}"


def _called(exercise: Exercise, instrument: Instrument) -> str:
    first = next(versions_of(exercise))
    words = [] if first.stretch else ["whole song"]
    if exercise.ladder is None:
        words += filter(None, [describe(first._replace(speeds=AS_WRITTEN), instrument)])
        words += map(percent, exercise.speeds)
    else:
        words.append(describe(first, instrument))
    text = ", ".join(words)
    return text[0].upper() + text[1:]
