"""Our General MIDI names against the tables of pretty_midi, and figures of RP-003."""

from __future__ import annotations

import pretty_midi
import pytest

from backing.form.parts import PARTS
from backing.theory.general_midi import PERCUSSION, SUSTAINED, percussion_number


@pytest.mark.parametrize("number", range(35, 82))
def test_percussion_names(number: int) -> None:
    """Word for word; pretty_midi writes hi-hats without their hyphen."""
    theirs = pretty_midi.note_number_to_drum_name(number)
    assert PERCUSSION[number].replace("-", " ") == theirs.replace("-", " ")


def test_percussion_covers_level_1_and_no_more() -> None:
    """RP-003: percussion keys 35 to 81."""
    assert list(PERCUSSION) == list(range(35, 82))


@pytest.mark.parametrize(
    ("sound", "number"),
    [(sound, number) for part in PARTS.values() for sound, number in part.programs.items()],
)
def test_a_sound_is_a_word_of_its_programs_name(sound: str, number: int) -> None:
    """`fingered` is Electric Bass (finger), `strings` String Ensemble 1."""
    name = pretty_midi.program_to_instrument_name(number).lower()
    assert any(sound.startswith(word.strip("()")) for word in name.split())


# RP-003, programs counted from 0.
@pytest.mark.parametrize(
    ("part", "sound", "number"),
    [
        ("guitar", "nylon", 24),
        ("guitar", "steel", 25),
        ("guitar", "clean", 27),
        ("bass", "fingered", 33),
        ("pad", "piano", 0),
        ("pad", "organ", 16),
        ("pad", "strings", 48),
    ],
)
def test_programs_of_rp_003(part: str, sound: str, number: int) -> None:
    assert PARTS[part].programs[sound] == number


def test_the_programs_that_sustain_are_of_the_families_that_do() -> None:
    """By pretty_midi's families, but for what is plucked, struck or a single hit (RP-003)."""
    families = {"Organ", "Strings", "Ensemble", "Brass", "Reed", "Pipe", "Synth Lead", "Synth Pad"}
    die_away = {"Pizzicato Strings", "Orchestral Harp", "Timpani", "Orchestra Hit"}
    assert {
        number
        for number in range(128)
        if pretty_midi.program_to_instrument_class(number) in families
        and pretty_midi.program_to_instrument_name(number) not in die_away
    } == SUSTAINED


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
