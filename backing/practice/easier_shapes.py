"""A form with the easiest shape of every chord that is played, for beginners."""

from __future__ import annotations

from backing.form.model import Form
from backing.theory.chords import Chord
from backing.theory.easier import easier, strain
from backing.theory.fingerings import voiced
from backing.theory.fretboard import Fingering
from backing.timeline import unroll


def easier_form(form: Form) -> tuple[Form, tuple[str, ...]]:
    """A form whose `shapes` hold the easiest shape of each chord, and a note on each change.

    A shape that the writer gave stays if it is no harder to hold. A chord whose shape doesn't
    change has no note. Notes are in the order in which the chords first come.
    """
    chords = played_chords(form)
    held = voiced(chords, form.tuning, form.shapes, form.voicing)
    usual = dict(zip(map(str, chords), held, strict=True))
    shapes = dict(form.shapes)
    notes = []
    for symbol, chord in {str(chord): chord for chord in chords}.items():
        shape, left_out = easier(chord, form.tuning)
        own = form.shapes.get(symbol)
        if own is not None and strain(own) <= strain(shape):
            if own.frets != shape.frets:
                notes.append(f"{symbol}: your {own} stays, as it is no harder than {shape}.")
            continue
        shapes[symbol] = shape
        if shape.frets != usual[symbol].frets:
            notes.append(_note(symbol, shape, left_out, own or usual[symbol], own is not None))
    return form._replace(shapes=shapes), tuple(notes)


def played_chords(form: Form) -> tuple[Chord, ...]:
    """Every chord of the song as it is written, in playing order, without N.C."""
    spans = unroll(form, count_in=False).spans
    return tuple(span.chord for span in spans if span.chord is not None)


def _note(symbol: str, shape: Fingering, left_out: str, before: Fingering, own: bool) -> str:
    instead = f"in place of {'your ' if own else ''}{before}"
    return f"{symbol}: {shape} {instead}{f' ({left_out})' if left_out else ''}."
