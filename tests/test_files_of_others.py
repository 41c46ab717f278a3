"""No command replaces a file that it can't show to be its own and unchanged.

Each row of `COMMANDS` is a command with a file that it makes. `{form}` is a song's form.
"""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path
from typing import NamedTuple

import click
import pytest
from click.testing import CliRunner, Result
from folders import RECORD, shown

import backing
from backing.cli import COMMANDS as CLI_COMMANDS
from backing.cli import main

SONG = """\
title: Kettle
tempo: {tempo}
human: 0
sections:
  verse: {{bars: "| A | D |"}}
form: [verse]
practice:
  formats: [midi]
  set: [60, 75]
"""


class Command(NamedTuple):
    """Arguments, a file that is made, and whether it is made again after the form has changed."""

    arguments: tuple[str, ...]
    makes: str
    follows_the_form: bool = True
    leaves: int = 2


COMMANDS = {
    "build": Command(("build", "{form}", "--out", "out"), "out/Kettle.mid"),
    "build of a version": Command(
        ("build", "{form}", "--out", "out", "--speed", "60"), "out/Kettle - 60%.mid"
    ),
    "drill": Command(
        ("drill", "C G", "--out", "out", "--times", "1"), "out/Changes C, G.mid", False
    ),
    "chart": Command(("chart", "{form}", "--out", "out/a.pdf"), "out/a.pdf"),
    "chart as pictures": Command(("chart", "{form}", "--out", "out/a.svg"), "out/a.svg"),
    "charts in a folder": Command(("chart", "{form}", "--out", "out"), "out/Kettle.pdf"),
    "schema": Command(("schema", "--out", "out/song-form.json"), "out/song-form.json", False),
    "lesson": Command(
        ("lesson", "{form}", "--out", "out", "--jobs", "1"), "out/Kettle/01 whole song 60%.mid"
    ),
    "contents of a lesson": Command(
        ("lesson", "{form}", "--out", "out", "--jobs", "1"), "out/Kettle/contents.txt"
    ),
    "page of contents": Command(
        ("lesson", "{form}", "--out", "out", "--jobs", "1"), "out/Kettle/contents.html"
    ),
    "archive of a lesson": Command(
        ("lesson", "{form}", "--out", "out", "--jobs", "1", "--zip"), "out/Kettle.zip"
    ),
}
BOTH = pytest.mark.parametrize("name", COMMANDS)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    type_song(80)
    return tmp_path


def type_song(tempo: int) -> None:
    Path("song.yaml").write_text(SONG.format(tempo=tempo))


def ran(command: Command, *more: str) -> Result:
    arguments = [word.format(form="song.yaml") for word in command.arguments]
    return CliRunner().invoke(main, [*arguments, *more])


@BOTH
def test_it_is_made_again_and_again_without_a_word(here: Path, name: str) -> None:
    command = COMMANDS[name]
    file = here / command.makes
    assert ran(command, "-q" if name != "schema" else "--force").exit_code == 0
    first = file.read_bytes()
    for tempo in (80, 90, 100):
        type_song(tempo)
        result = ran(command)
        assert result.exit_code == 0, result.output
        assert "left" not in result.output
    assert (file.read_bytes() != first) == command.follows_the_form
    assert file.name in shown(file.parent)
    assert (file.parent / RECORD).is_file()


@BOTH
@pytest.mark.parametrize("state", ["somebody else's", "edited since"])
def test_another_file_is_left_and_named_until_force(here: Path, name: str, state: str) -> None:
    command = COMMANDS[name]
    file = here / command.makes
    why = "this file was not made here by backing"
    if state == "edited since":
        assert ran(command).exit_code == 0
        why = "this file has been changed since backing made it"
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(b"mine")
    type_song(100)
    for _ in range(2):
        result = ran(command)
        assert result.exit_code == 2
        assert isinstance(result.exception, SystemExit)
        says = f"{command.makes}: {why}, so it was left as it is. Move it away, or use --force"
        assert result.output.count(says) == 1
        assert f"Wrote {command.makes}" not in result.output
        assert file.read_bytes() == b"mine"
    result = ran(command, "--force")
    assert result.exit_code == 0, result.output
    assert file.read_bytes() != b"mine"
    assert ran(command).exit_code == 0


@BOTH
@pytest.mark.parametrize("force", [(), ("--force",)])
def test_a_form_is_never_replaced(here: Path, name: str, force: tuple[str, ...]) -> None:
    command = COMMANDS[name]
    file = here / command.makes
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(SONG.format(tempo=60))
    result = ran(command, *force)
    assert result.exit_code == 2
    assert "this is a form, and forms are never replaced" in result.output
    assert file.read_text() == SONG.format(tempo=60)


def test_what_else_a_lesson_makes_is_made_and_its_contents_do_not_list_what_was_left(
    here: Path,
) -> None:
    folder = here / "out" / "Kettle"
    folder.mkdir(parents=True)
    (folder / "01 whole song 60%.mid").write_bytes(b"my own recording")
    (folder / "contents.txt").write_bytes(b"my own list")
    printed = json.loads(ran(COMMANDS["archive of a lesson"], "--json").stdout)
    left = ["out/Kettle/01 whole song 60%.mid", "out/Kettle/contents.txt"]
    assert sorted(printed["left"]) == left
    result = ran(COMMANDS["archive of a lesson"])
    assert result.exit_code == 2
    assert "Left alone: 2 files that are not ours." in result.output
    assert shown(folder) == [
        "01 whole song 60%.mid", "02 whole song 75%.mid", "contents.html", "contents.txt",
    ]  # fmt: skip
    page = (folder / "contents.html").read_text()
    assert "02 whole song 75%.mid" in page
    assert "01 whole song 60%.mid" not in page
    assert (folder / "contents.txt").read_bytes() == b"my own list"
    from zipfile import ZipFile

    with ZipFile(here / "out" / "Kettle.zip") as archive:
        assert archive.namelist() == ["Kettle/02 whole song 75%.mid", "Kettle/contents.html"]
    (folder / "01 whole song 60%.mid").unlink()
    (folder / "contents.txt").unlink()
    assert ran(COMMANDS["archive of a lesson"]).exit_code == 0
    assert "01 whole song 60%.mid" in (folder / "contents.txt").read_text()


def test_a_song_left_out_of_the_set_takes_only_our_own_files_with_it(here: Path) -> None:
    folder = here / "out" / "Kettle"
    assert ran(COMMANDS["lesson"]).exit_code == 0
    (folder / "02 whole song 75%.mid").write_bytes(b"edited")
    Path("song.yaml").write_text(SONG.format(tempo=80).replace("60, 75", "90"))
    assert ran(COMMANDS["lesson"]).exit_code == 0
    assert shown(folder) == [
        "01 whole song 90%.mid", "02 whole song 75%.mid", "contents.html", "contents.txt",
    ]  # fmt: skip


def test_other_commands_in_a_lesson_s_folder_go_on_record_with_it(here: Path) -> None:
    assert ran(COMMANDS["lesson"]).exit_code == 0
    folder = here / "out" / "Kettle"
    into = ("chart", "{form}", "--out", "out/Kettle/big.pdf", "--paper", "letter")
    for _ in range(2):
        assert ran(Command(into, "")).exit_code == 0
        assert ran(COMMANDS["lesson"]).exit_code == 0
    assert "big.pdf" in shown(folder)
    assert "big.pdf" not in (folder / "contents.html").read_text()


# Endings


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("page", "song.yaml", "--out", "song.yaml"), "a practice page ends in .html or .htm"),
        (("page", "song.yaml", "--out", "page"), "a practice page ends in .html or .htm"),
        (("page", "song.yaml", "--out", "song.pdf"), "Write --out song.html"),
        (("schema", "--out", "song.yaml"), "a schema ends in .json. Write --out song.json"),
        (("schema", "--out", "song.yaml", "--force"), "a schema ends in .json"),
        (("chart", "song.yaml", "--out", "song.yaml"), "a chart is a .pdf, .svg or .png"),
        (("chart", "song.yaml", "--out", "song.yaml", "--force"), "a chart is a .pdf"),
        (("new", "A", "--out", "song.mid"), "a form ends in .yaml or .yml"),
        (("drill", "C G", "--form-out", "drill.mid"), "a form ends in .yaml or .yml"),
        (("drill", "C G", "--out", "drill.mid"), "drill.mid: --out takes a folder"),
        (("build", "song.yaml", "--out", "a/song.mid"), "Write --out a"),
        (("build", "song.yaml", "--out", "song.yaml"), "song.yaml: can't be written"),
        (("lesson", "song.yaml", "--out", "week.zip"), "week.zip: --out takes a folder"),
    ],
)
def test_the_wrong_ending_is_refused_before_any_work(
    here: Path, arguments: tuple[str, ...], says: str
) -> None:
    result = CliRunner().invoke(main, list(arguments))
    assert result.exit_code == 2
    assert says in result.output
    assert [path.name for path in here.iterdir()] == ["song.yaml"]
    assert (here / "song.yaml").read_text() == SONG.format(tempo=80)


def test_new_and_the_form_of_a_drill_never_replace_anything(here: Path) -> None:
    for arguments in (
        ["new", "Kettle", "--out", "song.yaml"],
        ["drill", "C G", "--times", "1", "--form-out", "song.yaml", "--force"],
    ):
        result = CliRunner().invoke(main, arguments)
        assert result.exit_code == 2
        assert "song.yaml: there is already a file" in result.output
    assert (here / "song.yaml").read_text() == SONG.format(tempo=80)
    assert [path.name for path in here.iterdir()] == ["song.yaml"]


# Whatever is added later


def test_every_command_that_writes_is_tried_here() -> None:
    tried = {command.arguments[0] for command in COMMANDS.values()} | {"new", "page"}
    writing = set()
    for name in CLI_COMMANDS:
        command = main.get_command(click.Context(main), name)
        assert command is not None
        if {"out", "form_out"} & {parameter.name for parameter in command.params}:
            writing.add(name)
            assert name == "new" or "force" in {parameter.name for parameter in command.params}
    assert writing == tried


#: Where files are written, renamed or removed: `system` guards a user's folders, `files` never
#: writes over, and the others work in hidden folders of ours.
WRITERS = {
    "system/files.py", "system/place.py", "system/record.py", "system/work.py", "lesson/pack.py",
    "lesson/run.py", "audio/sound_files.py", "audio/clicks.py", "audio/encode.py",
    "audio/synth_pool.py", "audio/tags.py", "audio/wheel.py", "page/sprite.py",
    "audio/calibration.py", "audio/song_level.py", "system/cache.py",
}  # fmt: skip
CHANGING = {
    "replace", "rename", "renames", "unlink", "remove", "rmtree", "rmdir", "removedirs",
    "write_bytes", "write_text", "symlink_to", "hardlink_to", "link", "move", "copy", "copyfile",
    "copy2", "truncate",
}  # fmt: skip
#: Of these modules such calls change files; a text's `replace` is none.
OF_FILES = {"os", "shutil", "path"}


def changes(path: Path) -> set[str]:
    """The calls of a module that change the disk."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        of = node.func.value.id if isinstance(getattr(node.func, "value", None), ast.Name) else ""
        modes = [one.value for one in node.args if isinstance(one, ast.Constant)]
        if isinstance(node.func, ast.Name) and node.func.id in ("open", "ZipFile"):
            found |= {node.func.id for mode in modes if set(str(mode)) & set("wxa+")}
        elif name in CHANGING and (of in OF_FILES or name.startswith(("write_", "unlink", "rm"))):
            found.add(name)
    return found


def test_only_a_few_modules_write_to_a_disk() -> None:
    package = Path(backing.__file__).parent
    found = {path: changes(path) for path in sorted(package.rglob("*.py"))}
    writers = {path.relative_to(package).as_posix() for path, calls in found.items() if calls}
    assert writers == WRITERS


def test_what_makes_files_names_none_by_itself() -> None:
    """`write_whole` replaces what is there, so only what works in hidden folders may call it."""
    package = Path(backing.__file__).parent
    callers = {
        path.relative_to(package).as_posix()
        for path in package.rglob("*.py")
        if re.search(r"\bwrite_whole\((?!.*over=False)", path.read_text("utf-8"))
    }
    assert callers == {"system/files.py"}
