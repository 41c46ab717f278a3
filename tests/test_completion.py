"""The Tab key: files and folders as the shell has them, and the values that options take."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.shell_completion import ShellComplete

from backing.audio.encode import FORMATS
from backing.cli import COMMANDS, main
from backing.commands.completion import FILES, WORDS, typed_name
from backing.form.demos import demo_names
from backing.form.parts import PARTS
from backing.form.starter_strings import read_strings
from backing.theory.instruments import INSTRUMENTS
from backing.theory.keys import parse_key
from backing.theory.tunings import NAMED, parse_tuning

ROOT = Path(__file__).resolve().parents[1]
ORCHARD = str(ROOT / "forms" / "orchard-wall.yaml")


def offered(*typed: str) -> list[tuple[str, str]]:
    """What stands at the Tab key after the words typed, the last of them begun: kind and value."""
    shell = ShellComplete(main, {}, "backing", "_BACKING_COMPLETE")
    *words, begun = typed
    return [(item.type, item.value) for item in shell.get_completions(words, begun)]


def words(*typed: str) -> list[str]:
    found = offered(*typed)
    assert {kind for kind, _ in found} <= {"plain"}
    return [value for _, value in found]


def parameters() -> list[tuple[str, click.Parameter]]:
    context = click.Context(main)
    group = main
    assert isinstance(group, click.Group)
    commands = [(name, group.get_command(context, name)) for name in COMMANDS]
    return [
        (name, one) for name, command in commands if command for one in command.get_params(context)
    ]


def test_commands_are_offered_by_their_beginning() -> None:
    assert words("") == list(COMMANDS)
    assert words("ch") == ["check", "chart"]


@pytest.mark.parametrize(
    "line",
    [
        ["check", "forms/st"],
        ["build", "one.yaml", "forms/st"],
        ["lesson", "forms/st"],
        ["chart", "forms/st"],
        ["chart", "one.yaml", "--out", "forms/st"],
        ["page", "forms/st"],
        ["capo", "forms/st"],
        ["verify", "forms/st"],
        ["verify", "one.yaml", "forms/st"],
        ["build", "one.yaml", "--soundfont", "forms/st"],
        ["drill", "A D", "--form-out", "forms/st"],
        ["schema", "--out", "forms/st"],
        ["new", "Song", "--out", "forms/st"],
    ],
    ids=" ".join,
)
def test_files_are_left_to_the_shell(line: list[str]) -> None:
    assert offered(*line) == [("file", "forms/st")]


@pytest.mark.parametrize("command", ["build", "lesson", "drill"])
def test_so_are_folders(command: str) -> None:
    assert offered(command, "one.yaml", "--out", "les") == [("dir", "les")]


@pytest.mark.parametrize("option", ["--without", "--only"])
def test_parts_are_offered_one_after_the_other(option: str) -> None:
    names = list(PARTS)
    assert words("build", "one.yaml", option, "") == names
    assert words("build", "one.yaml", option, "g") == ["guitar"]
    assert words("build", "one.yaml", option, "guitar,b") == ["guitar,bass"]
    rest = [f"guitar,bass,{name}" for name in names if name not in ("guitar", "bass")]
    assert words("verify", "one.yaml", "x.mid", option, "guitar,bass,") == rest


def test_formats_of_sound_are_offered() -> None:
    assert words("build", "one.yaml", "--audio", "") == list(FORMATS)
    assert words("lesson", "one.yaml", "--audio", "mp3,f") == ["mp3,flac"]
    assert words("drill", "A D", "--audio", "o") == ["ogg"]


def test_every_key_is_offered_and_can_be_read() -> None:
    keys = words("build", "one.yaml", "--key", "")
    assert len(keys) == len(set(keys)) == 30  # 15 signatures, each major and minor
    assert [str(parse_key(key)) for key in keys] == keys
    assert words("new", "Song", "--key", "F#") == ["F#", "F#m"]


def test_every_instrument_is_offered_in_one_word() -> None:
    offered = words("new", "Song", "--instrument", "")
    assert len(offered) == len(INSTRUMENTS)
    assert [read_strings(word, None).instrument for word in offered] == list(INSTRUMENTS.values())
    assert words("new", "Song", "--instrument", "b") == ["baritone-ukulele", "bass"]


@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_the_tunings_of_the_instrument_on_the_line_are_offered(instrument: str) -> None:
    offered = words("new", "--instrument", instrument, "Song", "--tuning", "")
    tunings = [read_strings(instrument, word).tuning for word in offered]
    assert tunings == [parse_tuning(name, INSTRUMENTS[instrument]) for name in NAMED[instrument]]
    assert not any(" " in word for word in offered)


def test_without_an_instrument_the_tunings_of_a_guitar_are_offered() -> None:
    assert words("new", "Song", "--tuning", "dro") == ["drop-D", "drop-C"]
    assert words("new", "Song", "--instrument", "kazoo", "--tuning", "") == []


def test_the_sections_of_the_form_on_the_line_are_offered() -> None:
    assert words("build", ORCHARD, "--section", "") == ["opening", "verse", "chorus", "close"]
    assert words("build", ORCHARD, "--section", "ch") == ["chorus"]
    assert words("build", ORCHARD, "--section", "verse..c") == ["verse..chorus", "verse..close"]
    assert words("verify", ORCHARD, "x.mid", "--section", "v") == ["verse"]


def test_a_form_that_cannot_be_read_offers_no_sections(tmp_path: Path) -> None:
    (tmp_path / "bad.yaml").write_text("tepmo: 1")
    assert words("build", str(tmp_path / "bad.yaml"), "--section", "") == []
    assert words("build", str(tmp_path / "none.yaml"), "--section", "") == []
    assert words("build", "--section", "") == []


def test_demos_are_offered() -> None:
    assert words("new", "--demo", "") == demo_names()
    assert words("new", "--demo", "gr") == ["greensleeves"]


def test_every_name_in_the_table_is_a_parameter_of_some_command() -> None:
    names = {typed_name(parameter) for _, parameter in parameters()}
    assert {*WORDS, *FILES} <= names
    assert not {*WORDS} & {*FILES}


def test_every_parameter_that_takes_a_file_or_folder_completes_it() -> None:
    paths = ("FORM", "FORM...", "DIR")
    for command, parameter in parameters():
        metavar = parameter.metavar or ""
        if metavar in paths or metavar.startswith("FILE"):
            assert typed_name(parameter) in FILES, f"{command} {parameter.name}"


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_gets_its_script(shell: str) -> None:
    done = run({"_BACKING_COMPLETE": f"{shell}_source"})
    assert "_backing_completion" in done.stdout
    assert done.returncode == 0


def test_bash_is_answered_as_its_script_asks() -> None:
    asked = {"_BACKING_COMPLETE": "bash_complete", "COMP_CWORD": "4"}
    done = run(asked | {"COMP_WORDS": f"backing build {ORCHARD} --section ver"})
    assert done.stdout == "plain,verse\n"
    done = run(asked | {"COMP_WORDS": "backing check forms/st", "COMP_CWORD": "2"})
    assert done.stdout == "file,forms/st\n"


def run(environment: dict[str, str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", "from backing.cli import main; main(prog_name='backing')"],
        capture_output=True,
        env={**os.environ, **environment},
        text=True,
        check=False,
    )
