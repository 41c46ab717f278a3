"""Versions of small forms, played and read back."""

from __future__ import annotations

from fractions import Fraction

from backing.form import Form, read_form_text
from backing.midi.writer import to_bytes
from backing.practice import Practiced, Version, play_version
from backing.verify.readers.measured import Measured, by_summing


def song(text: str) -> Form:
    """A form that is played exactly in time."""
    return read_form_text(f"title: Song\nhuman: 0\n{text}")


def played(form: Form, version: Version, count_in: bool = True) -> Practiced:
    return play_version(form, version, count_in)


def measured(form: Form, version: Version, count_in: bool = True) -> Measured:
    """A version's file as it is measured: read back by adding up its delta times."""
    return by_summing(to_bytes(play_version(form, version, count_in).score))


def clicks(form: Form, version: Version, count_in: bool = True) -> list[float]:
    """The times of the clicks, in seconds to the millisecond."""
    return [
        round(start, 3)
        for voice in measured(form, version, count_in).voices
        if voice.name == "Click"
        for start in voice.notes.starts
    ]


#: A stroke is centered on its place and starts before it: at a tempo of 60 less than 63 ms.
EARLY = Fraction(1, 64)


def starts(take: Practiced, part: str) -> list[Fraction]:
    """The places where a part's notes start, in whole notes, each place once."""
    found = {
        note.start_whole
        for track in take.score.tracks
        if track.part == part
        for note in track.notes
    }
    return sorted(found)
