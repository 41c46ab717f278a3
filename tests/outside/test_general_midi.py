"""Our General MIDI names against the tables of pretty_midi, and figures of RP-003."""

from __future__ import annotations

import pretty_midi
import pytest

from backing.theory.general_midi import PERCUSSION, PROGRAMS, percussion_number


@pytest.mark.parametrize("number", range(35, 82))
def test_percussion_names(number: int) -> None:
    """Word for word; pretty_midi writes hi-hats without their hyphen."""
    theirs = pretty_midi.note_number_to_drum_name(number)
    assert PERCUSSION[number].replace("-", " ") == theirs.replace("-", " ")


def test_percussion_covers_level_1_and_no_more() -> None:
    """RP-003: percussion keys 35 to 81."""
    assert list(PERCUSSION) == list(range(35, 82))


@pytest.mark.parametrize(("number", "name"), PROGRAMS.items())
def test_program_names(number: int, name: str) -> None:
    assert pretty_midi.instrument_name_to_program(name) == number


# RP-003, programs counted from 0.
@pytest.mark.parametrize(
    ("number", "words"),
    [
        (24, "nylon"),
        (25, "steel"),
        (26, "jazz"),
        (27, "clean"),
        (32, "Acoustic Bass"),
        (33, "finger"),
    ],
)
def test_programs_of_rp_003(number: int, words: str) -> None:
    assert words in PROGRAMS[number]


# RP-003's percussion key map, by what drummers call the sound (common practice).
@pytest.mark.parametrize(
    ("name", "numbers"),
    [
        ("kick", {35, 36}),
        ("rim", {37}),
        ("snare", {38, 40}),
        ("closed hi-hat", {42}),
        ("pedal hi-hat", {44}),
        ("open hi-hat", {46}),
        ("hi-hat", {42}),
        ("crash", {49, 57}),
        ("ride", {51, 59}),
        ("cowbell", {56}),
        ("claves", {75}),
        ("hi wood block", {76}),
        ("low wood block", {77}),
    ],
)
def test_percussion_of_rp_003(name: str, numbers: set[int]) -> None:
    assert percussion_number(name) in numbers
