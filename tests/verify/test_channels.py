"""What readers find that a file sets its channels to, from bytes written by hand."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from midi_files import chunk

from backing.verify.readers.measured import Measured, by_pretty_midi, by_summing
from backing.verify.readers.voices import Voice

QUARTER = b"\x60"  # 96 ticks: half a second at 120
READERS = [by_summing, by_pretty_midi]
Reader = Callable[[bytes], Measured]


def file_of(*tracks: bytes) -> bytes:
    header = (1).to_bytes(2, "big") + len(tracks).to_bytes(2, "big") + (96).to_bytes(2, "big")
    return chunk(b"MThd", header) + b"".join(
        chunk(b"MTrk", track + b"\0\xff\x2f\0") for track in tracks
    )


def note(channel: int = 0, pitch: int = 60) -> bytes:
    return bytes((0, 0x90 | channel, pitch, 80)) + QUARTER + bytes((0x80 | channel, pitch, 64))


def control(number: int, value: int, channel: int = 0) -> bytes:
    return bytes((0, 0xB0 | channel, number, value))


def registered(parameter: int, upper: int, lower: int) -> bytes:
    pairs = ((101, 0), (100, parameter), (6, upper), (38, lower), (101, 127), (100, 127))
    return b"".join(control(*pair) for pair in pairs)


def only(account: Measured) -> Voice:
    (voice,) = account.voices
    return voice


@pytest.mark.parametrize("reader", READERS)
def test_program_volume_and_pan(reader: Reader) -> None:
    track = b"\0\xc0\x19" + control(7, 90) + control(10, 44) + note() + control(7, 60) + note()
    settings = only(reader(file_of(b"", track))).settings
    assert settings.programs == [(0.0, 25)]
    assert settings.volumes == [(0.0, 90), (0.5, 60)]
    assert settings.pans == [(0.0, 44)]


@pytest.mark.parametrize("reader", READERS)
def test_tuning_is_fine_and_coarse_together(reader: Reader) -> None:
    """A semitone and a half up: 12288 - 8192 steps of 100/8192 cents."""
    track = registered(2, 65, 0) + registered(1, 96, 0) + note()
    assert (only(reader(file_of(b"", track))).settings.tuning or [])[-1] == (0.0, 150.0)


@pytest.mark.parametrize("reader", READERS)
def test_the_wheel_and_its_range(reader: Reader) -> None:
    """Full up is 8191 of 8192 steps."""
    track = registered(0, 24, 0) + b"\0\xe0\x7f\x7f" + note()
    settings = only(reader(file_of(b"", track))).settings
    assert settings.bends == [(0.0, pytest.approx(2400 * 8191 / 8192))]


@pytest.mark.parametrize("reader", READERS)
def test_a_wheel_bends_two_semitones_until_a_range_is_set(reader: Reader) -> None:
    settings = only(reader(file_of(b"", b"\0\xe0\x00\x20" + note()))).settings
    assert settings.bends == [(0.0, -100.0)]


def test_a_value_without_a_parameter_sets_nothing() -> None:
    """As where a program sorted a file's controllers by number, or chose another kind."""
    for chosen in (b"", control(99, 0) + control(98, 1), control(101, 127) + control(100, 127)):
        track = chosen + control(6, 96) + control(38, 0) + b"\0\xe0\x00\x60" + note()
        settings = only(by_summing(file_of(b"", track))).settings
        assert (settings.tuning, settings.bends) == ([], [(0.0, 100.0)])


def test_settings_of_a_channel_may_be_in_another_track() -> None:
    setup = b"\0\xc3\x21" + control(7, 70, 3)
    settings = only(by_summing(file_of(b"", setup, note(3)))).settings
    assert (settings.programs, settings.volumes) == ([(0.0, 33)], [(0.0, 70)])


def test_pretty_midi_can_t_tell_what_isn_t_there() -> None:
    """It sees a file's programs only in the notes' own track, and 0 where there is none."""
    settings = only(by_pretty_midi(file_of(b"", note()))).settings
    assert set(settings) == {None}
    assert only(by_summing(file_of(b"", note()))).settings.programs == ()


@pytest.mark.parametrize("reader", READERS)
def test_percussion_alone_is_on_its_channel(reader: Reader) -> None:
    """pretty_midi knows no channels, so its voices never take percussion's by their number."""
    tracks = [note(channel) for channel in range(16)]
    voices = reader(file_of(b"", *tracks)).voices
    assert len(voices) == 16
    assert sum(voice.is_percussion for voice in voices) == 1


def test_key_signatures_of_all_tracks() -> None:
    """Sharps and flats as signed bytes; one that repeats the key before it is dropped."""
    data = file_of(
        b"\0\xff\x59\x02\x02\x00" + note() + note() + b"\0\xff\x59\x02\x02\x00",
        QUARTER + b"\0\xff\x59\x02\xfd\x01"[1:] + note(1),
    )
    assert by_summing(data).keys == [(0.0, 2, False), (0.5, -3, True), (1.0, 2, False)]
    same = file_of(b"\0\xff\x59\x02\xfd\x01" + note() + b"\0\xff\x59\x02\xfd\x01")
    assert by_summing(same).keys == [(0.0, -3, True)]
    assert by_pretty_midi(same).keys == [(0.0, -3, True), (0.5, -3, True)]
    assert by_summing(file_of(note())).keys == []
    assert by_pretty_midi(file_of(note())).keys is None


def test_a_note_that_nothing_ends_lasts_as_long_as_its_track() -> None:
    data = file_of(b"", b"\0\x90\x3c\x50" + note(0, 64))
    notes = only(by_summing(data)).notes
    assert (list(notes.starts), list(notes.ends)) == ([0.0, 0.0], [0.5, 0.5])
