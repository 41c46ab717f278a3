"""What a practice version chooses of a song: which bars, how much higher, with which capo.

Found by the proof itself, from the form and the song's own figures.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import NamedTuple

from backing.errors import BackingError
from backing.form.model import Form
from backing.practice.versions import Version
from backing.verify.expected.pass_plan import line_names
from backing.verify.expected.records import Band, Expected, ExpectedPass


def band_of(form: Form, version: Version, up: int) -> Band:
    """What the guitars of a version are tuned to, and how their chords and riffs move."""
    capo, by = form.capo, up
    if version.keep_shapes:
        capo, by = (form.capo + up) % 12, 0
    elif version.capo is not None:
        capo, by = version.capo, up + form.capo - version.capo
    key = form.key and form.key.transposed(by)
    if version.key is not None and not capo:
        key = version.key
    return Band(
        instrument=form.instrument,
        tuning=form.tuning,
        capo=capo,
        by=by,
        key=form.key,
        new_key=key,
        shapes=form.shapes,
        easier=version.easier,
        shells=form.voicing == "shell" and not version.easier,
        riff_up=capo + by,
        riff_octaves=by != 0,
        bass_tuning=form.bass_tuning,
        bass_up=up,
    )


class PracticedRound(NamedTuple):
    """A round's speed, its bars of the song, and how many bars count before it."""

    speed: Fraction
    first: int
    last: int
    counts: int


def rounds_of(version: Version, first: int, last: int) -> list[PracticedRound]:
    """Every round of a version: speed by speed, each length `loop` times.

    A ladder counts where its speed changes, anything else before each round but the first.
    """
    lengths = range(1, last - first + 2) if version.build_up else [last - first + 1]
    rounds: list[PracticedRound] = []
    before = None
    for speed in version.speeds:
        for bars in (length for length in lengths for _ in range(version.loop)):
            since = last - bars + 1 if version.build_up == "end" else first
            counts = bool(rounds) and (speed != before or len(version.speeds) == 1)
            rounds.append(PracticedRound(speed, since, since + bars - 1, version.between * counts))
            before = speed
    return rounds


def semitones_up(form: Form, version: Version) -> int:
    """How many semitones higher than the song a version sounds; octaves don't count."""
    if version.key is None:
        return version.transpose
    if form.key is None:
        raise BackingError(f"{form.title}: the song has no key, so it can't be moved to another.")
    return version.key.tonic.pitch_class - form.key.tonic.pitch_class - form.capo


def bars_of(form: Form, song: Expected, version: Version) -> tuple[int, int]:
    """The first and last bar of the song that a version plays."""
    stretch, count = version.stretch, len(song.bars)
    if stretch is None:
        return 1, count
    if stretch.bars is not None:
        first, last = stretch.bars
        if not 0 < first <= last <= count:
            raise BackingError(f"{form.title}: it has bars 1-{count}, not {stretch}.")
        return first, last
    first, end = _section(form, song, stretch.first, 1)
    if stretch.last == stretch.first:
        return first, end
    _, last = _section(form, song, stretch.last, first)
    return first, last


def _section(form: Form, song: Expected, name: str, since: int) -> tuple[int, int]:
    """The bars of a line of the form, a pass or a section's first line, from bar `since` on."""
    called = name.strip().casefold()
    lines = [label.casefold() for label in line_names(form)]
    for names in (
        [lines[row.entry] for row in song.passes],
        [row.label.casefold() for row in song.passes],
        [form.entries[row.entry].section.casefold() for row in song.passes],
    ):
        rows = [row for row, known in zip(song.passes, names, strict=True) if known == called]
        if not rows:
            continue
        later = [row for row in rows if row.first_bar >= since]
        if later:
            return _run(rows, later[0])
        break
    meant = [
        entry
        for entry, label in enumerate(lines)
        if re.fullmatch(rf"{re.escape(called)}(?![^\W_]).*", label)
    ]
    if len(meant) == 1:
        rows = [row for row in song.passes if row.entry == meant[0]]
        later = [row for row in rows if row.first_bar >= since]
        if later:
            return _run(rows, later[0])
    raise BackingError(f"{form.title}: there is no section {name!r} from bar {since} on.")


def _run(rows: list[ExpectedPass], among: ExpectedPass) -> tuple[int, int]:
    """The bars of the rows that follow one another, in one line of the form, around one of them."""
    first = last = rows.index(among)
    while first and _goes_on(rows[first - 1], rows[first]):
        first -= 1
    while last + 1 < len(rows) and _goes_on(rows[last], rows[last + 1]):
        last += 1
    return rows[first].first_bar, rows[last].first_bar + rows[last].bars - 1


def _goes_on(row: ExpectedPass, after: ExpectedPass) -> bool:
    return row.entry == after.entry and row.first_bar + row.bars == after.first_bar
