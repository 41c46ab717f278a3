"""Riffs that go along when a form is moved: up or down the neck, by octaves where it ends.

A guitar's riffs move with its shapes. The bass has no capo, so its riffs move as far as the
song sounds higher.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from backing.errors import BackingError
from backing.form.model import Form, PartSettings, PassSettings, Settings
from backing.form.tab import HIGHEST_FRET, Riff
from backing.players.part_settings import settings_of
from backing.players.riff import written
from backing.practice.frets import has_harmonics, shifted, span
from backing.timeline import unroll

BASS = "bass"


def moved_riffs(
    form: Form, parts: Sequence[str], up: int
) -> tuple[dict[Riff, Riff], tuple[str, ...]]:
    """Every riff that these parts play with itself `up` frets higher, and notes on them.

    Raises:
        BackingError: the neck has no room for one.
    """
    lows: dict[Riff, int] = {}
    for playing in {id(bar.playing): bar.playing for bar in unroll(form, False).played}.values():
        for part in parts:
            riff = written(form, settings_of(part, on=True), playing)
            if riff is not None:
                lows[riff] = min(lows.get(riff, 0), playing.transpose)
    is_students = (BASS in parts) == form.instrument.is_bass
    last = form.instrument.frets if is_students else HIGHEST_FRET
    names = {riff: f"riff {name!r}" for name, riff in form.riffs.items()}
    found, notes = {}, []
    for riff, low in lows.items():
        name = names.get(riff, "a riff")
        frets = _fitting(riff, low, up, last)
        if frets is None and has_harmonics(riff):
            raise BackingError(
                f"{form.title}: {name} has natural harmonics, which can't be moved along the neck. "
                "With keep-shapes the capo moves instead."
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


def _fitting(riff: Riff, low: int, up: int, last: int) -> int | None:
    """How many frets a riff moves: `up`, or by octaves from there; None where nothing fits.

    A line that plays it `low` frets away must have room as well.
    """
    lowest, highest = span(riff)
    way = up % 12 if up % 12 <= 6 else up % 12 - 12
    for frets in dict.fromkeys((up, way, way + 12, way - 12)):
        if has_harmonics(riff) and frets:
            continue
        if lowest + min(low, 0) + frets >= 0 and highest + frets <= last:
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
