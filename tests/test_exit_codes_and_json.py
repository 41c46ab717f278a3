"""All commands alike: exit codes, the shape of --json, and how songs with one title are named."""

from __future__ import annotations

import json
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result
from folders import shown

from backing import cli
from backing.cli import main
from backing.errors import DisagreementError
from backing.form import read_form
from backing.lesson import run as lesson_run
from backing.tracks.one import midi_of

GOOD = """\
title: Kettle
tempo: 100
sections:
  verse: {bars: "| G | D |"}
form: [verse]
practice: {formats: [midi], set: [80]}
"""
BAD = GOOD.replace("tempo: 100", "tempo: fast")
#: Each command that reads forms, with what stands before and after them; not `drill`, `new`,
#: `schema` and `sounds`, which read none.
READING = {
    "check": ((), ()),
    "build": ((), ("--out", "out")),
    "lesson": (("--jobs", "1"), ("--out", "out")),
    "verify": ((), ("other.mid",)),
    "chart": ((), ("--out", "out")),
    "page": ((), ()),
    "capo": ((), ()),
}
ONE_FORM = {"verify", "page", "capo"}


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name in ("good", "twin"):
        Path(f"{name}.yaml").write_text(GOOD)
    Path("other.yaml").write_text(GOOD.replace("Kettle", "Other").replace("| G | D |", "| G |"))
    Path("bad.yaml").write_text(BAD)
    Path("other.mid").write_bytes(midi_of(read_form("other.yaml")))
    return tmp_path


def ran(command: str, *forms: str, more: tuple[str, ...] = ()) -> Result:
    before, after = READING.get(command, ((), ()))
    return CliRunner().invoke(main, [command, *before, *forms, *after, *more])


def test_every_command_that_reads_forms_is_in_the_table() -> None:
    assert READING.keys() == set(cli.COMMANDS) - {"new", "drill", "sounds", "schema"}


@pytest.mark.parametrize("command", READING)
@pytest.mark.parametrize(
    ("form", "message"),
    [("bad.yaml", "bad.yaml:2:8: "), ("none.yaml", "none.yaml: there is no such file.")],
)
def test_a_form_that_cannot_be_read_is_2_in_every_command(
    command: str, form: str, message: str
) -> None:
    result = ran(command, form)
    assert result.exit_code == 2
    assert message in result.stderr
    assert "Traceback" not in result.output


@pytest.mark.parametrize("command", sorted(READING.keys() - ONE_FORM))
def test_the_other_forms_are_still_done(command: str) -> None:
    result = ran(command, "good.yaml", "bad.yaml", "other.yaml")
    assert result.exit_code == 2
    assert result.stderr.count("bad.yaml:2:8: ") == 1
    if command != "check":
        assert len(shown(Path("out"))) == 2


def test_a_file_that_disagrees_is_1() -> None:
    result = ran("verify", "good.yaml")
    assert result.exit_code == 1


def disagreement(*_: object, **__: object) -> object:
    raise DisagreementError("Kettle: what was built doesn't match the form.")


@pytest.mark.parametrize(("forms", "code"), [(("good.yaml",), 1), (("good.yaml", "bad.yaml"), 2)])
@pytest.mark.parametrize("command", ["build", "lesson"])
def test_the_highest_code_counts(
    command: str, forms: tuple[str, ...], code: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("backing.tracks.one.make", disagreement)
    monkeypatch.setattr(lesson_run.Folder, "take", disagreement)
    result = ran(command, *forms)
    assert result.exit_code == code
    assert "doesn't match the form" in result.stderr


#: Commands with --json, and arguments for one form (or file), and for several.
JSON = {
    "check": (["good.yaml"], ["good.yaml", "other.yaml"]),
    "build": (["good.yaml"], ["good.yaml", "other.yaml"]),
    "lesson": (["good.yaml"], ["good.yaml", "other.yaml"]),
    "verify": (["good.yaml"], None),
    "capo": (["good.yaml"], None),
    "drill": (["G D", "--times", "1"], ["G D", "--times", "1", "--speed", "50,100"]),
}


def test_every_command_with_json_is_in_the_table() -> None:
    with_json = set()
    for name in cli.COMMANDS:
        command = main.get_command(click.Context(main), name)  # type: ignore[arg-type]
        assert command is not None
        if any("--json" in option.opts for option in command.params):
            with_json.add(name)
    assert JSON.keys() == with_json


@pytest.mark.parametrize("command", JSON)
def test_json_is_an_object_for_one_and_a_list_for_several(command: str) -> None:
    one, several = JSON[command]
    table = json.loads(ran(command, *one, more=("--json",)).stdout)
    assert isinstance(table, dict)
    assert not table.keys() & {"sayings", "remarks"}
    if several is not None:
        tables = json.loads(ran(command, *several, more=("--json",)).stdout)
        assert [type(each) for each in tables] == [dict, dict]
        assert tables[0].keys() == table.keys()


@pytest.mark.parametrize("command", ["check", "build"])
def test_json_of_several_is_a_list_though_one_fails(command: str) -> None:
    result = ran(command, "good.yaml", "bad.yaml", more=("--json",))
    assert result.exit_code == 2
    (table,) = json.loads(result.stdout)
    assert table["title"] == "Kettle"


def test_a_folder_of_forms_gives_lesson_a_list() -> None:
    Path("forms").mkdir()
    Path("good.yaml").rename("forms/good.yaml")
    assert len(json.loads(ran("lesson", "forms", more=("--json",)).stdout)) == 1


@pytest.mark.parametrize("command", ["build", "lesson", "chart"])
def test_songs_with_one_title_are_named_alike(command: str) -> None:
    assert ran(command, "good.yaml", "twin.yaml", "other.yaml").exit_code == 0
    names = {name.removesuffix(".mid").removesuffix(".pdf") for name in shown(Path("out"))}
    assert names == {"Kettle (good)", "Kettle (twin)", "Other"}


def test_a_bad_form_does_not_change_the_names() -> None:
    for command in ("build", "lesson", "chart"):
        ran(command, "good.yaml", "bad.yaml")
        assert any(name.startswith("Kettle") for name in shown(Path("out")))
        assert not any("(" in name for name in shown(Path("out")))
