"""Riffs that go along when a form is moved: up or down the neck, by octaves where it ends.

A guitar's riffs move with its shapes. The bass has no capo, so its riffs move as far as the
song sounds higher.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace

from backing.errors import BackingError
from backing.form.model import Form, PartSettings, PassSettings, Settings
from backing.form.tab import Riff
from backing.form.tab_cells import fixed_by, span
from backing.players.part_settings import settings_of
from backing.players.riff import written
from backing.practice.frets import shifted
from backing.theory.fretboard import Neck
from backing.timeline import unroll

BASS = "bass"


def moved_riffs(
    form: Form, parts: Sequence[str], up: int
) -> tuple[dict[Riff, Riff], tuple[str, ...]]:
    """Every riff that these parts play with itself `up` frets higher, and notes on them.

    Raises:
        BackingError: the neck has no room for one.
    """
    lines: dict[Riff, set[int]] = {}
    for playing in {id(bar.playing): bar.playing for bar in unroll(form, False).played}.values():
        for part in parts:
            riff = written(form, settings_of(part, on=True), playing)
            if riff is not None:
                lines.setdefault(riff, {0}).add(playing.transpose)
    neck = form.neck_of(parts[0])
    names = {riff: f"riff {name!r}" for name, riff in form.riffs.items()}
    found, notes = {}, []
    for riff, transposes in lines.items():
        name = names.get(riff, "a riff")
        fixed = fixed_by(riff, neck)
        frets = _fitting(riff, transposes, up, neck)
        if frets is None and fixed:
            advice = "" if BASS in parts else " With keep-shapes the capo moves instead."
            raise BackingError(
                f"{form.title}: {name} has {fixed}, which can't be moved along the neck.{advice}"
            )
        if frets is None:
            raise BackingError(
                f"{form.title}: there is no room on the neck for {name} {_in_words(up)}."
            )
        found[riff] = shifted(riff, frets)
        how = f"{_in_words(up)}."
        if frets != up:
            octaves = "an octave higher" if frets > up else "an octave lower"
            how = f"{octaves}, where the neck has room."
        notes.append(f"{name[0].upper()}{name[1:]} is played {how}")
    return found, tuple(notes)


def _fitting(riff: Riff, transposes: AbstractSet[int], up: int, neck: Neck) -> int | None:
    """How many frets a riff moves: `up`, or by octaves from there; None where nothing fits.

    Each line, which plays it so many frets from where it is written, must have room.
    """
    low, high = span(riff)
    lowest, highest = low + min(transposes), high + max(transposes)
    fixed = fixed_by(riff, neck)
    way = up % 12 if up % 12 <= 6 else up % 12 - 12
    for frets in dict.fromkeys((up, way, way + 12, way - 12)):
        if frets and fixed:
            continue
        if lowest + frets >= 0 and highest + frets <= neck.frets:
            return frets
    return None


def _in_words(up: int) -> str:
    return f"{abs(up)} fret{'s' * (abs(up) != 1)} {'higher' if up > 0 else 'lower'}"


def with_bass_moved(form: Form, up: int) -> tuple[Form, tuple[str, ...]]:
    """A form whose bass plays its riffs `up` frets higher, written in place; and notes on them."""
    riffs, notes = moved_riffs(form, (BASS,), up) if up else ({}, ())
    if not riffs:
        return form, ()

    def change(part: PartSettings) -> PartSettings:
        riff = form.riffs.get(part.riff) if isinstance(part.riff, str) else part.riff
        return part if riff is None else part.having(riff=riffs.get(riff, riff))

    return _with_part(form, BASS, change), notes


def _with_part(form: Form, name: str, change: Callable[[PartSettings], PartSettings]) -> Form:
    """A form with one part changed wherever something is set for it."""

    def of_parts(parts: Mapping[str, PartSettings]) -> Mapping[str, PartSettings]:
        return {**parts, name: change(parts[name])} if name in parts else parts

    def of_settings(settings: Settings) -> Settings:
        arranged = settings.arrangement
        return settings._replace(
            parts=of_parts(settings.parts),
            arrangement=arranged and arranged._replace(parts=of_parts(arranged.parts)),
        )

    def of_passes(passes: Mapping[int, PassSettings]) -> dict[int, PassSettings]:
        return {
            number: own._replace(settings=of_settings(own.settings))
            for number, own in passes.items()
        }

    return form._replace(
        settings=of_settings(form.settings),
        pickup_parts=of_parts(form.pickup_parts),
        sections={
            key: replace(
                section,
                settings=of_settings(section.settings),
                on_pass=of_passes(section.on_pass),
            )
            for key, section in form.sections.items()
        },
        entries=tuple(
            entry._replace(settings=of_settings(entry.settings), on_pass=of_passes(entry.on_pass))
            for entry in form.entries
        ),
    )
