"""A song's form in, a proven backing track out.

The public names are loaded when first asked for, so that the command line starts fast:

    form = backing.read_form("song.yaml")
    data = backing.midi_of(form)
    report = backing.verify_bytes(form, data)
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.errors import BackingError, DisagreementError, FormError

if TYPE_CHECKING:
    from backing.form import Form, read_form, read_form_text
    from backing.midi.writer import to_bytes
    from backing.players import play
    from backing.score import Note, Score, Track
    from backing.timeline import Timeline, unroll
    from backing.tracks.forms import build
    from backing.tracks.one import Built, midi_of
    from backing.verify import Expected, Report, expect, verify_bytes, verify_file

__version__ = "0.1.0"

_HOMES = {
    "Built": "backing.tracks.one",
    "Expected": "backing.verify",
    "Form": "backing.form",
    "Note": "backing.score",
    "Report": "backing.verify",
    "Score": "backing.score",
    "Timeline": "backing.timeline",
    "Track": "backing.score",
    "build": "backing.tracks.forms",
    "expect": "backing.verify",
    "midi_of": "backing.tracks.one",
    "play": "backing.players",
    "read_form": "backing.form",
    "read_form_text": "backing.form",
    "to_bytes": "backing.midi.writer",
    "unroll": "backing.timeline",
    "verify_bytes": "backing.verify",
    "verify_file": "backing.verify",
}

__all__ = [
    "BackingError",
    "Built",
    "DisagreementError",
    "Expected",
    "Form",
    "FormError",
    "Note",
    "Report",
    "Score",
    "Timeline",
    "Track",
    "__version__",
    "build",
    "expect",
    "midi_of",
    "play",
    "read_form",
    "read_form_text",
    "to_bytes",
    "unroll",
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
