"""Practice versions from the command line, as a teacher types it."""

from __future__ import annotations

import json
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from backing.cli import main

FORM = """\
title: Ferry at Noon
tempo: 97
key: G
capo: 2
human: 0
sections:
  verse: {bars: "| G | Em | C | D |"}
  chorus: {bars: "| C | D | G | G |"}
form: [verse, chorus]
"""


@pytest.fixture
def form(tmp_path: Path) -> str:
    path = tmp_path / "ferry.yaml"
    path.write_text(FORM, encoding="utf-8")
    return str(path)


def run(*args: str) -> Result:
    return CliRunner().invoke(main, args)


def files(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.glob("*.mid"))


def test_each_speed_makes_a_file(form: str, tmp_path: Path) -> None:
    result = run("build", form, "--out", str(tmp_path), "--speed", "60,75,100")
    assert result.exit_code == 0, result.output
    assert files(tmp_path) == [
        "Ferry at Noon - 60%.mid", "Ferry at Noon - 75%.mid", "Ferry at Noon.mid",
    ]  # fmt: skip
    assert result.output.count("All agree") == 3


VERSIONS = {
    "chorus, ladder 60-100%": "--ladder 60-100 --section chorus",
    "verse to chorus, loop 8": "--section verse..chorus --loop 8",
    "bars 5-6, loop 10, 1 bar between": "--bars 5-6 --loop 10 --count-between 1",
    "without guitar": "--without guitar",
    "only click and bass": "--only click,bass",
    "trade 2": "--trade 2",
    "in C": "--key C",
    "transposed -3": "--transpose -3",
    "in C, same shapes": "--key C --keep-shapes",
    "capo 0": "--capo 0",
    "easier": "--easier",
    "chorus, ladder 60-100% by 10, without guitar, in E": (
        "--ladder '60-100 by 10' --section chorus --without guitar --key E"
    ),
}


@pytest.mark.parametrize("words", VERSIONS)
def test_built_and_verified_with_the_same_options(words: str, form: str, tmp_path: Path) -> None:
    options = shlex.split(VERSIONS[words])
    result = run("build", form, "--out", str(tmp_path), *options)
    assert result.exit_code == 0, result.output
    assert files(tmp_path) == [f"Ferry at Noon - {words}.mid"]
    path = str(tmp_path / files(tmp_path)[0])
    assert run("verify", form, path, *options).exit_code == 0
    plain = run("verify", form, path)
    if words == "easier":  # any shape of the chords is a player's choice; only the title differs
        assert plain.exit_code == 0
        assert f"The file's title is 'Ferry at Noon - {words}'" in plain.output
        return
    assert plain.exit_code == 1
    assert "Disagrees" in plain.output


def test_no_count_in_combines_with_practice_options(form: str, tmp_path: Path) -> None:
    options = ["--no-count-in", "--bars", "2-3", "--loop", "2"]
    assert run("build", form, "--out", str(tmp_path), *options).exit_code == 0
    path = str(tmp_path / files(tmp_path)[0])
    assert run("verify", form, path, *options).exit_code == 0
    assert run("verify", form, path, *options[1:]).exit_code == 1


def test_the_table_has_a_row_for_each_round(form: str, tmp_path: Path) -> None:
    result = run(
        "build", form, "--out", str(tmp_path), "--ladder", "60-100 by 15",
        "--section", "chorus",
    )  # fmt: skip
    assert "16 bars in 4 rounds" in result.output
    for row in ("Chorus, round 1 of 4, 60%", "Count-in, round 2 of 4, 75%", "round 4 of 4, 100%"):
        assert row in result.output
    assert (
        "The ladder's last step is 10 percentage points, not 15, to end on 100%." in result.output
    )


def test_notes_are_printed_and_in_the_json(form: str, tmp_path: Path) -> None:
    note = "Sounds in C: the shapes of Bb, with capo 2 as before."
    assert note in run("build", form, "--out", str(tmp_path), "--key", "C").output
    result = run("build", form, "--out", str(tmp_path), "--key", "C", "--loop", "2", "--json")
    table = json.loads(result.output)
    assert note in table["notes"]
    assert (table["bars"], table["rounds"], table["agrees"]) == (16, 2, True)


@pytest.mark.parametrize(
    "options",
    [
        "--speed 60 --ladder 60-100",
        "--section middle",
        "--section chorus..verse",
        "--bars 7-9",
        "--without flute",
        "--only pad",
        "--ladder '60-100 by 0.5'",
        "--key Cm",
        "--key F# --keep-shapes",
        "--loop many",
        "--trade 2 --without guitar",
        "--loop 200 --ladder 60-100",
    ],
)
def test_wrong_options_make_no_file(options: str, form: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = run("build", form, "--out", str(out), *shlex.split(options))
    assert result.exit_code == 2
    assert result.output.strip()
    assert "Traceback" not in result.output
    assert not out.exists()


def test_an_unknown_section_gets_a_list_of_those_there_are(form: str) -> None:
    result = run("build", form, "--section", "middle")
    assert "there is no section 'middle'. The song has Verse, Chorus." in result.output


def test_a_file_has_one_speed(form: str, tmp_path: Path) -> None:
    run("build", form, "--out", str(tmp_path))
    result = run("verify", form, str(tmp_path / "Ferry at Noon.mid"), "--speed", "60,75")
    assert result.exit_code == 2
    assert "one --speed" in result.output


def test_a_bad_form_is_skipped_with_one_error(form: str, tmp_path: Path) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text("title: x\n", encoding="utf-8")
    result = run("build", str(bad), form, "--out", str(tmp_path), "--speed", "60,75")
    assert result.exit_code == 2
    assert len(files(tmp_path)) == 2
    assert result.output.count("a form needs the key sections") == 1


def test_long_titles_leave_room_for_the_version(tmp_path: Path) -> None:
    path = tmp_path / "long.yaml"
    path.write_text(FORM.replace("Ferry at Noon", "Fähre " * 33), encoding="utf-8")
    assert run("build", str(path), "--out", str(tmp_path), "--speed", "60,75").exit_code == 0
    assert [name[-10:] for name in files(tmp_path)] == [" - 60%.mid", " - 75%.mid"]
    assert all(len(name.encode()) <= 184 for name in files(tmp_path))
