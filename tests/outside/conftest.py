"""A song that several readers read, and which of them this machine has."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from importlib.util import find_spec
from shutil import which

import pytest

from backing.form import read_form_text
from backing.midi.writer import to_bytes
from backing.players import play
from backing.timeline import Timeline, unroll

without_program: list[str] = []
if which("midicsv") is None:
    if os.environ.get("CI", "").lower() in ("1", "true", "yes"):
        raise pytest.UsageError("midicsv is missing: install it (Debian: apt-get install midicsv)")
    without_program = ["test_midicsv.py", "test_csv_round_trips.py"]
without_ear = ["test_ear.py"] if find_spec("librosa") is None else []
if without_ear and os.environ.get("BACKING_TEST_AUDIO"):
    raise pytest.UsageError("the tests of sound need the Python package librosa (extra dev)")
collect_ignore = [*without_program, *without_ear]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    if without_program:
        terminalreporter.write_line(
            f"midicsv not installed: {' and '.join(without_program)} in tests/outside left out",
            yellow=True,
        )
    if without_ear:
        terminalreporter.write_line(
            "librosa not installed (extra dev): test_ear.py in tests/outside left out", yellow=True
        )


# Tempos that come to whole quarters a minute, since music21 rounds to those; four meters
# in turn; chords in which no two strings sound one pitch, so that every string is a note.
FORM = """\
title: Read Four Ways
tempo: 96
key: A
count-in: 1
shapes: {A: x02220, D: xx0232, E: "022100"}
parts: {guitar: {strum: {step: 1/4, play: "D"}}}
sections:
  verse:
    words: ["| la | lö | |", so]
    bars: |
      | A | D / E / | 2/4 A |
      | 4/4 D(ring) |
  lilt: {meter: 6/8, tempo: 70, bars: "| A | D E | A | E |"}
  close: {tempo: {to: 60, over: 1}, bars: "| D | E / A / |"}
form: [verse, lilt, verse, close]
"""


@dataclass(frozen=True)
class Song:
    """The song's file, and what it must hold, worked out by hand in the comments."""

    timeline: Timeline
    data: bytes
    bars: int
    quarters: int
    ring_out_quarters: int
    seconds: Fraction
    tempos: tuple[tuple[int, int], ...]
    """Quarters from the start, and quarters a minute from there on."""
    meters: tuple[tuple[int, int, int], ...]
    """Quarters from the start, count and unit."""
    notes: Mapping[str, int]


@pytest.fixture(scope="session")
def song() -> Song:
    """Sources of the sums: common practice (beats x 60 / tempo); SMF 1.0 for the tempo's unit."""
    timeline = unroll(read_form_text(FORM))
    # The count-in's 4, verse 4 + 4 + 2 + 4, lilt 4 x 6 eighths, verse again, close 2 x 4.
    quarters = 4 + 14 + 12 + 14 + 8
    # A dotted quarter at 70 is a quarter at 105. From 96 to 60 in four steps of 9.
    slowing = (96 - 9, 96 - 18, 96 - 27, 96 - 36)
    seconds = Fraction(4 + 14 + 14 + 4) * 60 / 96 + Fraction(12 * 60, 105)
    seconds += sum(Fraction(60, bpm) for bpm in slowing)
    tempos = ((0, 96), (18, 105), (30, 96), *zip(range(48, 52), slowing, strict=True))
    meters = ((0, 4, 4), (12, 2, 4), (14, 4, 4), (18, 6, 8), (30, 4, 4), (38, 2, 4), (40, 4, 4))
    notes = {
        # A click a quarter, and two a bar of 6/8.
        "Click": 4 + 14 + 4 * 2 + 14 + 8,
        # A root for each chord and at each bar line: verse 5, lilt 5, close 3.
        "Bass": 5 + 5 + 5 + 3,
        # A chord's first stroke in a bar has all strings: A 5, D 4, E 6. The others have at most
        # four and not the lowest: 4, 3, 4. A stroke a quarter, three a bar of 6/8; a ring one.
        "Guitar": 2 * ((5 + 3 * 4) + (4 + 3) + (6 + 4) + (5 + 4) + 4)
        + ((5 + 2 * 4) + (4 + 3) + 6 + (5 + 2 * 4) + (6 + 2 * 4))
        + ((4 + 3 * 3) + (6 + 4) + (5 + 4)),
    }
    return Song(
        timeline=timeline,
        data=to_bytes(play(timeline)),
        bars=1 + 4 + 4 + 4 + 2,
        quarters=quarters,
        ring_out_quarters=2,  # two seconds at 60
        seconds=seconds,
        tempos=tempos,
        meters=meters,
        notes=notes,
    )
