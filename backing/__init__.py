"""A song's form in, a proven backing track out.

Everything a script needs is a name of this package:

    >>> import backing
    >>> form = backing.read_form("song.yaml")
    >>> data = backing.midi_of(form)
    >>> backing.verify_bytes(form, data).agrees
    True

`midi_of` is four steps, each of which can be taken alone. `humanize` is the one that makes
exact notes sound played, so without it the bytes differ:

    >>> timeline = backing.unroll(form)
    >>> exact = backing.play(timeline)
    >>> score = backing.humanize(exact, form.human)
    >>> backing.to_bytes(score) == data
    True
    >>> backing.to_bytes(exact) == data
    False

A practice version is played and proven alike:

    >>> from fractions import Fraction
    >>> slow = backing.Version(speeds=(Fraction(75, 100),), without=frozenset({"guitar"}))
    >>> played = backing.play_version(form, slow)
    >>> backing.verify_bytes(form, backing.to_bytes(played.score), version=slow).agrees
    True

Files are written in one call, which proves each before it gets its name:

    >>> built, errors = backing.build(["song.yaml"], "lesson", versions=[slow])
    >>> [str(one.path.as_posix()) for one in built], errors
    (['lesson/Two Gates - 75%, without guitar.mid'], [])

Positions are exact fractions of a whole note and times exact seconds, both from the start of
the file, count-in included. Tempos are quarter notes a minute. A name loads its module when it
is first used, so importing the package is quick.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.errors import BackingError, DisagreementError, FormError
from backing.system.version import VERSION

if TYPE_CHECKING:
    from backing.audio.sound_files import AudioOptions, render_audio
    from backing.chart import draw_chart
    from backing.chart.records import ChartOptions
    from backing.form import Form, read_form, read_form_text
    from backing.midi.writer import to_bytes
    from backing.page import make_page
    from backing.players import play
    from backing.players.human import humanize
    from backing.practice import Stretch, Version, play_version
    from backing.score import Note, Score, Track
    from backing.timeline import Timeline, unroll
    from backing.tracks.forms import build
    from backing.tracks.one import Built, midi_of
    from backing.verify import Expected, Report, expect, verify_bytes, verify_file
    from backing.verify.sound.audio import AudioReport, verify_audio

__version__ = VERSION

#: The module that defines each name which is loaded when it is first used.
_HOMES = {
    "AudioOptions": "backing.audio.sound_files",
    "AudioReport": "backing.verify.sound.audio",
    "Built": "backing.tracks.one",
    "ChartOptions": "backing.chart.records",
    "Expected": "backing.verify",
    "Form": "backing.form",
    "Note": "backing.score",
    "Report": "backing.verify",
    "Score": "backing.score",
    "Stretch": "backing.practice",
    "Timeline": "backing.timeline",
    "Track": "backing.score",
    "Version": "backing.practice",
    "build": "backing.tracks.forms",
    "draw_chart": "backing.chart",
    "expect": "backing.verify",
    "humanize": "backing.players.human",
    "make_page": "backing.page",
    "midi_of": "backing.tracks.one",
    "play": "backing.players",
    "play_version": "backing.practice",
    "read_form": "backing.form",
    "read_form_text": "backing.form",
    "render_audio": "backing.audio.sound_files",
    "to_bytes": "backing.midi.writer",
    "unroll": "backing.timeline",
    "verify_audio": "backing.verify.sound.audio",
    "verify_bytes": "backing.verify",
    "verify_file": "backing.verify",
}

__all__ = [
    "AudioOptions",
    "AudioReport",
    "BackingError",
    "Built",
    "ChartOptions",
    "DisagreementError",
    "Expected",
    "Form",
    "FormError",
    "Note",
    "Report",
    "Score",
    "Stretch",
    "Timeline",
    "Track",
    "Version",
    "__version__",
    "build",
    "draw_chart",
    "expect",
    "humanize",
    "make_page",
    "midi_of",
    "play",
    "play_version",
    "read_form",
    "read_form_text",
    "render_audio",
    "to_bytes",
    "unroll",
    "verify_audio",
    "verify_bytes",
    "verify_file",
]


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module 'backing' has no attribute {name!r}")
    from importlib import import_module

    value = getattr(import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
