"""YAML text to a Form: the language's tables first, then checks that tables can't make.

All problems of a form are collected and raised together, each with its place.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from backing.errors import FormError, Problem
from backing.form.advice import SONG_TITLE
from backing.form.entries import EntryReader
from backing.form.key_places import key_places
from backing.form.kinds import Reading, Record, TooManyProblems, record
from backing.form.language import SONG, SONG_REQUIRED
from backing.form.model import USUALLY_HUMAN, Form
from backing.form.section_reader import SectionReader
from backing.form.settings_reader import SettingsReader
from backing.form.source import read_data, read_source
from backing.form.strings_reader import StringsReader
from backing.form.tree import compose
from backing.theory.fretboard import STANDARD_TUNING
from backing.theory.instruments import BASS_TUNING
from backing.theory.shells import FULL


def read_form(path: str | Path) -> Form:
    """Read a form's file.

    Args:
        path: a YAML file, as `forms/README.md` describes it.

    Raises:
        FormError: everything that is wrong with the form, with lines and columns.
        BackingError: there is no such file, or it can't be opened.
    """
    return read_form_bytes(read_data(path), str(path))


def read_form_text(text: str, name: str = "form") -> Form:
    """Read a form from its text.

    Args:
        text: YAML, as `forms/README.md` describes it.
        name: what messages call it.

    Raises:
        FormError: everything that is wrong with the form, with lines and columns.
    """
    return read_form_bytes(text.encode("utf-8", "surrogatepass"), name)


def read_form_bytes(data: bytes, name: str) -> Form:
    """Read a form from its bytes; raises FormError."""
    source = read_source(data, name)
    try:
        root = compose(source)
    except FormError as error:
        rest = _may_be_more(name, len(error.problems))
        raise FormError(name, error.problems, source.lines, rest) from None
    if root is None or (root.kind == "text" and not root.text.strip()):
        raise FormError(
            name, [Problem(1, 1, "this form is empty.", "Start it with  title: ...")], source.lines
        )
    reading, form, rest = Reading(source, key_places), None, ""
    try:
        written = reading.value(record(SONG_TITLE, SONG, SONG_REQUIRED), root)
        form = _form(reading, written) if written is not None else None
    except TooManyProblems:
        reading.hides = True
    if reading.problems or form is None:
        rest = _may_be_more(name, len(reading.problems)) if reading.hides else ""
        raise FormError(name, reading.problems, source.lines, rest)
    return form


def _may_be_more(name: str, found: int) -> str:
    these = "this" if found == 1 else "these"
    return f"{name}: there may be more problems. Fix {these} first, then try again."


def _form(reading: Reading, written: Record) -> Form:
    """The Form of a song's record; what doesn't fit together is noted."""
    strings = StringsReader(reading, written)
    strings.check()
    settings_reader = SettingsReader(reading, written, strings)
    section_reader = SectionReader(reading, written, settings_reader)
    settings = settings_reader.read(written, settings_reader.meter(written))
    sections = section_reader.sections()
    entries = EntryReader(
        reading, written, sections, settings, settings_reader, section_reader
    ).entries()
    form = Form(
        title=written.get("title", ""),
        settings=settings,
        sections=sections,
        entries=entries,
        by=written.get("by", ""),
        student=written.get("for", ""),
        key=written.get("key"),
        capo=written.get("capo", 0),
        count_in_bars=written.get("count-in", 1),
        pickup=section_reader.pickup(entries, sections, settings),
        pickup_parts=section_reader.pickup_parts(),
        instrument=strings.instrument,
        tuning=strings.tuning or STANDARD_TUNING,
        bass_tuning=strings.bass_tuning or BASS_TUNING,
        pitch_hz=written.get("pitch", Fraction(440)),
        human=written.get("human", USUALLY_HUMAN),
        shapes=dict(written.get("shapes", {})),
        voicing=written.get("voicing", FULL),
        strums=dict(written.get("strums", {})),
        picks=dict(written.get("picks", {})),
        riffs=dict(written.get("riffs", {})),
        arrangements=settings_reader.arrangements,
    )
    if "practice" not in written:
        return form
    from backing.form.practice_list import practice_of

    practice = practice_of(reading, written["practice"], written.nodes["practice"], form)
    return form._replace(practice=practice)
