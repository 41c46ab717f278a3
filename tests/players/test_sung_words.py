"""Lyrics at their bars, and how each ends (RP-017)."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO

import mido
import pytest
from form_strategies import forms
from hypothesis import HealthCheck, given, settings

from backing.form import read_form_text
from backing.midi.writer import to_bytes
from backing.players import play
from backing.practice.played import play_version
from backing.practice.versions import PLAIN, Stretch, Version
from backing.timeline import unroll
from backing.verify import verify_bytes

SONG = """\
title: T
tempo: 120
sections:
  verse:
    words: ["| la | lo |", "| le | | lu |"]
    bars: |
      | A | D |
      | A | D | 2/4 E |
form:
  - verse
  - {section: verse, words: off}
  - {section: verse, bars: 2-3, words: "| one | two |"}
"""
SILENT = "".join(line for line in SONG.splitlines(True) if "words" not in line)


def lyrics(version: Version = PLAIN) -> list[tuple[Fraction, str]]:
    score = play_version(read_form_text(SONG), version).score
    return [(place, text) for place, text in score.words]


def tracks(text: str) -> list[mido.MidiTrack]:
    data = to_bytes(play(unroll(read_form_text(text))))
    return list(mido.MidiFile(file=BytesIO(data), charset="utf-8").tracks)


def test_each_pass_sings_at_its_bar_lines() -> None:
    assert lyrics() == [
        (1, "la "),
        (2, "lo\r"),
        (3, "le "),
        (5, "lu\n"),
        (10, "one\r"),
        (11, "two\n"),
    ]


def test_rounds_sing_what_they_play_and_end_their_lines() -> None:
    version = Version(stretch=Stretch(bars=(2, 4)), loop=2, speeds=(Fraction(1, 2),))
    assert lyrics(version) == [(1, "lo\r"), (2, "le\n"), (4, "lo\r"), (5, "le\n")]


def test_they_have_a_track_only_where_there_are_any() -> None:
    assert [track.name for track in tracks(SONG)][1:3] == ["Chords", "Words"]
    assert "Words" not in [track.name for track in tracks(SILENT)]


@pytest.mark.parametrize("text", ["サビ", "für — alle", "{x}"])
def test_words_are_utf_8(text: str) -> None:
    found = [
        message.text
        for track in tracks(SONG.replace("| one |", f"| {text} |"))
        for message in track
        if message.type == "lyrics"
    ]
    assert found[-2] == f"{text}\r"


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(forms())
def test_the_words_of_any_form_are_found_where_they_belong(text: str) -> None:
    form = read_form_text(text)
    report = verify_bytes(form, to_bytes(play(unroll(form))), quick=True)
    assert "words" not in report.lost
    assert all(finding.agrees for finding in report.findings if finding.what == "words")
