"""The A of a song at another pitch, as MIDI 1.0 tunes a channel.

MIDI 1.0 (MIDI Manufacturers Association), registered parameters: 1 is fine tuning, in
steps of 100/8192 cents, 00 00 for -100 cents, 40 00 for A at 440 Hz; 2 is coarse tuning,
its upper byte in semitones, 40 for none. Controllers 101 and 100 choose the parameter, 6
and 38 give its value, and 7F 7F as a parameter is none.
"""

from __future__ import annotations

from io import BytesIO
from math import log2

import mido
import pytest

from backing.form import read_form_text
from backing.tracks.one import midi_of

SONG = "title: t\ntempo: 100\npitch: {}\nsections: {{a: {{bars: A}}}}\nform: [a]\n"


def settings(pitch: str) -> dict[str, list[tuple[int, int]]]:
    """The controllers on tick 0 of each track that tune it: not volume, pan and reverb."""
    found = {}
    for track in mido.MidiFile(file=BytesIO(midi_of(read_form_text(SONG.format(pitch))))).tracks:
        tick, controls = 0, []
        for message in track:
            tick += message.time
            if not tick and message.type == "control_change" and message.control not in (7, 10, 91):
                assert message.channel != 9
                controls.append((message.control, message.value))
        if controls:
            found[track.name] = controls
    return found


def cents(controls: list[tuple[int, int]]) -> float:
    """What a channel is tuned to, worked out as a receiver does."""
    parameter, value, fine, coarse = [127, 127], [0, 0], 8192, 64
    for control, number in controls:
        if control in (101, 100):
            parameter[101 - control] = number
        elif control in (6, 38):
            value[control == 38] = number
            if parameter == [0, 1]:
                fine = value[0] << 7 | value[1]
            elif parameter == [0, 2]:
                coarse = value[0]
    assert parameter == [127, 127]
    return (coarse - 64) * 100 + (fine - 8192) * 100 / 8192


def test_442_hertz_byte_for_byte() -> None:
    """1200 log2(442/440) is 7.851 cents or 643.2 steps; 8192 + 643 in seven bits twice is 45 03."""
    wanted = [(101, 0), (100, 1), (6, 0x45), (38, 0x03), (101, 127), (100, 127)]
    assert settings("442") == {"Bass": wanted, "Guitar": wanted}


def test_440_says_nothing() -> None:
    assert settings("440") == {}


@pytest.mark.parametrize(
    "pitch", ["390", "415", "427.5", "432", "439.99", "441", "443", "466", "490"]
)
def test_every_pitch_of_the_language_is_met(pitch: str) -> None:
    """To half a step, 0.006 cents; 415 is the usual pitch for Baroque music, 466 choir pitch."""
    for controls in settings(pitch).values():
        assert cents(controls) == pytest.approx(1200 * log2(float(pitch) / 440), abs=0.0062)
    assert len(settings(pitch)) == 2
