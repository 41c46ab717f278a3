"""A form moved to another key, or to another capo with other shapes that sound the same.

The writer's own shapes stay with their chord symbols. Riffs move along the neck with the
chords, an octave higher or lower where the neck ends.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import NamedTuple

from backing.errors import BackingError
from backing.form.model import (
    Arrangement,
    Form,
    PartSettings,
    PassSettings,
    Rows,
    Section,
    Settings,
)
from backing.form.parts import GUITARS
from backing.form.tab import Riff
from backing.form.transposed import renamed
from backing.practice.moved_riffs import BASS, moved_riffs, with_bass_moved
from backing.practice.versions import Version
from backing.theory.chords import Chord
from backing.theory.keys import Key

#: The highest capo that keeps shapes: beyond it the frets are too narrow (common practice).
HIGHEST_CAPO = 7

Rename = Callable[["Chord | None"], "Chord | None"]


class _Move(NamedTuple):
    """How a form is moved: its new capo, how many semitones its chords go up, their new key."""

    capo: int
    up: int
    key: Key | None


def moved(form: Form, version: Version) -> tuple[Form, tuple[str, ...]]:
    """A form moved as a version says, with its easiest shapes where it says so; and notes.

    Raises:
        BackingError: the form has no key to move from, or one of the other mode; no capo
            reaches the key; or a riff doesn't fit on the neck.
    """
    notes: tuple[str, ...] = ()
    if version.key is not None or version.transpose or version.capo is not None:
        form, notes = _keyed(form, version)
    if version.easier:
        from backing.practice.easier_shapes import easier_form

        form, more = easier_form(form)
        notes += more
    return form, notes


def _keyed(form: Form, version: Version) -> tuple[Form, tuple[str, ...]]:
    up = _up(form, version)
    capo = (form.capo + up) % 12
    if version.keep_shapes:
        if capo > HIGHEST_CAPO:
            raise BackingError(
                f"{form.title}: the same shapes would need capo {capo}, and {HIGHEST_CAPO} is the "
                "highest. Without keep-shapes the chords are renamed."
            )
        kept = form._replace(capo=capo)
        kept, bass = with_bass_moved(kept, up)
        return kept, (f"{_sounds(kept)}the same shapes, {_with(capo)}{_before(form)}.", *bass)
    stays = form.capo if version.capo is None else version.capo
    by = up + form.capo - stays
    key = form.key and form.key.transposed(by)
    if version.key is not None and not stays:
        key = version.key
    found, bass = with_bass_moved(form, up)
    found, riffs = _renamed(found, _Move(stays, by, key))
    note = f"{_sounds(found)}the shapes {f'of {found.key}' if found.key else 'moved'}, "
    if version.capo is None:
        note += f"{_with(stays)} as before."
    else:
        note += f"{_with(stays)}{_before(form)}."
    offers: tuple[str, ...] = ()
    if version.capo is None and by % 12 and capo <= HIGHEST_CAPO:
        offers = (f"With --keep-shapes the chords stay as they are written, {_with(capo)}.",)
    return found, (note, *riffs, *bass, *offers)


def _up(form: Form, version: Version) -> int:
    """How many semitones higher it sounds, the shorter way where a key is named."""
    if version.key is None:
        return version.transpose
    if form.key is None:
        raise BackingError(f"{form.title}: the song has no key. Use transpose to move it.")
    sounding = form.key.transposed(form.capo)
    if version.key.minor != form.key.minor:
        kind = "minor" if form.key.minor else "major"
        away = version.key.tonic.pitch_class - form.key.tonic.pitch_class
        meant = form.key.transposed(away % 12)
        raise BackingError(
            f"{form.title}: the song sounds in {sounding}, a {kind} key. Write {meant}."
        )
    up = (version.key.tonic.pitch_class - sounding.tonic.pitch_class) % 12
    return up - 12 if up > 6 else up


def _sounds(form: Form) -> str:
    return f"Sounds in {form.key.transposed(form.capo)}: " if form.key else ""


def _with(capo: int) -> str:
    return f"with capo {capo}" if capo else "without a capo"


def _before(form: Form) -> str:
    return f" (as written: {f'capo {form.capo}' if form.capo else 'none'})"


def _renamed(form: Form, move: _Move) -> tuple[Form, tuple[str, ...]]:
    """A form with its chords renamed and its riffs shifted, and notes on the riffs."""
    if not move.up and move.key == form.key:
        return form._replace(capo=move.capo), ()
    known: dict[Chord | None, Chord | None] = {None: None}

    def rename(chord: Chord | None) -> Chord | None:
        if chord not in known:
            assert chord is not None
            if form.key is not None and move.key is not None:
                known[chord] = chord.moved(form.key, move.key)
            else:
                known[chord] = renamed(chord, move.up, None)
        return known[chord]

    riffs, notes = _riffs(form, move.up)
    found = form._replace(
        key=move.key,
        capo=move.capo,
        pickup=form.pickup
        and form.pickup._replace(
            cells=tuple(cell._replace(chord=rename(cell.chord)) for cell in form.pickup.cells)
        ),
        pickup_parts=_parts(form.pickup_parts, riffs),
        settings=_settings(form.settings, riffs),
        sections={
            name: _section(section, rename, riffs) for name, section in form.sections.items()
        },
        entries=tuple(
            entry._replace(
                settings=_settings(entry.settings, riffs),
                on_pass=_on_pass(entry.on_pass, rename, riffs),
            )
            for entry in form.entries
        ),
        riffs={name: riffs.get(riff, riff) for name, riff in form.riffs.items()},
        arrangements={
            name: _arrangement(arrangement, riffs)
            for name, arrangement in form.arrangements.items()
        },
    )
    return found, notes


def _section(section: Section, rename: Rename, riffs: Mapping[Riff, Riff]) -> Section:
    return replace(
        section,
        rows=_rows(section.rows, rename),
        endings={number: _rows(rows, rename) for number, rows in section.endings.items()},
        settings=_settings(section.settings, riffs),
        on_pass=_on_pass(section.on_pass, rename, riffs),
    )


def _on_pass(
    on_pass: Mapping[int, PassSettings], rename: Rename, riffs: Mapping[Riff, Riff]
) -> dict[int, PassSettings]:
    return {
        number: PassSettings(_settings(own.settings, riffs), own.rows and _rows(own.rows, rename))
        for number, own in on_pass.items()
    }


def _rows(rows: Rows, rename: Rename) -> Rows:
    return tuple(
        tuple(
            bar._replace(cells=tuple(cell._replace(chord=rename(cell.chord)) for cell in bar.cells))
            for bar in row
        )
        for row in rows
    )


def _settings(settings: Settings, riffs: Mapping[Riff, Riff]) -> Settings:
    """Settings with the riffs that are written in place moved."""
    return settings._replace(
        parts=_parts(settings.parts, riffs),
        arrangement=settings.arrangement and _arrangement(settings.arrangement, riffs),
    )


def _arrangement(arrangement: Arrangement, riffs: Mapping[Riff, Riff]) -> Arrangement:
    return arrangement._replace(parts=_parts(arrangement.parts, riffs))


def _parts(
    parts: Mapping[str, PartSettings], riffs: Mapping[Riff, Riff]
) -> dict[str, PartSettings]:
    return {
        name: part.having(riff=riffs.get(part.riff, part.riff))
        if isinstance(part.riff, Riff) and name != BASS
        else part
        for name, part in parts.items()
    }


def _riffs(form: Form, up: int) -> tuple[dict[Riff, Riff], tuple[str, ...]]:
    """Every riff that a guitar plays with itself `up` frets higher, and notes on them."""
    return moved_riffs(form, tuple(part.name for part in GUITARS), up)
