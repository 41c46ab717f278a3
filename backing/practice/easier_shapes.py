"""A form with the easiest shape of every chord that is played, for a beginner."""

from __future__ import annotations

from backing.form.model import Form
from backing.theory.chords import Chord
from backing.theory.easier import easier, strain
from backing.theory.fingerings import voiced
from backing.theory.fretboard import Fingering
from backing.timeline import unroll


def easier_form(form: Form) -> tuple[Form, tuple[str, ...]]:
    """A form whose `shapes` hold the easiest shape of each chord, and what was done.

    A shape of the writer's own stays where it is no harder to hold; else it gives way too.
    A chord that would be played no otherwise is not spoken of. One sentence a chord, in the
    order in which they first come.
    """
    chords = played_chords(form)
    usual = dict(zip(map(str, chords), voiced(chords, form.tuning, form.shapes), strict=True))
    shapes = dict(form.shapes)
    sayings = []
    for symbol, chord in {str(chord): chord for chord in chords}.items():
        shape, left_out = easier(chord, form.tuning)
        own = form.shapes.get(symbol)
        if own is not None and strain(own) <= strain(shape):
            if own.frets != shape.frets:
                sayings.append(f"{symbol}: your {own} stays, as it is no harder than {shape}.")
            continue
        shapes[symbol] = shape
        if shape.frets != usual[symbol].frets:
            sayings.append(_said(symbol, shape, left_out, own or usual[symbol], own is not None))
    return form._replace(shapes=shapes), tuple(sayings)


def played_chords(form: Form) -> tuple[Chord, ...]:
    """Every chord of the song as it is written, in playing order; N.C. is none."""
    spans = unroll(form, count_in=False).spans
    return tuple(span.chord for span in spans if span.chord is not None)


def _said(symbol: str, shape: Fingering, left_out: str, before: Fingering, own: bool) -> str:
    instead = f"in place of {'your ' if own else ''}{before}"
    return f"{symbol}: {shape} {instead}{f' ({left_out})' if left_out else ''}."
