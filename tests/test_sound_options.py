"""The sound options that several commands share: one record, with the same checks everywhere."""

from __future__ import annotations

import click
import pytest
from click.testing import CliRunner

from backing.commands.options import SoundOptions, checked_audio, sound_options
from backing.errors import BackingError


def given(*arguments: str, names: tuple[str, ...] = ()) -> SoundOptions:
    """What a command with these options gets as `sound`."""
    got: list[SoundOptions] = []

    @click.command()
    @sound_options(*names)
    def command(sound: SoundOptions) -> None:
        got.append(sound)

    result = CliRunner().invoke(command, arguments, catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return got[0]


def test_all_options_are_in_one_record() -> None:
    options = ("--audio", " MP3,wav,mp3", "--stems", "--soundfont", "a.sf2", "--loudness", "-14.5")
    assert given(*options) == SoundOptions(("mp3", "wav"), True, "a.sf2", -14.5)


def test_without_options_the_record_has_its_defaults() -> None:
    assert given() == given(names=("audio", "soundfont")) == SoundOptions()


def test_a_command_has_only_the_options_that_it_names() -> None:
    command = sound_options("audio", "soundfont")(lambda sound: None)
    result = CliRunner().invoke(click.command()(command), ["--stems"])
    assert result.exit_code == 2
    assert "--stems" in result.stderr


def test_without_a_format_there_is_no_audio() -> None:
    assert checked_audio(SoundOptions()) is None


@pytest.mark.parametrize(
    ("sound", "message"),
    [
        (SoundOptions(stems=True), "--stems needs --audio."),
        (SoundOptions(soundfont="a.sf2"), "--soundfont needs --audio."),
        (SoundOptions(loudness=-14.0), "--loudness needs --audio."),
    ],
)
def test_options_that_need_a_format_are_refused_without_one(
    sound: SoundOptions, message: str
) -> None:
    with pytest.raises(click.UsageError, match=message):
        checked_audio(sound)


@pytest.mark.parametrize(
    ("sound", "message"),
    [
        (SoundOptions(("tape",)), "tape"),
        (SoundOptions(("",)), "format"),
        (SoundOptions(("mp3", "tape")), "tape"),
        (SoundOptions(("wav",), loudness=-41.0), "-40 to -5"),
        (SoundOptions(("wav",), loudness=-4.0), "-40 to -5"),
    ],
)
def test_wrong_values_are_refused_before_any_work(sound: SoundOptions, message: str) -> None:
    with pytest.raises(BackingError, match=message):
        checked_audio(sound)
